"""The history pages of a patient and of one record, ready to be shown."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.timezone import localdate

from planning.record_kinds import BY_TABLE, KINDS
from register.history.kinds import Kind
from register.history.names import Names
from register.history.reading import Change, changes_of_rows
from register.history.telling import Entry, entries_of
from register.models import Patient, Procedure, Review, TreatedLevel, User
from register.selectors import history as reading
from register.selectors.protocols import values_in_force
from register.services.outcomes import AMENDED


@dataclass(frozen=True, slots=True)
class Told:
    """One page of a history. `older` is the number before which the next page begins."""

    entries: list[Entry]
    older: int | None
    people: list[tuple[str, str]]


def patient_history(patient: Patient, *, kind: str, person: str, before: int) -> Told:
    """Return all changes of all records of a patient, perhaps of one kind or by one person.

    Somebody who never changed any of them counts as nobody asked for.
    """
    keys = reading.keys_of(patient, KINDS)
    chosen = {(table, key) for table, key in keys if kind in ("", BY_TABLE[table].code)}
    people = _people(reading.people_of(keys))
    by = person if person in dict(people) else ""
    page = reading.history_page(chosen, person=by, before=before)
    return Told(_entries(patient, page.changes), page.older, people)


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
    concerned = {key for c in changes if (key := _procedure_of(BY_TABLE[c.table], c, names))}
    signed = _signings(concerned)

    def amended(kind: Kind, change: Change) -> tuple[str, str]:
        what = amendment(kind, change, signed.get(_procedure_of(kind, change, names) or 0))
        # A signed record asks for a reason; what any other save notes may be the act.
        is_reason = what == "signed" or (what == "held" and change.reason != AMENDED)
        return what, change.reason if is_reason else ""

    return entries_of(changes, BY_TABLE, names, reading.roles_then(changes), amended)


def amendment(kind: Kind, change: Change, signing: Change | None) -> str:
    """Return "signed" for a change of a procedure after its `signing`, "held" for one of a
    contact that had taken place; blank for any other change.
    """
    if signing is not None:
        is_later = change.number > signing.number and change.transaction != signing.transaction
        return "signed" if is_later else ""
    if kind.model is Review:
        return "held" if change.old and change.old["held_on"] else ""
    return "held" if kind.code == "score" and change.old else ""


def _signings(procedures: set[int]) -> dict[int, Change]:
    """Return the change by which each procedure was first signed."""
    found: dict[int, Change] = {}
    for change in changes_of_rows((Procedure._meta.db_table, str(key)) for key in procedures):
        if change.new and change.new["signed_at"]:
            found.setdefault(int(change.key), change)
    return found


def _procedure_of(kind: Kind, change: Change, names: Names) -> int | None:
    """Return the number of the procedure that a row is or is part of; None for anything else."""
    if kind.model is Procedure:
        return int(change.key)
    if kind.parents == ("procedure",):
        return int(change.row["procedure_id"])
    if kind.parents == ("level", "procedure"):
        level = names.get(TreatedLevel, change.row["level_id"])
        return int(level.procedure_id) if level else None
    return None


def _people(found: Sequence[tuple[str, int | None]]) -> list[tuple[str, str]]:
    """Return (name to filter by, words) of everybody who ever changed something."""
    names = Names()
    names.look_up(User, {key for _, key in found if key})
    return [(actor, _person(actor, key, names)) for actor, key in found]


def _person(actor: str, key: int | None, names: Names) -> str:
    person = names.person(key)
    return str(person) if person else f"job “{actor}”"
