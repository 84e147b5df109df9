"""Two records of one person, records of the wrong patient, and undoing either.

Pages that show two patients have no identity strip: both are told in words.
"""

from collections.abc import Callable
from typing import Any, Final

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from register.forms.patients import SearchForm
from register.forms.transfers import (
    AnswersForm,
    MergeForm,
    MoveForm,
    RightPatientForm,
    UndoForm,
    answers_in,
)
from register.models import Patient, RecordTransfer, Review
from register.permissions import SignedInRequest, needs
from register.selectors import moving
from register.selectors.identity import identity_for
from register.selectors.merging import comparison_of
from register.selectors.patients import namesakes, patients_found
from register.selectors.relations import UnknownRelation
from register.selectors.rows_in_words import row_words
from register.selectors.set_aside import with_other_numbers
from register.selectors.transfers import transfer_view, transfers_of_site
from register.services import transfers as writing
from register.services.transfer_undo import transfer_undo as undo
from register.services.transfer_undo import undo_preview
from register.views.saving import patient_or_404, patient_page, posted, save

SEARCH: Final = "merge_search"  # session key: what was looked for last
MOST: Final = 20


@needs("merge_records")
@require_http_methods(["GET", "POST"])
def merge_find(request: SignedInRequest, patient_id: int) -> HttpResponse:
    """Find the other record of a person: namesakes born on the day first, then by search."""
    patient = patient_or_404(request, patient_id)
    form = SearchForm(posted(request))
    if form.is_valid():
        request.session[SEARCH] = form.cleaned_data["text"]
        return redirect("merge-find", patient.pk)
    text = request.session.get(SEARCH, "")
    found = list(patients_found(patient.site, text)[: MOST + 1]) if text else []
    alike = namesakes(patient.site, patient.family_name, patient.given_name, patient.date_of_birth)
    with_other_numbers([*found, *alike])
    context = {
        "form": form if form.is_bound else SearchForm(initial={"text": text}),
        "text": text,
        "patient": patient,
        "alike": [one for one in alike if one.pk != patient.pk],
        "found": [one for one in found if one.pk != patient.pk][:MOST],
        "has_more": len(found) > MOST,
    }
    return render(
        request, "register/transfers/find.html", context, status=422 if form.is_bound else 200
    )


@needs("merge_records")
@require_http_methods(["GET", "POST"])
def merge(request: SignedInRequest, patient_id: int, other_id: int) -> HttpResponse:
    """Compare two records and make them one: the first in the address stays."""
    stay, gone = patient_or_404(request, patient_id), patient_or_404(request, other_id)
    if stay.pk == gone.pk:
        return redirect("merge-find", stay.pk)
    try:
        comparison = comparison_of(stay, gone)
    except UnknownRelation as problem:
        return _refused(request, stay, problem)
    form = MergeForm(posted(request), comparison=comparison)
    if form.is_valid() and not comparison.blocked:
        done = save(
            request,
            form,
            f"{stay}: the two records are one now.",
            lambda: writing.records_merge(
                stay=stay,
                gone=gone,
                versions=form.versions,
                chosen=form.answers("field_"),
                kept=form.answers("kept_"),
                reason=form.cleaned_data["reason"],
                user=request.user,
            ),
        )
        if done:
            return redirect("transfer", done.pk)
    context = {"form": form, "comparison": comparison}
    return render(
        request, "register/transfers/merge.html", context, status=422 if form.is_bound else 200
    )


@needs("merge_records")
@require_GET
def move_list(request: SignedInRequest, patient_id: int) -> HttpResponse:
    """What of a record may be moved to its right patient."""
    patient = patient_or_404(request, patient_id)
    context = {
        "patient": patient,
        "identity": identity_for(patient),
        "groups": moving.movable_of(patient),
    }
    return render(request, "register/transfers/move_list.html", context)


@needs("merge_records")
@require_http_methods(["GET", "POST"])
def move_find(request: SignedInRequest, patient_id: int, kind: str, record_id: int) -> HttpResponse:
    """Name the right patient by number."""
    patient = patient_or_404(request, patient_id)
    row = _row(patient, kind, record_id)
    form = RightPatientForm(posted(request), site=patient.site, whose=patient)
    if form.is_valid():
        return redirect("move", patient.pk, kind, row.pk, form.cleaned_data["number"].pk)
    context = {
        "heading": "Name the right patient",
        "lead": f"{row_words(row)}. It is not moved yet: both patients are compared first.",
        "back_url": reverse("move-list", args=[patient.pk]),
        "back_words": "What may be moved",
    }
    return patient_page(request, patient, "register/simple_form.html", form, **context)


@needs("merge_records")
@require_http_methods(["GET", "POST"])
def move(
    request: SignedInRequest, patient_id: int, kind: str, record_id: int, to_id: int
) -> HttpResponse:
    """Show both patients, what moves and what stays; then move it."""
    patient, to = patient_or_404(request, patient_id), patient_or_404(request, to_id)
    row = _row(patient, kind, record_id)
    if patient.pk == to.pk:
        return redirect("move-find", patient.pk, kind, row.pk)
    page = _move_answers if isinstance(row, Review) else _move_row
    try:
        return page(request, patient, row, to)
    except UnknownRelation as problem:
        return _refused(request, patient, problem)


def _move_row(request: SignedInRequest, patient: Patient, row: Any, to: Patient) -> HttpResponse:
    answers = answers_in(posted(request))
    plan = moving.move_plan(row, to, answers)
    form = MoveForm(
        posted(request),
        plan=plan,
        questions=moving.asked_so_far(plan, answers),
        whose=_whose(patient, to),
    )
    is_new = form.is_valid() and not form.was_read
    if is_new:
        form.renew()
    elif form.is_valid() and not plan.clashes:
        done = _moved(
            request,
            form,
            row,
            lambda: writing.record_move(
                row=row,
                to=to,
                expected_version=form.cleaned_data["version"],
                answers=answers,
                digest=form.cleaned_data["digest"],
                reason=form.cleaned_data["reason"],
                user=request.user,
            ),
        )
        if done:
            return redirect("transfer", done.pk)
    context = {
        "moves": plan.lines,
        "stays": plan.stays,
        "ends": [moving.end_words(end) for end in plan.ends],
        "clashes": [(row_words(one), row_words(there)) for one, there in plan.clashes],
        "is_new": is_new,
    }
    return _move_page(request, form, row, patient, to, context)


def _move_answers(
    request: SignedInRequest, patient: Patient, row: Review, to: Patient
) -> HttpResponse:
    contacts = moving.open_contacts(to)
    form = AnswersForm(posted(request), review=row, contacts=contacts, whose=_whose(patient, to))
    if form.is_valid():
        into = next(one for one in contacts if one.pk == form.cleaned_data["contact"])
        done = _moved(
            request,
            form,
            row,
            lambda: writing.answers_move(
                review=row,
                into=into,
                expected_version=form.cleaned_data["version"],
                reason=form.cleaned_data["reason"],
                user=request.user,
            ),
        )
        if done:
            return redirect("transfer", done.pk)
    context = {
        "moves": moving.answers_words(row),
        "stays": ["the contact itself, which is open again", "the attempts to reach this patient"],
        "no_contact": not contacts,
    }
    return _move_page(request, form, row, patient, to, context)


@needs("merge_records")
@require_GET
def transfer(request: SignedInRequest, transfer_id: int) -> HttpResponse:
    """What was made one or moved, by whom and why, and what an undo left to look at."""
    found = _transfer(request, transfer_id)
    context = {"view": transfer_view(found), "transfer": found}
    return render(request, "register/transfers/transfer.html", context)


@needs("merge_records")
@require_http_methods(["GET", "POST"])
def transfer_undo(request: SignedInRequest, transfer_id: int) -> HttpResponse:
    """Say exactly what an undo would do, then do it."""
    found = _transfer(request, transfer_id)
    view = transfer_view(found)
    form = UndoForm(posted(request), whose=f"{view.was.name} and {view.now.name}")
    if form.is_valid() and save(
        request,
        form,
        "Undone.",
        lambda: undo(transfer=found, reason=form.cleaned_data["reason"], user=request.user),
    ):
        return redirect("transfer", found.pk)
    context = {"view": view, "transfer": found, "form": form} | _preview(request, found)
    return render(
        request, "register/transfers/undo.html", context, status=422 if form.is_bound else 200
    )


def _preview(request: SignedInRequest, found: RecordTransfer) -> dict[str, Any]:
    """Return what an undo would do, or why it cannot be done."""
    try:
        outcome = undo_preview(transfer=found, user=request.user)
    except ValidationError as problem:
        return {"refusal": " ".join(problem.messages)}
    back = [row_words(row) for row in outcome.back if hasattr(row, "patient_id")]
    parts = moving.parts_words(type(row) for row in outcome.back if not hasattr(row, "patient_id"))
    return {"back": back, "parts": parts, "look": outcome.kept()}


def _moved(
    request: SignedInRequest, form: Any, row: Any, write: Callable[[], RecordTransfer]
) -> Any:
    """Move, and say what; False when refused."""
    return save(request, form, f"{row_words(row)}: moved.", write)


def _move_page(
    request: SignedInRequest,
    form: Any,
    row: Any,
    patient: Patient,
    to: Patient,
    context: dict[str, Any],
) -> HttpResponse:
    context |= {
        "form": form,
        "what": row_words(row),
        "was": identity_for(patient),
        "now": identity_for(to),
        "back_url": reverse("move-list", args=[patient.pk]),
    }
    sent = form.is_bound and not context.get("is_new")
    return render(request, "register/transfers/move.html", context, status=422 if sent else 200)


def _row(patient: Patient, kind: str, record_id: int) -> Any:
    """Return a live row of the patient; of contacts one that was held."""
    if kind not in moving.KINDS:
        raise Http404
    rows = moving.KINDS[kind]._base_manager.filter(patient=patient, voided_at=None)
    row: Any = get_object_or_404(rows, pk=record_id)
    if isinstance(row, Review) and row.held_on is None:
        raise Http404
    return row


def _transfer(request: SignedInRequest, transfer_id: int) -> RecordTransfer:
    site = request.user.site
    if site is None:
        raise Http404
    return get_object_or_404(transfers_of_site(site), pk=transfer_id)


def _whose(patient: Patient, to: Patient) -> str:
    """Return both names beside the button, so that another tab is noticed."""
    return f"{to}, {to.hospital_number} (until now {patient}, {patient.hospital_number})"


def _refused(request: SignedInRequest, patient: Patient, problem: UnknownRelation) -> HttpResponse:
    messages.error(request, str(problem))
    return redirect("patient-record", patient.pk)
