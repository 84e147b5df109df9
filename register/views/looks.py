"""Who looked at this patient, and what I looked at myself."""

from typing import Final

from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from register.models import AccessLog, Patient
from register.permissions import SignedInRequest, may, needs
from register.selectors import looks as reading
from register.selectors.identity import identity_for

ROWS: Final = 100


@needs("see_patients", "see_with_reason")
@require_GET
def patient_looks(request: SignedInRequest, patient_id: int) -> HttpResponse:
    """Who opened which page about a patient, also of a record that was set aside."""
    patient = get_object_or_404(Patient, pk=patient_id, site=request.user.site)
    context = _pages(request, reading.looks_at(patient))
    context |= {"patient": patient, "identity": identity_for(patient)}
    return render(request, "register/looks/patient.html", context)


@needs("see_patients", "see_with_reason")
@require_GET
def my_looks(request: SignedInRequest) -> HttpResponse:
    """What the person signed in looked at; by name only for who sees patients without a reason."""
    context = _pages(request, reading.looks_of(request.user))
    context["names_people"] = may(request.user, "see_patients")
    return render(request, "register/looks/mine.html", context)


def _pages(request: SignedInRequest, rows: QuerySet[AccessLog]) -> dict[str, object]:
    page = Paginator(rows, ROWS).get_page(request.GET.get("page"))
    pages = page.paginator.get_elided_page_range(page.number)
    return {"page": page, "pages": pages, "days": reading.by_day(page)}
