"""Assessing a fracture, and an assessment as it was shown."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET, require_POST

from planning.errors import PlanningError
from planning.models import Assessment
from planning.rules.outcomes import Stage
from planning.selectors.verdicts import view_of
from planning.services.assessments import assessment_record
from planning.services.decisions import freshness_of, newest_assessment
from planning.views.record import fracture_or_404, record_address
from register.permissions import SignedInRequest, needs
from register.selectors.identity import identity_for


@needs("assess")
@require_POST
def assess(request: SignedInRequest, fracture_id: int) -> HttpResponse:
    """Judge the fracture by the rules in force today and show the answer on the record."""
    fracture = fracture_or_404(request, fracture_id)
    asked = request.POST.get("stage", "")
    try:
        made = assessment_record(
            fracture=fracture,
            made_by=request.user,
            as_of=localdate(),
            stage=Stage(asked) if asked in list(Stage) else None,
        )
    except PlanningError as problem:
        messages.error(request, str(problem))
    else:
        messages.success(request, f"{fracture.level} assessed. {made.answer_words}.")
    if request.POST.get("next") == "decide":
        return redirect("decide", fracture.pk)
    return redirect(record_address(fracture))


@needs("see_patients", "see_with_reason")
@require_GET
def assessment(request: SignedInRequest, assessment_id: int) -> HttpResponse:
    """Show a stored assessment word for word, with the facts it was made from."""
    rows = Assessment.objects.live().select_related(
        "fracture__patient__site", "made_by", "protocol"
    )
    found = get_object_or_404(
        rows.prefetch_related("results"),
        pk=assessment_id,
        fracture__patient__site=request.user.site,
    )
    patient = found.fracture.patient
    newest = newest_assessment(found.fracture)
    is_newest = newest is not None and newest.pk == found.pk
    context = {
        "view": view_of(found, freshness_of(found, on=localdate()) if is_newest else None),
        "fracture": found.fracture,
        "newest": newest,
        "is_newest": is_newest,
        "identity": identity_for(patient),
        "identity_url": record_address(found.fracture),
        "record_url": record_address(found.fracture),
    }
    return render(request, "planning/assessment.html", context)
