"""What was made one, moved and undone, in words: on the record, and on a page of its own."""

from dataclasses import dataclass
from typing import Any

from django.db.models import Q, QuerySet
from django.utils.timezone import localdate

from register.domain.days import day_words
from register.domain.identity import Identity
from register.models import Patient, RecordTransfer, Site
from register.selectors.changed_rows import Entry, entries_of
from register.selectors.identity import identity_for
from register.selectors.rows_in_words import counted, row_words
from register.selectors.set_aside import other_numbers


@dataclass(frozen=True, slots=True)
class TransferLine:
    """One transfer as the record tells it; the other patient of a move is not named."""

    words: str
    transfer: RecordTransfer


@dataclass(frozen=True, slots=True)
class Joined:
    """What a record says of its transfers. `numbers`: also known under these."""

    numbers: tuple[str, ...]
    lines: tuple[TransferLine, ...]


@dataclass(frozen=True, slots=True)
class TransferView:
    """The page of one transfer."""

    transfer: RecordTransfer
    was: Identity
    now: Identity
    rows: tuple[str, ...]
    further: str
    details: tuple[tuple[str, str, str], ...]


def transfers_of_site(site: Site) -> QuerySet[RecordTransfer]:
    """The transfers of a department, with their people."""
    return (
        RecordTransfer.objects.live()
        .filter(from_patient__site=site)
        .select_related("from_patient", "to_patient", "done_by", "undone_by")
    )


def joined_of(patient: Patient) -> Joined:
    """Return what the record tells of transfers, newest first."""
    rows = (
        RecordTransfer.objects.live()
        .filter(Q(from_patient=patient) | Q(to_patient=patient))
        .select_related("from_patient", "done_by", "undone_by")
    )
    return Joined(
        numbers=tuple(other_numbers([patient]).get(patient.pk, ())),
        lines=tuple(TransferLine(_line_words(row, patient), row) for row in rows),
    )


def done_words(transfer: RecordTransfer) -> str:
    """Return "12 Mar 2027 by Sam Person", and whether it was undone."""
    words = f"{day_words(localdate(transfer.done_at))} by {transfer.done_by}"
    if transfer.undone_at is None:
        return words
    return f"{words}; undone {day_words(localdate(transfer.undone_at))} by {transfer.undone_by}"


def transfer_view(transfer: RecordTransfer) -> TransferView:
    """Return one transfer with what it moved, as those rows read today."""
    people = Patient._meta.db_table
    entries = entries_of(transfer.rows)
    owned = [entry for entry in entries if entry.table != people and "patient_id" in entry.now]
    others = [entry for entry in entries if entry.table != people and entry not in owned]
    rows = [row_words(row) for entry in owned or others if (row := entry.row())]
    return TransferView(
        transfer=transfer,
        was=identity_for(transfer.from_patient),
        now=identity_for(transfer.to_patient),
        rows=tuple(rows),
        further=counted(len(others), "link", "links") if owned and others else "",
        details=tuple(
            line
            for entry in entries
            if entry.table == people and entry.key == transfer.to_patient_id
            for line in _details(entry)
        ),
    )


def _line_words(transfer: RecordTransfer, patient: Patient) -> str:
    when = done_words(transfer)
    if transfer.kind == "merge" and transfer.to_patient_id == patient.pk:
        number = transfer.from_patient.hospital_number
        return f"Record {number} of the same person was made one with this, {when}."
    if transfer.kind == "merge":
        return f"This record was made one with another of the same person, {when}."
    what = _what_moved(transfer)
    if transfer.to_patient_id == patient.pk:
        return f"{what} came here from another patient’s record, {when}."
    return f"{what} went from here to another patient’s record, {when}."


def _what_moved(transfer: RecordTransfer) -> str:
    entries = entries_of(transfer.rows)
    row = entries[0].row() if entries else None
    further = sum("patient_id" in entry.now for entry in entries) - 1
    words = row_words(row) if row else "An entry"
    return f"{words} and {counted(further, 'more entry')}" if further > 0 else words


def _details(entry: Entry) -> list[tuple[str, str, str]]:
    """Return label, former and new value of the fields that were taken over."""
    found = []
    for name in entry.now:
        if name in ("absent", "unusual"):
            continue
        field: Any = Patient._meta.get_field(name)
        label = str(field.verbose_name)
        was, now = (_shown(field, entry.value(side, name)) for side in (entry.was, entry.now))
        found.append((label[0].upper() + label[1:], was, now))
    return found


def _shown(field: Any, value: Any) -> str:
    if value is None or value == "":
        return "not recorded"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if hasattr(value, "isoformat"):
        return day_words(value)
    return str(dict(field.flatchoices).get(value, value))
