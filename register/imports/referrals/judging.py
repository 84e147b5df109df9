"""What becomes of each row of a referral file.

A row whose referral is recorded already (same patient, same day) fills or changes it by
the rule of `register.imports.weighing`, unless something was decided for one of its
fractures: then nothing of the referral is changed by a file. Levels and blood thinners
that differ are always for a person: they say where to operate and whether it is safe.
Contact data are filled or changed by the same rule and never stop a row. Who somebody is
(name, birth, sex, numbers) is never changed. A blood value is added, never replaced.

A patient whom only the undoing of an import set aside is taken up again by a row that
names the same person: the number cannot be given twice.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from register.domain import vocabulary as v
from register.imports.people import KnownPeople, bare, taken_up, who_is_meant
from register.imports.quarrels import quarrels
from register.imports.reading import ReadFile, ReadLine
from register.imports.referrals.columns import COLUMNS
from register.imports.referrals.compare import (
    contact_weighed,
    laboratory_weighed,
    level_weighed,
    onset_followed,
    referral_weighed,
    said,
    waiting_conflicts,
)
from register.imports.referrals.known import KnownFracture, KnownPatient, KnownReferral
from register.imports.referrals.rows import ReferralRow
from register.imports.verdicts import Addition, Edit, Kind, Verdict
from register.imports.weighing import Weighed


@dataclass(slots=True)
class _Earlier:
    """What earlier rows of the file bring for one patient, and what they do to the contact data."""

    rows: list[ReferralRow] = field(default_factory=list)
    contact: dict[str, Any] = field(default_factory=dict)
    phones: list[str] = field(default_factory=list)


@dataclass(slots=True)
class _Writing:
    """What one row writes to recorded rows, and what is told of it."""

    notes: list[str] = field(default_factory=list)
    edits: list[Edit] = field(default_factory=list)
    additions: list[Addition] = field(default_factory=list)
    conflicts: list[str] = field(default_factory=list)

    def take(self, weighed: Weighed) -> None:
        """Tell of what was weighed."""
        self.notes += [*weighed.changes, *weighed.kept]
        self.conflicts += weighed.conflicts

    @property
    def writes(self) -> bool:
        """Whether anything is written."""
        return bool(self.edits or self.additions)


def judge(file: ReadFile, known: KnownPeople[KnownPatient]) -> tuple[Verdict, ...]:
    """Return a verdict for each row, in the order of the file."""
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
            before = earlier[_who(row)]
            verdict = _judge_row(line, row, known, before)
            if verdict.kind is not Kind.CONFLICT:
                before.rows.append(row)
        verdicts.append(verdict)
    return tuple(verdicts)


def _judge_row(
    line: ReadLine, row: ReferralRow, known: KnownPeople[KnownPatient], earlier: _Earlier
) -> Verdict:
    for before in earlier.rows:
        if row.says_the_same_as(before):
            words = f"The same as row {before.number} of this file."
            return Verdict(line, Kind.SAME, (words,))
    patient, conflicts = who_is_meant(row.patient, known, on=row.referral["referred_on"])
    if clash := conflicts or _clash_in_file(row, earlier.rows):
        return Verdict(line, Kind.CONFLICT, tuple(clash))
    if patient is not None and not patient.undone:
        return _judge_known(line, row, patient, earlier)
    if earlier.rows:
        return _judge_second(line, row, earlier, patient)
    return Verdict(line, Kind.NEW) if patient is None else _taken_up(line, row, patient)


def _judge_second(
    line: ReadLine, row: ReferralRow, earlier: _Earlier, patient: KnownPatient | None
) -> Verdict:
    """Judge another referral of a patient whom an earlier row of the file brings."""
    first = earlier.rows[0]
    notes = tuple(
        f"{name}: row {first.number} gives another; that one is written."
        for name in _contact_differing(row, first)
    )
    return Verdict(
        line,
        Kind.KNOWN,
        reasons=(f"The patient of row {first.number}.",),
        notes=notes,
        patient_id=patient.pk if patient else None,
        earlier_row=first.number,
    )


def _contact_differing(row: ReferralRow, first: ReferralRow) -> list[str]:
    names = [
        column.name
        for column in COLUMNS
        if column.part == "patient"
        and column.field in row.patient
        and row.patient[column.field] != first.patient.get(column.field)
    ]
    return names + (["Telephone"] if row.phone and row.phone != first.phone else [])


def _taken_up(line: ReadLine, row: ReferralRow, patient: KnownPatient) -> Verdict:
    """Bring a patient back whom the undoing of an import set aside, with what the row says."""
    words, edit = taken_up(patient, row.patient)
    phone = [("patientphone", {"number": row.phone})] if row.phone else []
    return Verdict(
        line,
        Kind.NEW,
        notes=(words,),
        patient_id=patient.pk,
        edits=(edit,),
        additions=tuple(Addition(m, {"patient_id": patient.pk} | given) for m, given in phone),
    )


def _judge_known(
    line: ReadLine, row: ReferralRow, patient: KnownPatient, earlier: _Earlier
) -> Verdict:
    writing = _Writing()
    recorded = patient.referral_of(row.referral["referred_on"])
    if recorded is None:
        writing.conflicts += waiting_conflicts(row, patient)
    else:
        _change_referral(row, recorded, patient, writing)
    if writing.conflicts:
        reasons = (*writing.conflicts, *writing.notes)
        return Verdict(line, Kind.CONFLICT, reasons, patient_id=patient.pk)
    _change_contact(row, patient, earlier, writing)
    changed = Kind.CHANGED if writing.writes else Kind.SAME
    return Verdict(
        line,
        Kind.KNOWN if recorded is None else changed,
        notes=tuple(writing.notes),
        patient_id=patient.pk,
        edits=tuple(writing.edits),
        additions=tuple(writing.additions),
    )


def _change_contact(
    row: ReferralRow, patient: KnownPatient, earlier: _Earlier, writing: _Writing
) -> None:
    """Fill or change contact data; the first row of a file that does so wins."""
    weighed = contact_weighed(row, patient)
    if earlier.contact:
        names = [n for n, value in weighed.values.items() if earlier.contact.get(n) != value]
        if names:
            writing.notes.append("Contact data: an earlier row of this file is written instead.")
    elif weighed.values:
        writing.notes += weighed.changes
        writing.edits.append(Edit("patient", patient.pk, patient.version, weighed.values))
        earlier.contact = weighed.values
    writing.notes += weighed.kept
    known = {bare(number) for number in (*patient.phones, *earlier.phones)}
    if row.phone and bare(row.phone) not in known:
        writing.notes.append(f"Telephone: {row.phone} is added.")
        writing.additions.append(
            Addition("patientphone", {"patient_id": patient.pk, "number": row.phone})
        )
        earlier.phones.append(row.phone)


def _change_referral(
    row: ReferralRow, recorded: KnownReferral, patient: KnownPatient, writing: _Writing
) -> None:
    """Fill or change a recorded referral, its levels and blood values; say what is in the way."""
    weighed = referral_weighed(row, recorded)
    writing.take(weighed)
    if weighed.values:
        writing.edits.append(_edit(recorded, weighed.values))
    if weighed.values.get("takes_antithrombotics"):
        writing.additions += _drugs(row, recorded)
    for level in row.levels:
        if level in recorded.levels:
            continue
        writing.conflicts.append(f"Levels: {level} is not part of the recorded referral.")
    for fracture in recorded.levels.values():
        _change_level(row, recorded, fracture, weighed.values, patient, writing)
    told, new = laboratory_weighed(row, patient)
    writing.take(told)
    writing.additions += _results(row, patient, new)
    if writing.writes and not writing.conflicts:
        writing.conflicts += _decided(recorded.levels.values())


def _change_level(
    row: ReferralRow,
    recorded: KnownReferral,
    fracture: KnownFracture,
    changed: dict[str, Any],
    patient: KnownPatient,
    writing: _Writing,
) -> None:
    """Change one level by what the row says of it, and move its onset along with the referral's."""
    values = onset_followed(recorded, fracture, changed)
    if fracture.level in row.levels:
        weighed = level_weighed(row, fracture, onset=values)
        writing.take(weighed)
        values |= weighed.values
    if onset := values.get("onset_on"):
        writing.conflicts += [
            f"{other.level} with the onset {said('onset_on', onset)} is recorded already."
            for other in patient.fractures
            if other.pk != fracture.pk and (other.level, other.onset_on) == (fracture.level, onset)
        ]
    if values:
        writing.edits.append(_edit(fracture, values))


def _edit(record: KnownReferral | KnownFracture, values: dict[str, Any]) -> Edit:
    return Edit(record.model, record.pk, record.version, values)


def _drugs(row: ReferralRow, recorded: KnownReferral) -> list[Addition]:
    return [
        Addition(
            "referraldrug", {"referral_id": recorded.pk, "drug": drug, "indication": indication}
        )
        for drug, indication in row.drugs
    ]


def _results(row: ReferralRow, patient: KnownPatient, analytes: Iterable[str]) -> list[Addition]:
    return [
        Addition(
            "laboratoryresult",
            {
                "patient_id": patient.pk,
                "analyte": analyte,
                "value": row.laboratory[analyte],
                "unit": v.LAB_UNIT[analyte],
                "taken_on": row.taken_on,
            },
        )
        for analyte in analytes
    ]


def _decided(fractures: Iterable[KnownFracture]) -> list[str]:
    """Return why a referral is closed to files; [] while all its fractures wait."""
    return [
        f"{fracture.level} is no longer waiting ({v.words_for(v.FRACTURE_STATE, fracture.state)}): "
        "what the file says of its referral is for a person to enter."
        for fracture in fractures
        if fracture.state != "waiting"
    ]


def _who(row: ReferralRow) -> str:
    """Return what stands for the patient within one file, once quarrels are set apart."""
    return str(row.patient["hospital_number"].casefold())


def _clash_in_file(row: ReferralRow, earlier: Sequence[ReferralRow]) -> list[str]:
    """Return how a row contradicts an earlier one of the same patient; [] when it does not."""
    for before in earlier:
        if row.referral["referred_on"] == before.referral["referred_on"]:
            return [
                f"Row {before.number} is a referral of the same patient and day with other "
                "values. Keep one row, with all levels in it."
            ]
        if shared := [level for level in row.levels if level in before.levels]:
            return [
                f"Row {before.number} brings {', '.join(shared)} of the same patient already. "
                "Remove the level from one of the two rows."
            ]
    return []
