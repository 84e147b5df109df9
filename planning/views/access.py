"""Opening one identifiable record: who may, who must say why, and the note that is kept."""

from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from planning.forms.access import ReasonForm
from register.models import Patient
from register.permissions import SignedInRequest, may, needs
from register.services.access import access_log

REASONS = "record_reasons"  # session key: patient id -> reason given in this session


def patient_or_404(request: SignedInRequest, patient_id: int) -> Patient:
    """Return a live patient of the person's own site."""
    rows = Patient.objects.live().filter(site=request.user.site)
    return get_object_or_404(rows.select_related("site"), pk=patient_id)


def open_record(
    request: SignedInRequest, patient: Patient, page: str
) -> HttpResponseRedirect | None:
    """Note that the record is opened; send a person without a reason to the page that asks.

    Whoever cares for patients needs no reason. The governance lead gives one,
    which then holds for this patient until he or she signs out.
    """
    reason = ""
    if not may(request.user, "see_patients"):
        reason = request.session.get(REASONS, {}).get(str(patient.pk), "")
        if not reason:
            return redirect("record-reason", patient.pk)
    access_log(user=request.user, patient=patient, page=page, reason=reason)
    return None


@needs("see_with_reason")
@require_http_methods(["GET", "POST"])
def record_reason(request: SignedInRequest, patient_id: int) -> HttpResponse:
    """Ask why an identifiable record is opened. Who it is about is not shown before."""
    patient = patient_or_404(request, patient_id)
    form = ReasonForm(request.POST or None)
    if form.is_valid():
        given = request.session.get(REASONS, {}) | {str(patient.pk): form.cleaned_data["reason"]}
        request.session[REASONS] = given
        return redirect("patient-record", patient.pk)
    context = {
        "form": form,
        "heading": "Why do you open this record?",
        "lead": "It names a patient. Your reason is kept with your name and the time.",
        "button": "Open the record",
        "waiting": "Opening…",
    }
    return render(
        request, "planning/record_reason.html", context, status=422 if form.is_bound else 200
    )
