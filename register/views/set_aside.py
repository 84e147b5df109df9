"""The old address of a record that was made one with another: it leads to the one that stands."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.defaults import page_not_found

from register.models import Patient, Site
from register.selectors.set_aside import standing_for


class SetAsideError(Http404):
    """The record asked for was made one with `stands`, of the same department."""

    def __init__(self, stands: Patient) -> None:
        super().__init__("set aside")
        self.stands = stands


def live_patient(site: Site | None, patient_id: int) -> Patient:
    """Return a live patient of a department. Raises Http404, and SetAsideError after a merge."""
    found = Patient.objects.filter(site=site, pk=patient_id).select_related("site").first()
    if found is None:
        raise Http404
    if found.voided_at is None:
        return found
    stands = standing_for(found)
    raise SetAsideError(stands) if stands is not None else Http404


def not_found(request: HttpRequest, exception: Any) -> HttpResponse:
    """Answer for an address that leads nowhere, or no longer where it did.

    What was asked of a record that was set aside is shown on the one that stands. What
    was sent to it is not saved there unasked: a person has to enter it anew. No name is
    told before the record is opened.
    """
    if not isinstance(exception, SetAsideError):
        return page_not_found(request, exception)
    if request.method in ("GET", "HEAD"):
        messages.info(
            request,
            "You asked for a record that was set aside: it is of the same person as this one, "
            "and everything in it is here.",
        )
        return redirect("patient-record", exception.stands.pk)
    context = {"stands_id": exception.stands.pk}
    return render(request, "register/transfers/set_aside.html", context, status=409)
