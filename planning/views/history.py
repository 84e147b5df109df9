"""The history in words, of a patient and of one record, and the record as it stood once."""

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from planning.forms.history import AsOfForm, HistoryFilter, chosen
from planning.record_kinds import BY_CODE
from planning.selectors import history as told
from planning.services.aside import may_set_aside
from register.history.kinds import Kind
from register.models import Patient
from register.permissions import SignedInRequest, needs
from register.selectors.identity import identity_for


def any_patient_or_404(request: SignedInRequest, patient_id: int) -> Patient:
    """Return a patient of the person's own site, also one whose record was set aside."""
    rows = Patient._base_manager.filter(site=request.user.site).select_related("site")
    return get_object_or_404(rows, pk=patient_id)


def record_or_404(request: SignedInRequest, code: str, key: int) -> tuple[Kind, Any, Patient]:
    """Return kind and row of a record, and its patient; 404 for another site and other kinds."""
    kind = BY_CODE.get(code)
    if kind is None:
        raise Http404
    row = get_object_or_404(kind.model._base_manager.all(), pk=key)
    return kind, row, any_patient_or_404(request, kind.patient_number(row))


@needs("see_patients", "see_with_reason")
@require_GET
def patient_history(request: SignedInRequest, patient_id: int) -> HttpResponse:
    """Show every change of a patient's records in words, newest first."""
    patient = any_patient_or_404(request, patient_id)
    kind, person, before = chosen(request.GET)
    page = told.patient_history(patient, kind=kind, person=person, before=before)
    narrowed = HistoryFilter(request.GET, people=page.people)
    context = {
        "patient": patient,
        "identity": identity_for(patient),
        "page": page,
        "filter": narrowed,
        "before": before,
        "query": narrowed.query(),
    }
    return render(request, "planning/history/patient.html", context)


@needs("see_patients", "see_with_reason")
@require_GET
def record_history(request: SignedInRequest, kind: str, record_id: int) -> HttpResponse:
    """Show one record as it stands, and every change of it."""
    found, row, patient = record_or_404(request, kind, record_id)
    before = chosen(request.GET)[2]
    context = {
        "patient": patient,
        "identity": identity_for(patient),
        "kind": found,
        "row": row,
        "now": told.record_now(patient, found, row.pk, timezone.now()),
        "page": told.record_history(patient, found, row.pk, before=before),
        "before": before,
        "query": "",
        "may_set_aside": may_set_aside(request.user, found),
    }
    return render(request, "planning/history/record.html", context)


@needs("see_patients", "see_with_reason")
@require_GET
def patient_as_of(request: SignedInRequest, patient_id: int) -> HttpResponse:
    """Show all records of a patient as they stood at a day and time."""
    patient = any_patient_or_404(request, patient_id)
    form = AsOfForm(request.GET if "day_day" in request.GET else None)
    context = {"patient": patient, "identity": identity_for(patient), "form": form}
    if form.is_valid():
        context |= {
            "asked": form.cleaned_data["day"],
            "asked_words": form.words(),
            "groups": told.past_record(patient, form.moment()),
        }
    status = 422 if form.is_bound and not form.is_valid() else 200
    return render(request, "planning/history/as_of.html", context, status=status)
