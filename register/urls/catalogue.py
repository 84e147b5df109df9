"""Addresses of the administrator: techniques, stock, people; and who looked at whom."""

from django.urls import path

from register.views import catalogue, looks, people

urlpatterns = [
    path("techniques/", catalogue.techniques, name="techniques"),
    path("techniques/new/", catalogue.technique_new, name="technique-new"),
    path("techniques/<int:technique_id>/", catalogue.technique_edit, name="technique-edit"),
    path("stock/", catalogue.stock, name="stock"),
    path("stock/new/", catalogue.stock_new, name="stock-new"),
    path("stock/<int:item_id>/", catalogue.stock_edit, name="stock-edit"),
    path("people/", people.users, name="users"),
    path("people/new/", people.user_new, name="user-new"),
    path("people/<int:user_id>/", people.user_edit, name="user-edit"),
    path("people/<int:user_id>/passphrase/", people.user_passphrase, name="user-passphrase"),
    path("people/<int:user_id>/sessions/", people.user_sessions, name="user-sessions"),
    path(
        "people/<int:user_id>/second-factor/", people.user_second_factor, name="user-second-factor"
    ),
    path("patients/<int:patient_id>/looks/", looks.patient_looks, name="patient-looks"),
    path("looks/", looks.my_looks, name="my-looks"),
]
