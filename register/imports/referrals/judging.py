"""What becomes of each row of a referral file.

Everything is told in words, with both values where file and register differ.
A row that could be written in two ways is refused: a person decides.
"""

from collections import defaultdict
from collections.abc import Callable, Sequence
from typing import Any, Final

from register.imports.reading import ReadFile, ReadLine
from register.imports.referrals.compare import (
    contact_not_taken_over,
    identity_conflicts,
    referral_differences,
    waiting_conflicts,
)
from register.imports.referrals.known import KnownPatient, KnownPeople, bare, name_and_birth
from register.imports.referrals.rows import ReferralRow
from register.imports.verdicts import Kind, Verdict


def judge(file: ReadFile, known: KnownPeople) -> tuple[Verdict, ...]:
    """Return a verdict for each row, in the order of the file."""
    quarrels = _quarrels(file.rows)
    earlier: dict[str, list[ReferralRow]] = defaultdict(list)
    verdicts = []
    for line in file.lines:
        row = line.row
        if row is None:
            verdict = Verdict(line, Kind.REFUSED, line.reasons)
        elif row.number in quarrels:
            verdict = Verdict(line, Kind.REFUSED, (quarrels[row.number],))
        else:
            verdict = _judge_row(line, row, known, earlier[_who(row)])
            if verdict.kind in (Kind.NEW, Kind.KNOWN):
                earlier[_who(row)].append(row)
        verdicts.append(verdict)
    return tuple(verdicts)


def _judge_row(
    line: ReadLine, row: ReferralRow, known: KnownPeople, earlier: Sequence[ReferralRow]
) -> Verdict:
    for before in earlier:
        if row.says_the_same_as(before):
            words = f"The same as row {before.number} of this file."
            return Verdict(line, Kind.SAME, (words,))
    patient, conflicts = _person(row, known)
    if conflicts:
        return Verdict(line, Kind.REFUSED, tuple(conflicts))
    if clash := _clash_in_file(row, earlier):
        return Verdict(line, Kind.REFUSED, (clash,))
    if patient is not None:
        return _judge_known(line, row, patient)
    if not earlier:
        return Verdict(line, Kind.NEW)
    first = earlier[0]
    return Verdict(
        line,
        Kind.KNOWN,
        reasons=(f"The patient of row {first.number}.",),
        notes=contact_not_taken_over(row, first.patient, (first.phone,)),
        earlier_row=first.number,
    )


def _judge_known(line: ReadLine, row: ReferralRow, patient: KnownPatient) -> Verdict:
    recorded = patient.referral_of(row.referral["referred_on"])
    if recorded is not None:
        differences = referral_differences(row, recorded, patient)
        if not differences:
            return Verdict(line, Kind.SAME, patient_id=patient.id)
        return Verdict(
            line,
            Kind.REFUSED,
            (
                "A referral of that day is recorded already and differs. Change it on the "
                "patient's record.",
                *differences,
            ),
            patient_id=patient.id,
        )
    if conflicts := waiting_conflicts(row, patient):
        return Verdict(line, Kind.REFUSED, tuple(conflicts), patient_id=patient.id)
    notes = contact_not_taken_over(row, patient.values, patient.phones)
    return Verdict(line, Kind.KNOWN, notes=notes, patient_id=patient.id)


def _person(row: ReferralRow, known: KnownPeople) -> tuple[KnownPatient | None, list[str]]:
    """Return the known patient that a row means, or why nobody can say who is meant."""
    hospital = row.patient["hospital_number"]
    by_nhs = known.by_nhs.get(row.patient.get("nhs_number", "-"))
    by_hospital = known.by_hospital.get(hospital.casefold())
    if by_nhs and by_hospital and by_nhs.id != by_hospital.id:
        return None, [
            "The NHS Number and the hospital number belong to two different patients of the "
            "register. Correct one of them."
        ]
    patient = by_nhs or by_hospital
    if patient is not None:
        return patient, identity_conflicts(row, patient)
    return None, _perhaps_known(row, known)


def _perhaps_known(row: ReferralRow, known: KnownPeople) -> list[str]:
    """Return why a row may mean somebody whom its numbers do not find."""
    hospital = row.patient["hospital_number"]
    near = known.by_bare_hospital.get(bare(hospital))
    if near is not None:
        return [
            f"Hospital number: {hospital} is not recorded, but {near.values['hospital_number']} "
            "is. A spreadsheet may have removed zeros in front: correct the number."
        ]
    namesake = known.by_name_and_birth.get(name_and_birth(row.patient))
    if namesake is None:
        return []
    both_numbers = row.patient.get("nhs_number") and namesake.values["nhs_number"]
    if both_numbers:
        return []  # two different NHS Numbers: two people
    return [
        "A patient of this name and date of birth is recorded under hospital number "
        f"{namesake.values['hospital_number']}. If it is the same person, correct the hospital "
        "number; if not, enter this patient by hand."
    ]


def _who(row: ReferralRow) -> str:
    """Return what stands for the patient within one file, once quarrels are set apart."""
    return str(row.patient["hospital_number"].casefold())


def _quarrels(rows: Sequence[ReferralRow]) -> dict[int, str]:
    """Return rows that share a number or a person and disagree on the rest, with the words."""
    found: dict[int, str] = {}
    for shared, words in _SHARED.items():
        groups: dict[str, list[ReferralRow]] = defaultdict(list)
        for row in rows:
            if key := shared(row):
                groups[key].append(row)
        for group in groups.values():
            if len({_person_of(row) for row in group}) > 1:
                numbers = ", ".join(str(row.number) for row in group)
                found |= {row.number: f"Rows {numbers} {words}" for row in group}
    return found


def _named_without_number(row: ReferralRow) -> str:
    """Return name and birth of a row; '' with an NHS Number, which tells people apart."""
    return "" if row.patient.get("nhs_number") else repr(name_and_birth(row.patient))


_SHARED: Final[dict[Callable[[ReferralRow], str], str]] = {
    lambda row: str(row.patient.get("nhs_number", "")): (
        "have the same NHS Number and differ in name, date of birth, sex or hospital number. "
        "Correct the wrong ones."
    ),
    lambda row: bare(row.patient["hospital_number"]): (
        "have the same hospital number, zeros in front apart, and differ in it, in name, date "
        "of birth, sex or NHS Number. Correct the wrong ones."
    ),
    _named_without_number: (
        "have the same name and date of birth, no NHS Number, and different hospital numbers. "
        "If it is one person, correct the hospital number; if not, enter them by hand."
    ),
}


def _person_of(row: ReferralRow) -> tuple[Any, ...]:
    return (
        *name_and_birth(row.patient),
        row.patient["hospital_number"].casefold(),
        row.patient.get("nhs_number", ""),
        row.patient.get("sex", ""),
    )


def _clash_in_file(row: ReferralRow, earlier: Sequence[ReferralRow]) -> str:
    """Return how a row contradicts an earlier one of the same patient; '' when it does not."""
    for before in earlier:
        if row.referral["referred_on"] == before.referral["referred_on"]:
            return (
                f"Row {before.number} is a referral of the same patient and day with other "
                "values. Keep one row, with all levels in it."
            )
        if shared := [level for level in row.levels if level in before.levels]:
            return (
                f"Row {before.number} brings {', '.join(shared)} of the same patient already. "
                "Remove the level from one of the two rows."
            )
    return ""
