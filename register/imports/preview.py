"""The lines of a preview, in words, dates with the month as a word."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from register.domain.days import day_words
from register.imports.referrals.compare import known_onset
from register.imports.verdicts import Kind, Verdict

# Mark and tone of each verdict, for the tag `state`.
_MARKS: Final = {
    Kind.NEW: ("full", "action"),
    Kind.KNOWN: ("half", "action"),
    Kind.SAME: ("open", "quiet"),
    Kind.CHANGED: ("half", "action"),
    Kind.CONFLICT: ("triangle", "attention"),
    Kind.REFUSED: ("triangle", "attention"),
}


@dataclass(frozen=True, slots=True)
class PreviewLine:
    """One row of the preview. `who` and the dates are '' when the row could not be read."""

    number: int
    kind: str
    words: str
    mark: str
    tone: str
    name: str
    born: str
    hospital_number: str
    nhs_number: str
    referred: str
    levels: str
    onset: str
    reasons: tuple[str, ...]
    notes: tuple[str, ...]
    patient_id: int | None


def lines_of(verdicts: Iterable[Verdict]) -> list[PreviewLine]:
    """Return the lines of a preview in the order of the file."""
    return [_line(verdict) for verdict in verdicts]


def _line(verdict: Verdict) -> PreviewLine:
    mark, tone = _MARKS[verdict.kind]
    row = verdict.row
    patient = dict(row.patient) if row else {}
    return PreviewLine(
        number=verdict.number,
        kind=verdict.kind.value,
        words=verdict.kind.words,
        mark=mark,
        tone=tone,
        name=f"{patient['family_name'].upper()}, {patient['given_name']}" if row else "",
        born=day_words(patient["date_of_birth"]) if row else "",
        hospital_number=patient.get("hospital_number", ""),
        nhs_number=patient.get("nhs_number", ""),
        referred=day_words(row.referral["referred_on"]) if row else "",
        levels=" ".join(row.levels) if row else "",
        onset=known_onset(row) if row else "",
        reasons=verdict.reasons,
        notes=verdict.notes,
        patient_id=verdict.patient_id,
    )
