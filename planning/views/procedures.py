"""The operation record: opened from the list, filled part by part, signed."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from planning.errors import PlanningError
from planning.forms.procedures import (
    CementForm,
    ComplicationForm,
    ImplantForm,
    LeakForm,
    ProcedureForm,
    TreatedLevelForm,
    VoidForm,
)
from planning.models import ListEntry
from planning.selectors.history import amendments_of
from planning.selectors.procedures import RecordPage, record_page
from planning.services import operations
from planning.views.saving import save
from register.domain.gs1 import parse_udi
from register.models import CementUse, Complication, ImplantUse, Leak, Procedure, TreatedLevel
from register.permissions import SignedInRequest, may, needs
from register.selectors.identity import identity_for
from register.selectors.import_provenance import file_that_brought
from register.services import procedures as writing
from register.services.editing import EditConflict
from register.views.sent import version_sent

PARTS: dict[str, type] = {
    "implant": ImplantUse,
    "cement": CementUse,
    "leak": Leak,
    "complication": Complication,
}


@needs("record_procedure")
@require_POST
def procedure_new(request: SignedInRequest, entry_id: int) -> HttpResponse:
    """Open the record of a listed case; the operator is the session's consultant, or oneself."""
    rows = ListEntry.objects.live().select_related("session__consultant", "plan__patient")
    entry = get_object_or_404(rows, pk=entry_id, session__site=request.user.site)
    operator = entry.session.consultant or request.user
    try:
        found = operations.procedure_from_entry(entry=entry, operator=operator, user=request.user)
    except (PlanningError, ValidationError) as problem:
        messages.error(request, _words(problem))
        return redirect("theatre-session", entry.session_id)
    messages.success(request, "Record opened. Each part is saved by itself.")
    return redirect("procedure", found.pk)


@needs("see_patients")
@require_http_methods(["GET", "POST"])
def procedure(request: SignedInRequest, procedure_id: int) -> HttpResponse:
    """The record; POST saves the session facts."""
    found = _procedure(request, procedure_id)
    if request.method == "GET":
        return _page(request, found)
    form = ProcedureForm(_posted(request), site=request.user.site, instance=found)
    return _save(
        request,
        found,
        form,
        "Session facts saved.",
        lambda: writing.procedure_change(
            procedure=form.instance,
            expected_version=form.expected_version,
            user=request.user,
            reason=_reason(request),
            **form.values(),
        ),
    )


@needs("record_procedure")
@require_POST
def treated_level(request: SignedInRequest, level_id: int) -> HttpResponse:
    """Save how one level was treated."""
    level = _level(request, level_id)
    form = TreatedLevelForm(request.POST, instance=level, prefix=f"level-{level.pk}")
    return _save(
        request,
        level.procedure,
        form,
        f"{level.fracture.level} saved.",
        lambda: writing.level_change(
            level=form.instance,
            expected_version=form.expected_version,
            user=request.user,
            reason=_reason(request),
            **form.values(),
        ),
    )


@needs("record_procedure")
@require_POST
def implant_new(request: SignedInRequest, level_id: int) -> HttpResponse:
    """Read a scan and show every field; keep it only when the person confirms."""
    level = _level(request, level_id)
    form = ImplantForm(request.POST, instance=ImplantUse(level=level), prefix=f"implant-{level.pk}")
    if form.is_valid() and "confirmed" not in request.POST:
        read = parse_udi(form.cleaned_data["raw_scan"])
        return _page(request, level.procedure, form=form, read=read, status=200)
    return _part_new(request, level, form, writing.implant_add, "Implant recorded.")


@needs("record_procedure")
@require_POST
def cement_new(request: SignedInRequest, level_id: int) -> HttpResponse:
    """Record cement of one side."""
    level = _level(request, level_id)
    form = CementForm(request.POST, instance=CementUse(level=level), prefix=f"cement-{level.pk}")
    return _part_new(request, level, form, writing.cement_add, "Cement recorded.")


@needs("record_procedure")
@require_POST
def leak_new(request: SignedInRequest, level_id: int) -> HttpResponse:
    """Record a leak."""
    level = _level(request, level_id)
    form = LeakForm(request.POST, instance=Leak(level=level), prefix=f"leak-{level.pk}")
    return _part_new(request, level, form, writing.leak_add, "Leak recorded.")


@needs("record_procedure")
@require_POST
def complication_new(request: SignedInRequest, procedure_id: int) -> HttpResponse:
    """Record a complication."""
    found = _procedure(request, procedure_id)
    new = Complication(procedure=found)
    form = ComplicationForm(request.POST, instance=new, prefix="complication")
    return _save(
        request,
        found,
        form,
        "Complication recorded.",
        lambda: writing.complication_add(
            procedure=found, user=request.user, reason=_reason(request), **form.values()
        ),
    )


@needs("record_procedure")
@require_http_methods(["GET", "POST"])
def part_void(request: SignedInRequest, kind: str, part_id: int) -> HttpResponse:
    """Take one entry back, on a page of its own that names it and asks why."""
    part, found = _part(request, kind, part_id)
    form = VoidForm(request.POST or None)
    if form.is_valid():
        reason = form.cleaned_data["reason"]
        writing.part_void(part=part, procedure=found, user=request.user, reason=reason)
        messages.success(request, "The entry was taken back; it stays in the history.")
        return redirect("procedure", found.pk)
    context = {
        "form": form,
        "heading": f"Take back: {kind}, {part}",
        "lead": "The entry no longer counts. It stays in the history with your reason.",
        "button": "Take it back",
        "waiting": "Taking it back…",
        "cancel_url": reverse("procedure", args=[found.pk]),
        "identity": identity_for(found.patient),
    }
    return render(request, "planning/form_page.html", context, status=422 if form.is_bound else 200)


@needs("sign_procedure")
@require_POST
def procedure_sign(request: SignedInRequest, procedure_id: int) -> HttpResponse:
    """Sign; the contacts that follow are scheduled in the same step."""
    found = _procedure(request, procedure_id)
    version = version_sent(request)
    try:
        operations.procedure_finish(procedure=found, expected_version=version, user=request.user)
    except (ValidationError, EditConflict) as problem:
        messages.error(request, _words(problem))
    else:
        messages.success(request, "Signed. The follow-up contacts are scheduled.")
    return redirect("procedure", found.pk)


def _part_new(
    request: SignedInRequest,
    level: TreatedLevel,
    form: Any,
    add: Callable[..., Any],
    done: str,
) -> HttpResponse:
    """Add an entry to a treated level."""
    return _save(
        request,
        level.procedure,
        form,
        done,
        lambda: add(level=level, user=request.user, reason=_reason(request), **form.values()),
    )


def _save(
    request: SignedInRequest,
    found: Procedure,
    form: Any,
    done: str,
    write: Callable[[], Any],
) -> HttpResponse:
    """Save a valid form and go back to the record; else show it with what was typed."""
    if form.is_valid() and save(request, form, done, write):
        return redirect("procedure", found.pk)
    return _page(request, _procedure(request, found.pk), form=form)


def _words(problem: Exception) -> str:
    if isinstance(problem, ValidationError):
        return " ".join(problem.messages)
    return str(problem)


def _reason(request: SignedInRequest) -> str:
    return request.POST.get("change_reason", "").strip()


def _posted(request: SignedInRequest) -> Any:
    if not may(request.user, "record_procedure"):
        raise PermissionDenied
    return request.POST


def _procedure(request: SignedInRequest, procedure_id: int) -> Procedure:
    rows = Procedure.objects.live().select_related(
        "patient", "technique", "operator", "supervisor", "signed_by"
    )
    return get_object_or_404(rows, pk=procedure_id, patient__site=request.user.site)


def _level(request: SignedInRequest, level_id: int) -> TreatedLevel:
    rows = TreatedLevel.objects.live().select_related("procedure__patient", "fracture")
    return get_object_or_404(rows, pk=level_id, procedure__patient__site=request.user.site)


def _part(request: SignedInRequest, kind: str, part_id: int) -> tuple[Any, Procedure]:
    model = PARTS.get(kind)
    if model is None:
        raise Http404
    path = "procedure" if model is Complication else "level__procedure"
    rows = model.objects.live().select_related(f"{path}__patient")  # type: ignore[attr-defined]
    part = get_object_or_404(rows, pk=part_id, **{f"{path}__patient__site": request.user.site})
    found = part.procedure if model is Complication else part.level.procedure
    return part, found


def _page(
    request: SignedInRequest,
    found: Procedure,
    *,
    form: Any = None,
    read: Any = None,
    status: int | None = None,
) -> HttpResponse:
    page: RecordPage = record_page(found, site=request.user.site, bound=form)
    context = {
        "procedure": found,
        "page": page,
        "amendments": amendments_of(found),
        "brought_by": file_that_brought(found) if found.state == "earlier" else None,
        "forms": [form] if form is not None and form.errors else [],
        "read": read,
        "read_for": form.prefix if read is not None and form is not None else "",
        "may_record": may(request.user, "record_procedure"),
        "may_sign": may(request.user, "sign_procedure"),
        "identity": identity_for(found.patient),
    }
    if status is None:
        status = 422 if form is not None else 200
    return render(request, "planning/procedure.html", context, status=status)
