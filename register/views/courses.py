"""The course of one patient: pain, disability and height over time."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.timezone import localdate
from django.views.decorators.http import require_GET

from register.permissions import SignedInRequest, needs
from register.selectors.courses import courses_of
from register.selectors.identity import identity_for
from register.selectors.measurement_error import with_own_error
from register.selectors.protocols import values_in_force
from register.selectors.review_pages import end_words
from register.views.saving import patient_or_404


@needs("see_patients")
@require_GET
def course(request: SignedInRequest, patient_id: int) -> HttpResponse:
    """Show each treatment as a figure and as tables, the newest first."""
    patient = patient_or_404(request, patient_id)
    today = localdate()
    agreed = values_in_force(site=patient.site, on=today)
    protocol = with_own_error(agreed, site=patient.site, until=today)
    context = {
        "patient": patient,
        "identity": identity_for(patient),
        "courses": courses_of(patient, protocol=protocol, on=today),
        "ended": end_words(patient),
    }
    return render(request, "register/follow_up/course.html", context)
