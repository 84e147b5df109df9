"""The page on which somebody says why an identifiable record is opened."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from planning.forms.access import ReasonForm
from register.models import Patient
from register.permissions import SignedInRequest, needs
from register.reads import keep_reason
from register.views.sent import page_asked_for
from register.views.set_aside import live_patient


def patient_or_404(request: SignedInRequest, patient_id: int) -> Patient:
    """Return a live patient of the person's own site; see `live_patient` for all others."""
    return live_patient(request.user.site, patient_id)


@needs("see_with_reason", names_nobody=True)
@require_http_methods(["GET", "POST"])
def record_reason(request: SignedInRequest, patient_id: int) -> HttpResponse:
    """Ask why an identifiable record is opened. Who it is about is not shown before.

    The reason then holds for this patient until the person signs out. A record that
    was set aside is asked for in the same way: who looked at it can still be seen.
    """
    patient = get_object_or_404(Patient, pk=patient_id, site=request.user.site)
    form = ReasonForm(request.POST or None)
    if form.is_valid():
        keep_reason(request, patient, form.cleaned_data["reason"])
        otherwise = reverse("patient-record", args=[patient.pk])
        return redirect(page_asked_for(request, otherwise))
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
