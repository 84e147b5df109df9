"""What becomes of each row of a list of earlier procedures.

A row whose procedure is recorded already (same patient, day and technique) fills or changes
it by the rule of `register.imports.weighing`, but only when a list brought it: what was
recorded here, in theatre or by hand, is compared and left. Levels, leaks and cement that
differ are always for a person. A fracture that waits is taken for the treated one only when
onset or referral say so; otherwise a person says which it is.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from register.domain import vocabulary as v
from register.domain.days import day_words
from register.imports.cells import Absent
from register.imports.people import KnownPeople, taken_up, who_is_meant
from register.imports.procedures.compare import (
    cement_weighed,
    complications_new,
    death_weighed,
    fracture_weighed,
    level_weighed,
    procedure_weighed,
)
from register.imports.procedures.known import (
    KnownLevel,
    KnownPatient,
    KnownProcedure,
    KnownTechnique,
    technique_meant,
)
from register.imports.procedures.rows import LevelTold, ProcedureRow
from register.imports.procedures.unlikely import (
    cement_reasons,
    session_reasons,
    unlikely_numbers,
)
from register.imports.quarrels import quarrels
from register.imports.reading import ReadFile, ReadLine
from register.imports.referrals.known import KnownFracture
from register.imports.verdicts import WRITTEN, Addition, Edit, Kind, Verdict
from register.imports.weighing import Recorded, Weighed


@dataclass(slots=True)
class _Earlier:
    """What earlier rows of the file bring for one patient."""

    rows: list[tuple[ProcedureRow, int]] = field(default_factory=list)  # with the technique's id
    died_on: date | None = None
    fractures: set[int] = field(default_factory=set)


@dataclass(slots=True)
class _Writing:
    """What one row writes to recorded rows, and what is told of it."""

    notes: list[str] = field(default_factory=list)
    edits: list[Edit] = field(default_factory=list)
    additions: list[Addition] = field(default_factory=list)
    conflicts: list[str] = field(default_factory=list)

    def take(
        self, row: Recorded, weighed: Weighed, unlikely: Mapping[str, str] | None = None
    ) -> None:
        """Tell of what was weighed, and write what it changes.

        `unlikely` are the reasons of unlikely numbers; those of changed ones are kept.
        """
        self.notes += [*weighed.changes, *weighed.kept]
        self.conflicts += weighed.conflicts
        if reasons := {n: why for n, why in (unlikely or {}).items() if n in weighed.values}:
            weighed.values["unusual"] = {**row.values["unusual"], **reasons}
        if weighed.values:
            self.edits.append(Edit(row.model, row.pk, row.version, weighed.values))

    def verdict(self, line: ReadLine, kind: Kind, patient: KnownPatient) -> Verdict:
        """Return what becomes of the row; a conflict writes nothing."""
        if self.conflicts:
            reasons = (*self.conflicts, *self.notes)
            return Verdict(line, Kind.CONFLICT, reasons, patient_id=patient.pk)
        return Verdict(
            line,
            kind,
            notes=tuple(self.notes),
            patient_id=patient.pk,
            edits=tuple(self.edits),
            additions=tuple(self.additions),
        )


def judge(
    file: ReadFile, known: KnownPeople[KnownPatient], techniques: Iterable[KnownTechnique]
) -> tuple[Verdict, ...]:
    """Return a verdict for each row, in the order of the file."""
    techniques = tuple(techniques)
    quarrelling = quarrels(file.rows)
    earlier: dict[str, _Earlier] = defaultdict(_Earlier)
    verdicts = []
    for line in file.lines:
        row = line.row
        if row is None:
            verdict = Verdict(line, Kind.REFUSED, line.reasons)
        elif row.number in quarrelling:
            verdict = Verdict(line, Kind.CONFLICT, (quarrelling[row.number],))
        else:
            technique, why = technique_meant(row.technique, techniques)
            if technique is None:
                verdict = Verdict(line, Kind.CONFLICT, (why,))
            else:
                verdict = _judge_row(line, technique, known, earlier[who(row)])
        verdicts.append(verdict)
    return tuple(verdicts)


def who(row: ProcedureRow) -> str:
    """Return what stands for the patient within one file, once quarrels are set apart."""
    return str(row.patient["hospital_number"].casefold())


def _judge_row(
    line: ReadLine, technique: KnownTechnique, known: KnownPeople[KnownPatient], earlier: _Earlier
) -> Verdict:
    row: ProcedureRow = line.row
    for before, _ in earlier.rows:
        if row.says_the_same_as(before):
            return Verdict(line, Kind.SAME, (f"The same as row {before.number} of this file.",))
    patient, conflicts = who_is_meant(row.patient, known, on=row.last_on)
    conflicts = conflicts or _clash_in_file(row, technique, earlier)
    if conflicts:
        return Verdict(line, Kind.CONFLICT, tuple(conflicts))
    if patient is not None and not patient.undone:
        verdict = _judge_known(line, technique, patient, earlier)
    else:
        verdict = _judge_new(line, patient, earlier)
    if verdict.kind in WRITTEN and not row.why_unlikely and (words := unlikely_numbers(row)):
        return Verdict(line, Kind.CONFLICT, tuple(words), patient_id=verdict.patient_id)
    if verdict.kind is not Kind.CONFLICT:
        earlier.rows.append((row, technique.pk))
        earlier.died_on = earlier.died_on or row.died_on
    return verdict


def _clash_in_file(row: ProcedureRow, technique: KnownTechnique, earlier: _Earlier) -> list[str]:
    """Return how a row contradicts an earlier one of the same patient; [] when it does not."""
    if row.died_on and earlier.died_on not in (None, row.died_on):
        return [
            f"Date of death: an earlier row of this file says {day_words(earlier.died_on)}. "
            "Correct one of them."
        ]
    if earlier.died_on is not None and row.last_on > earlier.died_on:
        return [
            f"An earlier row of this file says that this patient died on "
            f"{day_words(earlier.died_on)}."
        ]
    for before, technique_id in earlier.rows:
        same_day = before.performed_on == row.performed_on
        if same_day and technique_id == technique.pk:
            return [
                f"Row {before.number} is a procedure of the same patient, day and technique with "
                "other values. Keep one row, with all levels in it."
            ]
        if row.died_on and before.last_on > row.died_on:
            return [f"Row {before.number} tells of a day after this date of death. Correct one."]
    return []


def _judge_new(line: ReadLine, patient: KnownPatient | None, earlier: _Earlier) -> Verdict:
    """Judge a row of a patient whom the file brings, perhaps back after an undo."""
    row: ProcedureRow = line.row
    patient_id = patient.pk if patient else None
    if earlier.rows:
        first = earlier.rows[0][0].number
        if patient and row.died_on and earlier.died_on is None:
            return Verdict(line, Kind.CONFLICT, (f"Date of death: write it in row {first}, too.",))
        words = (f"The patient of row {first}.",)
        return Verdict(line, Kind.KNOWN, words, patient_id=patient_id, earlier_row=first)
    if patient is None:
        return Verdict(line, Kind.NEW)
    told, edit = taken_up(patient, {**row.patient, "date_of_death": row.died_on})
    return Verdict(line, Kind.NEW, notes=(told,), patient_id=patient_id, edits=(edit,))


def _judge_known(
    line: ReadLine, technique: KnownTechnique, patient: KnownPatient, earlier: _Earlier
) -> Verdict:
    row: ProcedureRow = line.row
    writing = _Writing()
    of_day = [p for p in patient.procedures if p.performed_on == row.performed_on]
    recorded = next((p for p in of_day if p.technique.pk == technique.pk), None)
    if recorded is not None:
        _change(row, recorded, patient, writing)
    else:
        writing.conflicts += _other_technique(row, technique, of_day)
        _treat(row, patient, earlier, writing)
    if row.died_on and earlier.died_on is None:
        writing.take(patient, death_weighed(row, patient))
    changed = Kind.CHANGED if writing.edits or writing.additions else Kind.SAME
    return writing.verdict(line, Kind.KNOWN if recorded is None else changed, patient)


def _other_technique(
    row: ProcedureRow, technique: KnownTechnique, of_day: list[KnownProcedure]
) -> list[str]:
    """Return why a row is not taken for a second procedure of the same day at the same level."""
    return [
        f"{', '.join(shared)} was treated that day by {there.technique.name}, as recorded; the "
        f"file says {technique.name}. Correct the wrong one."
        for there in of_day
        if (shared := [level for level in row.levels if level in there.levels])
    ]


def fracture_meant(
    row: ProcedureRow, level: str, fractures: Iterable[KnownFracture]
) -> tuple[KnownFracture | None, list[str]]:
    """Return the recorded fracture that a row treats, or why a person has to say.

    (None, []) when the row brings it. A fracture that began, or was referred, after the
    procedure is another one.
    """
    unclear = []
    for there in fractures:
        if there.level != level:
            continue
        same_onset = there.onset_on is not None and there.onset_on == row.onset_on
        same_referral = there.referred_on is not None and there.referred_on == row.referred_on
        if same_onset or same_referral:
            if there.state in ("waiting", "treated"):
                return there, []
            state = v.words_for(v.FRACTURE_STATE, there.state)
            unclear.append(
                f"{level} is recorded with this onset or referral ({state}). Record this "
                "procedure there, from a theatre list."
            )
        elif there.waits and not _is_later(there, row.performed_on):
            unclear.append(
                f"{level} is waiting, with onset {day_words(there.onset_on)} and referral "
                f"{day_words(there.referred_on)}. If it is the one that was treated, give its "
                "onset or referral date in the row; if not, close or correct it first."
            )
    return None, unclear


def _is_later(fracture: KnownFracture, day: date) -> bool:
    return any(one is not None and one > day for one in (fracture.onset_on, fracture.referred_on))


def _treat(row: ProcedureRow, patient: KnownPatient, earlier: _Earlier, writing: _Writing) -> None:
    """Take the recorded fractures that a new procedure treats off the waiting."""
    for level in row.levels:
        there, unclear = fracture_meant(row, level, patient.fractures)
        writing.conflicts += unclear
        if there is None or there.pk in earlier.fractures:
            continue
        earlier.fractures.add(there.pk)
        writing.notes.append(f"{level}: the fracture that is recorded.")
        if there.state == "waiting":
            writing.notes.append(
                f"{level}: {v.words_for(v.FRACTURE_STATE, 'waiting')} → "
                f"{v.words_for(v.FRACTURE_STATE, 'treated')}"
            )
            writing.edits.append(Edit(there.model, there.pk, there.version, {"state": "treated"}))


def _change(
    row: ProcedureRow, recorded: KnownProcedure, patient: KnownPatient, writing: _Writing
) -> None:
    """Fill or change a recorded procedure with all its parts; say what is in the way."""
    if set(row.levels) != set(recorded.levels):
        writing.conflicts.append(
            f"Levels: the file says {', '.join(row.levels)}, "
            f"recorded are {', '.join(recorded.levels)}."
        )
        return
    writing.take(recorded, procedure_weighed(row, recorded), session_reasons(row))
    for kind, day, grade in complications_new(row, recorded):
        writing.notes.append(
            f"Complications: {v.words_for(v.COMPLICATION, kind)} of {day_words(day)} is added."
        )
        values = {"procedure_id": recorded.pk, "kind": kind, "occurred_on": day, "grade": grade}
        writing.additions.append(Addition("complication", values))
    for level, told in row.levels.items():
        _change_level(row, told, recorded.levels[level], patient, writing)
    if recorded.state != "earlier" and (writing.edits or writing.additions):
        state = v.words_for(v.CASE_STATE, recorded.state)
        writing.conflicts.append(
            f"This procedure was recorded here ({state}): what the list says otherwise is for a "
            "person to enter."
        )


def _change_level(
    row: ProcedureRow,
    told: LevelTold,
    there: KnownLevel,
    patient: KnownPatient,
    writing: _Writing,
) -> None:
    treated, fracture = level_weighed(row, told, there), there.fracture
    writing.take(there, treated)
    if "leak_check" in treated.values:
        for values in leak_values(row, told):
            writing.additions.append(Addition("leak", {"level_id": there.pk} | values))
    poured = cement_weighed(told, there)
    for entry in there.cement[:1]:
        writing.take(entry, poured, cement_reasons(row, told))
    if told.volume_ml is not None and not there.cement:
        writing.notes.append(f"{fracture.level}, Cement mL: {_poured(told)} is added.")
        values = {"level_id": there.pk} | cement_values(row, told)
        writing.additions.append(Addition("cementuse", values))
    began = fracture_weighed(row, fracture)
    writing.take(fracture, began)
    if onset := began.values.get("onset_on"):
        writing.conflicts += [
            f"{other.level} with this onset is recorded already."
            for other in patient.fractures
            if other.pk != fracture.pk and (other.level, other.onset_on) == (fracture.level, onset)
        ]
    if row.referred_on and row.referred_on != fracture.referred_on:
        writing.notes.append(
            f"{fracture.level}, Referral date: the file says {day_words(row.referred_on)}; "
            f"{day_words(fracture.referred_on)} is kept."
        )


def leak_values(row: ProcedureRow, told: LevelTold) -> list[dict[str, str]]:
    """Return the fields of each leak of a level."""
    return [
        {"place": place, "route": route, "seen_on": row.seen_on, "consequence": row.consequence}
        for place, route in told.leaks or ()
    ]


def cement_values(row: ProcedureRow, told: LevelTold) -> dict[str, Any]:
    """Return the fields of the one cement entry of a level; empty when nothing is told."""
    match told.volume_ml:
        case None:
            return {}
        case Absent(reason):
            return {"absent": {"volume_ml": reason}}
        case volume:
            return {"volume_ml": volume, "unusual": cement_reasons(row, told)}


def _poured(told: LevelTold) -> str:
    volume = told.volume_ml
    return v.words_for(v.ABSENT, volume.reason) if isinstance(volume, Absent) else f"{volume}"
