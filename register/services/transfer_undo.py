"""Undoing a merge or a move: what was given away goes back, what came since is looked at."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import ValidationError
from django.utils import timezone

from register.domain.days import day_words
from register.history import acting
from register.models import Patient, RecordTransfer, User
from register.selectors.changed_rows import Entry, entries_of
from register.selectors.relations import (
    clashes_of,
    crossings,
    disagreements,
    links,
    own_links,
    with_parts,
)
from register.selectors.rows_in_words import row_words
from register.services.editing import update_row
from register.services.rewriting import Change, change_write, together
from register.services.transfers import consistent, lock_patients, refusals


@dataclass(slots=True)
class Outcome:
    """What an undo did, or would do. Everything but `back` is for a person to look at.

    `along` came after the transfer and hangs on what goes back; `edited` goes back
    with what was written in it since; `left` was given another value since;
    `stays` came after the merge and stays with the record that stood.
    """

    back: list[Any] = field(default_factory=list)
    along: list[Any] = field(default_factory=list)
    edited: list[Any] = field(default_factory=list)
    left: list[tuple[Any, str]] = field(default_factory=list)
    stays: list[Any] = field(default_factory=list)

    def kept(self) -> list[dict[str, Any]]:
        """Return what a person should look at, to be kept with the transfer."""
        rows = [(row, why) for row, why in self.left]
        rows += [(row, "went back with what was changed in it since") for row in self.edited]
        rows += [(row, "was recorded since and went along") for row in self.along]
        rows += [(row, "was recorded since and stays here") for row in self.stays]
        return [
            {"table": row._meta.db_table, "key": row.pk, "words": row_words(row), "why": why}
            for row, why in rows
        ]


class _LookOnlyError(Exception):
    """Raised to take back what a preview did."""


def transfer_undo(*, transfer: RecordTransfer, reason: str, user: User) -> Outcome:
    """Give back what a transfer gave away, in one transaction.

    A row edited since goes back with its edits: it is still about the same person. A row
    that came since goes along when it hangs on one that goes back. Raises ValidationError
    when that cannot be done without tearing entries apart; nothing is written then.
    """
    with refusals(), acting(user, f"{_act(transfer)}: {reason}"):
        frm, to = lock_patients(transfer.from_patient, transfer.to_patient)
        transfer = RecordTransfer.objects.select_for_update().get(pk=transfer.pk)
        _may_be_undone(transfer, frm, to)
        before = disagreements([frm.pk, to.pk], links())
        outcome = _give_back(transfer, frm, to)
        consistent(before, frm, to)
        transfer.undone_by, transfer.undone_at = user, timezone.now()
        transfer.left_by_undo = outcome.kept()
        names = ["undone_by", "undone_at", "left_by_undo"]
        update_row(transfer, expected_version=transfer.version, fields=names)
    return outcome


def undo_preview(*, transfer: RecordTransfer, user: User) -> Outcome:
    """Return what an undo would do, by doing it and taking it back. Raises ValidationError."""
    found: list[Outcome] = []
    try:
        with acting(user, "Looking at an undo"):
            found.append(transfer_undo(transfer=transfer, reason="preview", user=user))
            raise _LookOnlyError
    except _LookOnlyError:
        return found[0]


def _act(transfer: RecordTransfer) -> str:
    return "Two records made separate again" if transfer.kind == "merge" else "Moved back"


def _may_be_undone(transfer: RecordTransfer, frm: Patient, to: Patient) -> None:
    """Refuse what was undone, or what a later merge stands upon."""
    if transfer.undone_at is not None:
        day = day_words(timezone.localdate(transfer.undone_at))
        raise ValidationError(f"This was undone already on {day} by {transfer.undone_by}.")
    if to.voided_at is not None:
        raise ValidationError(
            f"The record {to.hospital_number} was itself made one with another since. "
            "Undo that first, on the record that stands now."
        )
    is_merge = transfer.kind == "merge"
    if is_merge != (frm.voided_at is not None):
        raise ValidationError(
            f"The record {frm.hospital_number} is live already."
            if is_merge
            else f"The record {frm.hospital_number}, from which this came, was set aside since. "
            "Move the entry to the record that stands now."
        )


def _give_back(transfer: RecordTransfer, frm: Patient, to: Patient) -> Outcome:
    outcome, entries = Outcome(), entries_of(transfer.rows)
    people = [entry for entry in entries if entry.table == Patient._meta.db_table]
    # The staying record first: the other may need its NHS Number back.
    for entry in sorted(people, key=lambda one: one.key == frm.pk):
        _patient_back(entry, {frm.pk: frm, to.pk: to}[entry.key], outcome)
    for entry in reversed([entry for entry in entries if entry not in people]):
        _row_back(entry, outcome, is_move=transfer.kind == "move")
    since = [row for row in _own_rows(to) if row.created_at > transfer.done_at]
    _take_along(outcome, frm, to, since)
    if transfer.kind == "merge":
        gone = {(type(row), row.pk) for row in (*outcome.along, *outcome.back)}
        outcome.stays = [
            row for row in since if (type(row), row.pk) not in gone and row.voided_at is None
        ]
    return outcome


def _patient_back(entry: Entry, patient: Patient, outcome: Outcome) -> None:
    """Give a patient's own fields back, one by one: those edited since are left."""
    edited = [name for name in entry.was if not entry.stands(patient, name)]
    if "voided_at" in entry.was and edited:
        raise ValidationError("The record that was set aside was changed since.")
    outcome.left += [(patient, f"{_label(name)} was changed since and stays") for name in edited]
    names = [name for name in entry.was if name not in edited]
    fields = entry.former(names)
    for reasons in {"absent", "unusual"} & fields.keys():
        now = getattr(patient, reasons)
        fields[reasons] = {k: v for k, v in fields[reasons].items() if k not in edited} | {
            k: v for k, v in now.items() if k in edited
        }
    if not fields:
        return
    wished = Patient.objects.get(pk=patient.pk)
    for name, value in fields.items():
        setattr(wished, name, value)
    wished.full_clean()
    change_write(Change(patient, fields))


def _row_back(entry: Entry, outcome: Outcome, *, is_move: bool) -> None:
    row = entry.row()
    if row is None or not all(entry.stands(row, name) for name in entry.now):
        if is_move and _is_owned(entry):
            raise ValidationError(
                f"{row_words(row) if row else 'An entry'} was moved or changed again since. "
                "It has to be put right by hand."
            )
        outcome.left.append((row, "was given another value since, and was left"))
        return
    if "patient_id" in entry.was:
        _not_twice(row, entry.was["patient_id"])
    if row.version != entry.version:
        outcome.edited.append(row)
    change_write(Change(row, entry.former(entry.was)))
    outcome.back.append(row)


def _is_owned(entry: Entry) -> bool:
    """Whether the entry says whose the row is, or holds the answers of a contact."""
    return "patient_id" in entry.now or "held_on" in entry.now or "review_id" in entry.now


def _take_along(outcome: Outcome, frm: Patient, to: Patient, since: Iterable[Any]) -> None:
    """Let what came since go with the row it hangs on; end links that can end; refuse the rest."""
    among = links()
    new = {(type(row), row.pk) for row in since}
    rows = [row for row in outcome.back if getattr(row, "patient_id", None) == frm.pk]
    while True:
        members = with_parts(_keys_of(rows), among)
        torn = [one for one in crossings(members, among) if one.stays.patient_id == to.pk]
        along = {
            (type(one.stays), one.stays.pk): one.stays
            for one in torn
            if one.goes_along or (not one.link.may_end and (type(one.stays), one.stays.pk) in new)
        }
        if not along:
            break
        for row in along.values():
            change_write(Change(row, {"patient_id": frm.pk}))
            rows.append(row)
            outcome.along.append(row)
    for crossing in torn:
        if not crossing.link.may_end:
            raise ValidationError(
                f"{row_words(crossing.stays)} belongs to the record that stood, and hangs on what "
                "would go back. Put that right first."
            )
    for change in together(Change(one.row, {one.link.column: None}) for one in torn):
        change_write(change)
        outcome.left.append((change.row, "is no longer linked across the two records"))


def _not_twice(row: Any, patient_id: int) -> None:
    """Refuse to bring back a row whose place was taken since."""
    for there in clashes_of(row, "patient", patient_id):
        raise ValidationError(
            f"{row_words(row)} cannot go back: {row_words(there)} stands there now."
        )


def _own_rows(patient: Patient) -> list[Any]:
    return [
        row
        for link in own_links(links())
        for row in link.model._base_manager.filter(**{link.column: patient.pk}).order_by("pk")
    ]


def _keys_of(rows: Iterable[Any]) -> dict[Any, set[int]]:
    found: dict[Any, set[int]] = defaultdict(set)
    for row in rows:
        found[type(row)].add(row.pk)
    return found


def _label(name: str) -> str:
    words = str(Patient._meta.get_field(name).verbose_name)  # type: ignore[union-attr]
    return words[0].upper() + words[1:]
