"""Looking at patients: who has to say why first, and the note that is kept of each look.

`register.permissions.needs` calls this for every page of care, so that no view
has to remember it. Whom an address is about is declared in `register.entry.whose`.
"""

from collections.abc import Callable
from typing import Any, Final, cast
from urllib.parse import urlencode

from django.apps import apps
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from register.entry.whose import patient_of
from register.models import Patient
from register.services.access import access_log

REASONS: Final = "record_reasons"  # session key: patient or list -> reason given in this session
SHOWN: Final = (200, 422)  # answers that carry a page, a fragment or a file
# Lists that name nobody to a person who has to give a reason before one was given: the
# address and the word under which a session keeps the reason.
LISTS_WITH_REASON: Final = {"theatre-log": "theatre-log", "theatre-log-line": "theatre-log"}
# Parts of addresses that name a second patient beside the first: model, and way to the patient.
SECOND_PATIENT: Final = {
    "other_id": ("register.Patient", "pk"),
    "to_id": ("register.Patient", "pk"),
    "transfer_id": ("register.RecordTransfer", "from_patient"),
}
# Parts of addresses that name no single patient's row, each with the reason. A test
# asks that every part of a page of care is here or declared in `register.entry.whose`.
NOT_ONE_PATIENT: Final = {
    "session_id": "a theatre list is about several patients",
    "import_id": "a file is about several patients",
    "report_id": "an audit is about the department",
    "year": "a quarter",
    "number": "a quarter",
    "level": "goes with its study",
    "view": "goes with its picture",
    "kind": "goes with its part",
    "direction": "which way a case is moved",
    "record_id": "goes with its patient, or is declared with its kind",
    "other_id": "the second of two patients; the view keeps a note of it",
    "to_id": "the second of two patients; the view keeps a note of it",
}


def reason_given(request: HttpRequest, patient: Patient | None) -> str:
    """Return the reason that this session holds for a patient, or for a list; '' when none."""
    match: Any = request.resolver_match
    about = str(patient.pk) if patient else LISTS_WITH_REASON.get(match.url_name or "", "")
    return str(request.session.get(REASONS, {}).get(about, "")) if about else ""


def keep_reason(request: HttpRequest, about: Patient | str, reason: str) -> None:
    """Let a reason hold for one patient, or for one list, until the person signs out."""
    key = str(about.pk) if isinstance(about, Patient) else about
    request.session[REASONS] = request.session.get(REASONS, {}) | {key: reason}


def shown(
    request: HttpRequest, view: Callable[[], HttpResponse], *, needs_reason: bool, may_ask: bool
) -> HttpResponse:
    """Answer with a page of care: ask for the reason first, keep a note of what was shown.

    Whoever `needs_reason` and may not even ask (`may_ask`) opens no page about a
    patient. When the note cannot be kept, nothing is shown: the error goes on.
    """
    patient = _about(request) if needs_reason else None
    reason = reason_given(request, patient)
    if patient is not None and not may_ask:
        raise PermissionDenied
    if patient is not None and not reason:
        return redirect(_ask(request, patient))
    others = _others(request)  # asked before: afterwards the row may belong to somebody else
    response = view()
    if response.status_code in SHOWN and request.method != "HEAD":
        user: Any = request.user
        page = page_name(request, patient := patient or _about(request))
        for one in dict.fromkeys([patient, *others]):
            access_log(user=user, patient=one, page=page, reason=reason)
    return response


def page_name(request: HttpRequest, patient: Patient | None) -> str:
    """Return the page's address name; of a list also which one, never who is on it."""
    match: Any = request.resolver_match
    which = [] if patient else [str(value) for value in match.kwargs.values()]
    page = request.GET.get("page", "")
    if page.isascii() and page.isdigit() and page != "1":
        which.append(f"page {page[:6]}")
    return " ".join([str(match.url_name), *which])[:80]


def _about(request: HttpRequest) -> Patient | None:
    """Return whom the address is about; nobody when the patient is of another site."""
    user: Any = request.user
    patient = patient_of(request.resolver_match)
    return patient if patient and patient.site_id == user.site_id else None


def _others(request: HttpRequest) -> list[Patient]:
    """Return whom an address is about besides, where two records stand side by side."""
    match, user = request.resolver_match, cast(Any, request.user)
    wanted = [
        apps.get_model(model)._base_manager.filter(pk=match.kwargs[part]).values(path)
        for part, (model, path) in SECOND_PATIENT.items()
        if match and part in match.kwargs
    ]
    return [one for ids in wanted for one in Patient.objects.filter(site=user.site_id, pk__in=ids)]


def _ask(request: HttpRequest, patient: Patient) -> str:
    """Return the address of the page that asks why; it leads back to what was asked for."""
    address = reverse("record-reason", args=[patient.pk])
    if request.method != "GET":
        return address
    return f"{address}?{urlencode({'next': request.get_full_path()})}"
