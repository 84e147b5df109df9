"""The history pages of a patient and of one record, ready to be shown."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.timezone import localdate

from planning.record_kinds import BY_TABLE, KINDS
from register.history.kinds import Kind
from register.history.names import Names
from register.history.reading import Change
from register.history.telling import Entry, entries_of
from register.models import Patient, Procedure, Review, TreatedLevel, User
from register.selectors import history as reading
from register.selectors.protocols import values_in_force


@dataclass(frozen=True, slots=True)
class Told:
    """One page of a history. `older` is the number before which the next page begins."""

    entries: list[Entry]
    older: int | None
    people: list[tuple[str, str]]


def patient_history(patient: Patient, *, kind: str, person: str, before: int) -> Told:
    """Return all changes of all records of a patient, perhaps of one kind or by one person."""
    keys = reading.keys_of(patient, KINDS)
    chosen = {(table, key) for table, key in keys if kind in ("", BY_TABLE[table].code)}
    page = reading.history_page(chosen, person=person, before=before)
    return Told(_entries(patient, page.changes), page.older, _people(reading.people_of(keys)))


def record_history(patient: Patient, kind: Kind, key: int, *, before: int) -> Told:
    """Return all changes of one record."""
    page = reading.history_page({(kind.table, str(key))}, before=before)
    return Told(_entries(patient, page.changes), page.older, [])


def record_now(patient: Patient, kind: Kind, key: int, at: datetime) -> reading.PastRecord | None:
    """Return one record as it stands at a moment, in words."""
    return reading.record_as_of(kind, key, at, timepoints_of(patient))


def past_record(patient: Patient, at: datetime) -> list[tuple[Kind, list[reading.PastRecord]]]:
    """Return every record of a patient as it stood at a moment."""
    return reading.records_as_of(patient, at, KINDS, timepoints_of(patient))


def amendments_of(procedure: Procedure) -> list[Entry]:
    """Return what was changed in a procedure record after it was signed, newest first."""
    if procedure.signed_at is None:
        return []
    codes = ("procedure", "treated-level", "implant", "cement", "leak", "complication")
    kinds = [kind for kind in KINDS if kind.code in codes]
    keys = reading.keys_below(kinds, Procedure, procedure.pk)
    page = reading.history_page(keys)
    later = [change for change in page.changes if change.at > procedure.signed_at]
    return [entry for entry in _entries(procedure.patient, later) if entry.amends]


def timepoints_of(patient: Patient) -> dict[str, str]:
    """Return what the protocol in force calls each contact."""
    values = values_in_force(site=patient.site, on=localdate())
    return {timepoint.code: timepoint.title for timepoint in values.timepoints}


def _entries(patient: Patient, changes: Sequence[Change]) -> list[Entry]:
    names = reading.names_for(changes, BY_TABLE, timepoints_of(patient))
    return entries_of(changes, BY_TABLE, names, reading.roles_then(changes), amended)


def amended(kind: Kind, change: Change, names: Names) -> str:
    """Return "signed" for a change of a signed procedure, "held" for one of a contact that took
    place; blank for any other change.
    """
    if kind.model is Procedure:
        return "signed" if change.old and change.old["signed_at"] else ""
    if kind.model is Review:
        return "held" if change.old and change.old["held_on"] else ""
    if kind.code == "score":
        return "held" if change.old else ""
    procedure = _procedure_of(kind, change, names)
    if procedure is None or procedure.signed_at is None or procedure.signed_at >= change.at:
        return ""
    return "signed"


def _procedure_of(kind: Kind, change: Change, names: Names) -> Procedure | None:
    """Return the procedure that a part belongs to; None for anything else."""
    found: Procedure | None = None
    if kind.parents == ("procedure",):
        found = names.get(Procedure, change.row["procedure_id"])
    elif kind.parents == ("level", "procedure"):
        level = names.get(TreatedLevel, change.row["level_id"])
        found = level.procedure if level else None
    return found


def _people(found: Sequence[tuple[str, int | None]]) -> list[tuple[str, str]]:
    """Return (name to filter by, words) of everybody who ever changed something."""
    names = Names()
    names.look_up(User, {key for _, key in found if key})
    return [(actor, _person(actor, key, names)) for actor, key in found]


def _person(actor: str, key: int | None, names: Names) -> str:
    person = names.person(key)
    return str(person) if person else f"job “{actor}”"


