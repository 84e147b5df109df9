"""The procedure plan of one patient."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.timezone import localdate
from django.views.decorators.http import require_http_methods, require_POST

from planning.errors import PlanningError
from planning.forms.plans import PlanForm, PlannedLevelForm, PlanStartForm, ReasonForm
from planning.models import PlannedLevel, ProcedurePlan
from planning.selectors import theatre as selectors
from planning.services import plans as writing
from planning.services.decisions import freshness_of, newest_assessment
from planning.views.saving import save
from register.models import Patient
from register.permissions import SignedInRequest, may, needs
from register.selectors.identity import identity_for
from register.services.editing import EditConflict
from register.views.saving import posted
from register.views.sent import version_sent


@needs("decide", "manage_lists")
@require_http_methods(["GET", "POST"])
def plan_new(request: SignedInRequest, patient_id: int) -> HttpResponse:
    """Start a plan from the fractures that were decided for a procedure."""
    patient = get_object_or_404(Patient.objects.live(), pk=patient_id, site=request.user.site)
    decided = selectors.fractures_to_plan(patient)
    form = PlanStartForm(posted(request), site=request.user.site, decided=decided)
    if form.is_valid():
        made = save(
            request,
            form,
            "Plan drafted. Fill in what is missing, then have it approved.",
            lambda: writing.plan_create(
                patient=patient,
                technique=form.cleaned_data["technique"],
                levels=[{"fracture": fracture} for fracture in form.chosen()],
                user=request.user,
            ),
        )
        if made:
            return (
                redirect("plan", made.pk) if isinstance(made, ProcedurePlan) else redirect(patient)
            )
    context = {
        "form": form,
        "patient": patient,
        "decided": decided,
        "identity": identity_for(patient),
    }
    return render(request, "planning/plan_new.html", context, status=422 if form.is_bound else 200)


@needs("see_patients")
@require_http_methods(["GET", "POST"])
def plan(request: SignedInRequest, plan_id: int) -> HttpResponse:
    """One plan: what it says, what it lacks; POST saves the whole-session part."""
    found = _plan(request, plan_id)
    form = PlanForm(_data(request, "plan"), site=request.user.site, instance=found)
    if form.is_valid() and save(
        request,
        form,
        "Plan saved.",
        lambda: writing.plan_change(
            plan=form.instance,
            expected_version=form.expected_version,
            user=request.user,
            **form.values(),
        ),
    ):
        return redirect("plan", found.pk)
    return _page(request, _plan(request, plan_id) if form.is_bound else found, form=form)


@needs("decide", "manage_lists")
@require_POST
def planned_level(request: SignedInRequest, level_id: int) -> HttpResponse:
    """Save one level of a plan."""
    rows = PlannedLevel.objects.live().select_related("plan__patient", "fracture")
    level = get_object_or_404(rows, pk=level_id, plan__patient__site=request.user.site)
    form = PlannedLevelForm(request.POST, instance=level, prefix=f"level-{level.pk}")
    if form.is_valid() and save(
        request,
        form,
        f"{level.fracture.level} saved.",
        lambda: writing.level_change(
            level=form.instance,
            expected_version=form.expected_version,
            user=request.user,
            **form.values(),
        ),
    ):
        return redirect("plan", level.plan_id)
    return _page(request, _plan(request, level.plan_id), level_form=form)


@needs("decide")
@require_POST
def plan_approve(request: SignedInRequest, plan_id: int) -> HttpResponse:
    """Approve the plan in the name of the consultant who presses the button."""
    found = _plan(request, plan_id)
    try:
        writing.plan_approve(plan=found, expected_version=version_sent(request), user=request.user)
    except (PlanningError, EditConflict) as problem:
        messages.error(request, str(problem))
    else:
        messages.success(request, "Plan approved. It can be put on a list.")
    return redirect("plan", found.pk)


@needs("decide")
@require_http_methods(["GET", "POST"])
def plan_reopen(request: SignedInRequest, plan_id: int) -> HttpResponse:
    """Take an approval back, with a reason."""
    found = _plan(request, plan_id)
    form = ReasonForm(request.POST or None, initial={"version": found.version})
    if form.is_valid():
        try:
            writing.plan_reopen(
                plan=found,
                expected_version=form.cleaned_data["version"] or 0,
                user=request.user,
                reason=form.cleaned_data["reason"],
            )
        except (PlanningError, EditConflict) as problem:
            form.add_error(None, str(problem))
        else:
            messages.success(request, "The approval was taken back; the plan is a draft again.")
            return redirect("plan", found.pk)
    context = {
        "form": form,
        "heading": "Take the approval back",
        "lead": "The plan is a draft again and has to be approved anew.",
        "button": "Take the approval back",
        "waiting": "Taking it back…",
        "cancel_url": reverse("plan", args=[found.pk]),
        "identity": identity_for(found.patient),
    }
    return render(request, "planning/form_page.html", context, status=422 if form.is_bound else 200)


def _plan(request: SignedInRequest, plan_id: int) -> ProcedurePlan:
    rows = (
        ProcedurePlan.objects.live()
        .select_related("patient", "technique", "approved_by")
        .prefetch_related("levels__fracture", "levels__decision__made_by", "entries__session")
    )
    return get_object_or_404(rows, pk=plan_id, patient__site=request.user.site)


def _page(
    request: SignedInRequest,
    found: ProcedurePlan,
    *,
    form: PlanForm | None = None,
    level_form: PlannedLevelForm | None = None,
) -> HttpResponse:
    bound = [part for part in (form, level_form) if part is not None and part.is_bound]
    levels = [level for level in found.levels.all() if level.voided_at is None]
    drawn = selectors.newest_measurements(level.fracture_id for level in levels)
    context = {
        "plan": found,
        "form": form or PlanForm(site=request.user.site, instance=found),
        "levels": [
            (level, _level_form(level, level_form), drawn.get(level.fracture_id))
            for level in levels
        ],
        "forms": bound,
        "gaps": writing.plan_gaps(found),
        "to_assess": _to_assess(levels) if found.state == "draft" else [],
        "may_decide": may(request.user, "decide"),
        "identity": identity_for(found.patient),
    }
    return render(request, "planning/plan.html", context, status=422 if bound else 200)


def _to_assess(levels: list[PlannedLevel]) -> list[tuple[PlannedLevel, str]]:
    """Each level whose assessment no longer stands or misses the rules of the plan, and why."""
    told = []
    for level in levels:
        assessment = newest_assessment(level.fracture)
        fresh = freshness_of(assessment, on=localdate()) if assessment else None
        words = fresh.words if fresh else "Not assessed yet."
        if words:
            told.append((level, words))
    return told


def _level_form(level: PlannedLevel, bound: PlannedLevelForm | None) -> PlannedLevelForm:
    if bound is not None and bound.instance == level:
        return bound
    return PlannedLevelForm(instance=level, prefix=f"level-{level.pk}")


def _data(request: SignedInRequest, part: str) -> object:
    return request.POST if request.method == "POST" and request.POST.get("part") == part else None
