"""What becomes of each row of a list of earlier procedures.

A row whose procedure is recorded already (same patient, day and technique) fills or changes
it by the rule of `register.imports.weighing`, but only when a list brought it: what was
recorded here, in theatre or by hand, is compared and left. Levels and leaks that differ are
always for a person, and so is cement of which several entries are recorded. A fracture that
waits is taken for the treated one only when onset or referral say so; otherwise a person says
which it is.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace

from register.imports.people import KnownPeople, taken_up, who_is_meant
from register.imports.procedures.changing import Writing, change, change_fracture
from register.imports.procedures.compare import death_weighed
from register.imports.procedures.earlier import Earlier
from register.imports.procedures.fractures import fracture_meant
from register.imports.procedures.known import (
    KnownPatient,
    KnownProcedure,
    KnownTechnique,
    Meant,
    technique_meant,
)
from register.imports.procedures.rows import ProcedureRow
from register.imports.procedures.unlikely import unlikely_numbers
from register.imports.quarrels import quarrels
from register.imports.reading import ReadFile, ReadLine
from register.imports.verdicts import WRITTEN, Kind, Verdict


def judge(
    file: ReadFile, known: KnownPeople[KnownPatient], techniques: Iterable[KnownTechnique]
) -> tuple[Verdict, ...]:
    """Return a verdict for each row, in the order of the file."""
    techniques = tuple(techniques)
    quarrelling = quarrels(file.rows)
    earlier: dict[str, Earlier] = defaultdict(Earlier)
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
    line: ReadLine, technique: KnownTechnique, known: KnownPeople[KnownPatient], earlier: Earlier
) -> Verdict:
    row: ProcedureRow = line.row
    for before, _ in earlier.rows:
        if row.says_the_same_as(before):
            return Verdict(line, Kind.SAME, (f"The same as row {before.number} of this file.",))
    patient, conflicts = who_is_meant(row.patient, known, on=row.last_on)
    conflicts = conflicts or earlier.clash(row, technique)
    if conflicts:
        return Verdict(line, Kind.CONFLICT, tuple(conflicts))
    if patient is not None and not patient.undone:
        verdict = _judge_known(line, technique, patient, earlier)
    else:
        verdict = _judge_new(line, technique, patient, earlier)
    if verdict.kind in WRITTEN and not row.why_unlikely and (words := unlikely_numbers(row)):
        return Verdict(line, Kind.CONFLICT, tuple(words), patient_id=verdict.patient_id)
    if verdict.kind is not Kind.CONFLICT:
        earlier.take(row, technique, verdict)
    return verdict


def _judge_new(
    line: ReadLine, technique: KnownTechnique, patient: KnownPatient | None, earlier: Earlier
) -> Verdict:
    """Judge a row of a patient whom the file brings, perhaps back after an undo."""
    row: ProcedureRow = line.row
    writing = Writing()
    meant = _treat(row, technique, None, earlier, writing)
    if earlier.rows and patient and row.died_on and earlier.died_on is None:
        first = earlier.rows[0][0].number
        writing.conflicts.append(f"Date of death: write it in row {first}, too.")
    if not earlier.rows and patient is not None:
        told, edit = taken_up(patient, {**row.patient, "date_of_death": row.died_on})
        writing.notes.append(told)
        writing.edits.append(edit)
    if not earlier.rows:
        return _verdict(line, Kind.NEW, patient, writing, meant)
    first = earlier.rows[0][0].number
    found = _verdict(line, Kind.KNOWN, patient, writing, meant)
    if found.kind is Kind.CONFLICT:
        return found
    return replace(found, reasons=(f"The patient of row {first}.",), earlier_row=first)


def _judge_known(
    line: ReadLine, technique: KnownTechnique, patient: KnownPatient, earlier: Earlier
) -> Verdict:
    row: ProcedureRow = line.row
    writing, meant = Writing(), None
    patient = replace(patient, fractures=tuple(map(earlier.as_written, patient.fractures)))
    of_day = [p for p in patient.procedures if p.performed_on == row.performed_on]
    recorded = next((p for p in of_day if p.technique.pk == technique.pk), None)
    if recorded is not None:
        change(row, recorded, patient, earlier, writing)
    else:
        writing.conflicts += _other_technique(row, technique, of_day)
        meant = _treat(row, technique, patient, earlier, writing)
    if row.died_on and earlier.died_on is None:
        writing.take(patient, death_weighed(row, patient))
    changed = Kind.CHANGED if writing.edits or writing.additions else Kind.SAME
    return _verdict(line, Kind.KNOWN if meant else changed, patient, writing, meant)


def _verdict(
    line: ReadLine,
    kind: Kind,
    patient: KnownPatient | None,
    writing: Writing,
    meant: Meant | None,
) -> Verdict:
    """Return what becomes of the row; a conflict writes nothing."""
    patient_id = patient.pk if patient else None
    if writing.conflicts:
        reasons = (*writing.conflicts, *writing.notes)
        return Verdict(line, Kind.CONFLICT, reasons, patient_id=patient_id)
    return Verdict(
        line,
        kind,
        notes=tuple(writing.notes),
        patient_id=patient_id,
        edits=tuple(writing.edits),
        additions=tuple(writing.additions),
        meant=meant,
    )


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


def _treat(
    row: ProcedureRow,
    technique: KnownTechnique,
    patient: KnownPatient | None,
    earlier: Earlier,
    writing: Writing,
) -> Meant:
    """Return on what a new procedure hangs; what is recorded of its fractures is weighed.

    `patient` is None for one whom the file brings.
    """
    fractures: dict[str, int] = {}
    shared: dict[str, int] = {}
    for level in row.levels:
        there, unclear = fracture_meant(row, level, patient.fractures if patient else ())
        writing.conflicts += unclear
        if patient is not None and there is not None:
            fractures[level] = there.pk
            writing.notes.append(f"{level}: the fracture that is recorded.")
            change_fracture(row, there, patient, earlier, writing, treats=True)
            continue
        number, unclear = earlier.brings(row, level)
        writing.conflicts += unclear
        if number is not None:
            shared[level] = number
    referral = patient.referrals.get(row.referred_on) if patient and row.referred_on else None
    return Meant(technique.pk, fractures, shared, referral)
