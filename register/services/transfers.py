"""Records of one person made one, and records moved to their right patient; both can be undone."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.db.models import CheckConstraint
from django.utils import timezone

from register.domain.days import day_words
from register.history import acting
from register.models import Fracture, Patient, RecordTransfer, Review, Score, User
from register.selectors.merging import Clash, clashes_between, taken_over
from register.selectors.moving import ANSWERS, move_plan
from register.selectors.relations import (
    UnknownRelation,
    clashes_of,
    disagreements,
    links,
    own_links,
)
from register.selectors.rows_in_words import row_words
from register.services.editing import conflict
from register.services.rewriting import Change, change_write, together

SAME_TWICE = "Set aside: the same contact is scheduled twice."


def records_merge(
    *,
    stay: Patient,
    gone: Patient,
    versions: tuple[int, int],
    chosen: Mapping[str, str],
    kept: Mapping[str, str],
    reason: str,
    user: User,
) -> RecordTransfer:
    """Give all rows of `gone` to `stay` and set `gone` aside, in one transaction.

    `versions` are those the person read, of `stay` and of `gone`. `chosen` says for
    each group of fields whose value stands, `kept` for each clash of two fractures
    which of them; all that hangs on the other one goes to it. Nothing is dropped.

    Raises EditConflict when either record was edited meanwhile, and ValidationError,
    also when one of them was set aside meanwhile or a clash is not settled.
    """
    with refusals(), acting(user, f"Two records of one person made one: {reason}"):
        stay, gone = _both(stay, gone)
        _not_edited(stay, versions[0])
        _not_edited(gone, versions[1])
        before = disagreements([stay.pk, gone.pk], links())
        changes = together(
            [
                Change(gone, _aside(f"The same person as record {stay.pk}: {reason}")),
                *_details(stay, gone, chosen),
                *_folded(stay, gone, kept),
                *_given(stay, gone),
            ]
        )
        done = _transfer("merge", gone, stay, reason, user, map(change_write, changes))
        _nothing_left(gone)
        consistent(before, stay, gone)
    return done


def record_move(
    *,
    row: Any,
    to: Patient,
    expected_version: int,
    answers: Mapping[str, str],
    digest: str,
    reason: str,
    user: User,
) -> RecordTransfer:
    """Give a row, with all that goes along, to another patient of the same site.

    `answers` and `digest` are those of the page (selectors.moving): when anything
    was added since, the person has to look again. Raises EditConflict, ValidationError.
    """
    with refusals(), acting(user, f"Entered for the wrong patient: {reason}"):
        frm, to = _both(row.patient, to)
        row = _fresh(row, frm, expected_version)
        before = disagreements([frm.pk, to.pk], links())
        plan = move_plan(row, to, answers)
        _movable(plan)
        if plan.digest != digest:
            raise ValidationError("What goes along has changed. Read the list again.")
        changes = [Change(one, {"patient_id": to.pk}) for one in plan.rows]
        changes += [Change(end.row, {end.link.column: None}) for end in plan.ends]
        done = _transfer("move", frm, to, reason, user, map(change_write, together(changes)))
        consistent(before, frm, to)
    return done


def answers_move(
    *, review: Review, into: Review, expected_version: int, reason: str, user: User
) -> RecordTransfer:
    """Give the answers of a contact to an open contact of the right patient.

    The contact itself is open again afterwards; attempts stay where they were made.
    Raises EditConflict, ValidationError.
    """
    with refusals(), acting(user, f"Entered for the wrong patient: {reason}"):
        frm, to = _both(review.patient, into.patient)
        review = _fresh(review, frm, expected_version)
        into = Review.objects.select_for_update().get(pk=into.pk)
        if review.held_on is None or into.held_on is not None or into.patient_id != to.pk:
            raise ValidationError(
                "One of the two contacts was changed meanwhile: answers move from a contact that "
                "was held to one that is open."
            )
        answers = {name: getattr(review, name) for name in ANSWERS}
        empty = {name: _default(name) for name in ANSWERS}
        scores = Score.objects.filter(review=review)
        changes = [Change(review, empty), Change(into, answers)]
        changes += [Change(score, {"review_id": into.pk}) for score in scores]
        return _transfer("move", frm, to, reason, user, map(change_write, changes))


@contextmanager
def refusals() -> Iterator[None]:
    """Say what the database or an unknown table refuses in words; nothing was written then."""
    try:
        yield
    except UnknownRelation as error:
        raise ValidationError(str(error)) from error
    except IntegrityError as error:
        raise ValidationError(
            "The register refused it: two entries of the records cannot stand beside each other. "
            "Nothing was done. Load the page again; it lists them."
        ) from error


def lock_patients(*patients: Patient) -> list[Patient]:
    """Lock patients, always in the same order, and return them as they stand, in the given order.

    No row can be added to a locked patient until this transaction ends.
    """
    keys = sorted({patient.pk for patient in patients})
    rows = Patient.objects.select_for_update().filter(pk__in=keys).order_by("pk")
    found = {row.pk: row for row in rows}
    return [found[patient.pk] for patient in patients]


def consistent(before: set[tuple[str, int]], *patients: Patient) -> None:
    """Refuse when a live row now points at a row of another patient that did not before."""
    torn = disagreements([patient.pk for patient in patients], links()) - before
    if torn:
        raise ValidationError(
            "Entries that belong together would stand with two patients. Nothing was done."
        )


def _both(first: Patient, second: Patient) -> tuple[Patient, Patient]:
    if first.pk == second.pk:
        raise ValidationError("Choose another patient: this is the same record.")
    first, second = lock_patients(first, second)
    if first.site_id != second.site_id:
        raise ValidationError("The two records belong to different departments.")
    for patient in (first, second):
        if patient.voided_at is not None:
            raise ValidationError(_gone_words(patient))
    return first, second


def _gone_words(patient: Patient) -> str:
    merge = RecordTransfer.objects.filter(kind="merge", undone_at=None, from_patient=patient)
    done = merge.select_related("done_by").first()
    if done is None:
        return f"The record {patient.hospital_number} was set aside meanwhile. Nothing was done."
    return (
        f"The record {patient.hospital_number} was made one with another by {done.done_by} on "
        f"{day_words(timezone.localdate(done.done_at))}. Nothing was done a second time."
    )


def _not_edited(row: Any, version: int) -> None:
    if row.version != version:
        raise conflict(row, {})


def _fresh(row: Any, patient: Patient, version: int) -> Any:
    """Return the row as it stands, if it is still this patient's and unchanged."""
    found = type(row)._base_manager.select_for_update().get(pk=row.pk)
    if found.patient_id != patient.pk or found.voided_at is not None:
        raise ValidationError("This entry was moved or set aside meanwhile. Nothing was done.")
    _not_edited(found, version)
    return found


def _aside(reason: str) -> dict[str, Any]:
    return {"voided_at": timezone.now(), "void_reason": reason[:300]}


def _details(stay: Patient, gone: Patient, chosen: Mapping[str, str]) -> list[Change]:
    """Return the change of the staying record's own fields, if together they are possible."""
    fields = taken_over(stay, gone, chosen)
    if not fields:
        return []
    wished = Patient.objects.get(pk=stay.pk)
    for name, value in fields.items():
        setattr(wished, name, value)
    for constraint in Patient._meta.constraints:
        if isinstance(constraint, CheckConstraint):
            constraint.validate(Patient, wished)
    return [Change(stay, fields)]


def _given(stay: Patient, gone: Patient) -> Iterator[Change]:
    """Yield every row of the record that goes, those set aside included."""
    for link in own_links(links()):
        rows = link.model._base_manager.select_for_update().filter(**{link.column: gone.pk})
        for row in rows.order_by("pk"):
            yield Change(row, {link.column: stay.pk})


def _folded(stay: Patient, gone: Patient, kept: Mapping[str, str]) -> Iterator[Change]:
    """Settle the clashes: the one that is not kept is set aside, what hangs on it goes over."""
    folded: set[int] = set()
    for clash in clashes_between(stay, gone):
        if {clash.row.pk, clash.there.pk} & folded and clash.can_fold:
            continue
        answer = kept.get(clash.key, "")
        _settled(clash, answer)
        keep, drop = (clash.row, clash.there) if answer == "gone" else (clash.there, clash.row)
        folded.add(drop.pk)
        yield Change(drop, _aside(f"The same fracture as entry {keep.pk}"))
        yield from _handed_over(drop, keep)


def _settled(clash: Clash, answer: str) -> None:
    if not clash.can_fold:
        raise ValidationError(f"Put this right first, in one of the records: {clash.words}.")
    if answer not in ("stay", "gone"):
        raise ValidationError(f"Say which of the two is kept: {clash.words}.")
    if clash.keep and answer != clash.keep:
        raise ValidationError(f"Keep the one that is decided or treated: {clash.words}.")


def _handed_over(drop: Fracture, keep: Fracture) -> Iterator[Change]:
    """Yield every row that points at a fracture, now pointing at the one that is kept."""
    for link in links():
        if link.target is not Fracture:
            continue
        for row in link.model._base_manager.filter(**{link.column: drop.pk}).order_by("pk"):
            if not hasattr(row, "version"):
                continue
            yield from _one_of_two(row, link.field.name, keep)
            yield Change(row, {link.column: None if row == keep else keep.pk})


def _one_of_two(row: Any, column: str, keep: Fracture) -> Iterator[Change]:
    """Of two scheduled contacts the open one is set aside; another pair is for a person."""
    for other in clashes_of(row, column, keep.pk):
        open_one = next((one for one in (row, other) if _is_open(one)), None)
        if open_one is None:
            raise ValidationError(
                f"Both fractures have this entry; set one aside first: {row_words(row)}."
            )
        yield Change(open_one, {"voided_at": timezone.now(), "void_reason": SAME_TWICE})


def _is_open(row: Any) -> bool:
    return isinstance(row, Review) and row.held_on is None


def _nothing_left(gone: Patient) -> None:
    for link in own_links(links()):
        if link.model._base_manager.filter(**{link.column: gone.pk}).exists():
            raise ValidationError("An entry was added at this moment. Nothing was done; try again.")


def _movable(plan: Any) -> None:
    if plan.open_questions:
        raise ValidationError("Say of each entry that hangs on it whether it goes along.")
    if plan.clashes:
        row, there = plan.clashes[0]
        raise ValidationError(
            f"{row_words(row)}: {plan.to} has the same already ({row_words(there)}). "
            "Put that right first."
        )


def _default(name: str) -> Any:
    field = Review._meta.get_field(name)
    return None if field.is_relation else field.get_default()  # type: ignore[union-attr]


def _transfer(
    kind: str, frm: Patient, to: Patient, reason: str, user: User, rows: Any
) -> RecordTransfer:
    done = RecordTransfer(
        kind=kind,
        from_patient=frm,
        to_patient=to,
        reason=reason,
        rows=list(rows),
        done_by=user,
        done_at=timezone.now(),
    )
    done.full_clean()
    done.save()
    return done
