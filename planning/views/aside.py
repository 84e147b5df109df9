"""Setting a record aside and bringing it back, on pages that name it and ask why."""

from collections.abc import Callable
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from planning.forms.history import BackForm
from planning.selectors.history import record_now
from planning.services.aside import may_set_aside, obstacles, record_aside, record_back
from planning.views.history import record_or_404
from register.forms.editing import AsideForm
from register.history.kinds import Kind, upper_first
from register.models import Patient
from register.permissions import SignedInRequest, needs
from register.views.saving import patient_page, posted, save

RIGHTS = ("refer", "record_findings", "follow_up", "record_procedure", "manage_lists")


@needs(*RIGHTS)
@require_http_methods(["GET", "POST"])
def aside(request: SignedInRequest, kind: str, record_id: int) -> HttpResponse:
    """Set a record aside that was entered by mistake."""
    found, row, patient = _writable(request, kind, record_id)
    form = AsideForm(
        posted(request),
        initial={"version": row.version},
        words="Set it aside",
        whose=str(patient),
    )
    page = {"action": "Set aside", "done": "set aside", "obstacles": obstacles(found, row)}
    return _answer(request, found, row, patient, form, record_aside, page)


@needs(*RIGHTS)
@require_http_methods(["GET", "POST"])
def back(request: SignedInRequest, kind: str, record_id: int) -> HttpResponse:
    """Bring back a record that was set aside."""
    found, row, patient = _writable(request, kind, record_id)
    if row.voided_at is None:
        return redirect("record-history", kind, record_id)
    form = BackForm(
        posted(request),
        initial={"version": row.version},
        words="Bring it back",
        whose=str(patient),
    )
    page = {"action": "Bring back", "done": "brought back", "obstacles": []}
    return _answer(request, found, row, patient, form, record_back, page)


def _writable(request: SignedInRequest, code: str, key: int) -> tuple[Kind, Any, Patient]:
    """Return what is to be changed. 404 as for reading; 403 without the right for its kind."""
    kind, row, patient = record_or_404(request, code, key)
    if not kind.right:
        raise Http404
    if not may_set_aside(request.user, kind):
        raise PermissionDenied
    return kind, row, patient


def _answer(
    request: SignedInRequest,
    kind: Kind,
    row: Any,
    patient: Patient,
    form: Any,
    write: Callable[..., None],
    page: dict[str, Any],
) -> HttpResponse:
    """Save and go to the record's history, or show the page with what stands in the way."""
    now = record_now(patient, kind, row.pk, timezone.now())
    title = now.title if now else kind.words
    if form.is_valid() and save(
        request,
        form,
        f"{upper_first(title)} {page['done']}.",
        lambda: write(
            kind=kind,
            row=row,
            expected_version=form.cleaned_data["version"],
            user=request.user,
            reason=form.cleaned_data["reason"],
        ),
    ):
        return redirect("record-history", kind.code, row.pk)
    return patient_page(
        request,
        patient,
        "planning/history/aside.html",
        form,
        heading=f"{page['action']}: {title}",
        kind=kind,
        row=row,
        now=now,
        obstacles=page["obstacles"],
    )
