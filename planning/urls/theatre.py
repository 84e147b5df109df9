"""Addresses of plans, lists and the operation record."""

from django.urls import path

from planning.views import approach, plans, procedures, theatre

urlpatterns = [
    path("patients/<int:patient_id>/plan/", plans.plan_new, name="plan-new"),
    path("plans/<int:plan_id>/", plans.plan, name="plan"),
    path("plans/<int:plan_id>/approve/", plans.plan_approve, name="plan-approve"),
    path("plans/<int:plan_id>/reopen/", plans.plan_reopen, name="plan-reopen"),
    path("plans/levels/<int:level_id>/", plans.planned_level, name="planned-level"),
    path("plans/levels/<int:planned_id>/approach/", approach.approach, name="planned-approach"),
    path(
        "plans/levels/<int:planned_id>/approach/marks/",
        approach.approach_take,
        name="approach-take",
    ),
    path("theatre/", theatre.sessions, name="theatre-sessions"),
    path("theatre/new/", theatre.session_new, name="theatre-session-new"),
    path("theatre/<int:session_id>/", theatre.session, name="theatre-session"),
    path("theatre/<int:session_id>/change/", theatre.session_edit, name="theatre-session-edit"),
    path("theatre/<int:session_id>/list.pdf", theatre.list_pdf, name="theatre-list-pdf"),
    path(
        "theatre/cases/<int:entry_id>/move/<str:direction>/", theatre.entry_move, name="entry-move"
    ),
    path("theatre/cases/<int:entry_id>/", theatre.entry_cancel, name="entry-cancel"),
    path("theatre/cases/<int:entry_id>/record/new", procedures.procedure_new, name="procedure-new"),
    path("procedures/<int:procedure_id>/", procedures.procedure, name="procedure"),
    path("procedures/<int:procedure_id>/sign/", procedures.procedure_sign, name="procedure-sign"),
    path(
        "procedures/<int:procedure_id>/complication/",
        procedures.complication_new,
        name="complication-new",
    ),
    path("procedures/levels/<int:level_id>/", procedures.treated_level, name="treated-level"),
    path("procedures/levels/<int:level_id>/implant/", procedures.implant_new, name="implant-new"),
    path("procedures/levels/<int:level_id>/cement/", procedures.cement_new, name="cement-new"),
    path("procedures/levels/<int:level_id>/leak/", procedures.leak_new, name="leak-new"),
    path("procedures/<str:kind>/<int:part_id>/back/", procedures.part_void, name="part-void"),
]
