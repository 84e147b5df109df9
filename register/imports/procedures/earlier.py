"""What earlier rows of a list bring for one patient, and how a later row contradicts them."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from register.domain.days import day_words, known_words
from register.imports.procedures.fractures import are_exact, same_day
from register.imports.procedures.known import KnownTechnique
from register.imports.procedures.rows import ProcedureRow
from register.imports.referrals.known import KnownFracture
from register.imports.verdicts import Verdict


@dataclass(slots=True)
class Earlier:
    """What rows that will be written, or are recorded already, say of one patient.

    `edited` holds what they write to recorded fractures, by id; `brought` by level the rows
    that bring a fracture of their own.
    """

    rows: list[tuple[ProcedureRow, KnownTechnique]] = field(default_factory=list)
    died_on: date | None = None
    edited: dict[int, Mapping[str, Any]] = field(default_factory=dict)
    brought: dict[str, list[ProcedureRow]] = field(default_factory=lambda: defaultdict(list))

    def take(self, row: ProcedureRow, technique: KnownTechnique, verdict: Verdict) -> None:
        """Remember a row that is no conflict."""
        self.rows.append((row, technique))
        self.died_on = self.died_on or row.died_on
        self.edited |= {e.pk: e.values for e in verdict.edits if e.model == "fracture"}
        for level in verdict.meant.brings(row.levels) if verdict.meant else ():
            self.brought[level].append(row)

    def clash(self, row: ProcedureRow, technique: KnownTechnique) -> list[str]:
        """Return how a row contradicts an earlier one; [] when it does not."""
        if row.died_on and self.died_on not in (None, row.died_on):
            return [
                f"Date of death: an earlier row of this file says {day_words(self.died_on)}. "
                "Correct one of them."
            ]
        if self.died_on is not None and row.last_on > self.died_on:
            return [
                f"An earlier row of this file says that this patient died on "
                f"{day_words(self.died_on)}."
            ]
        for before, used in self.rows:
            if before.performed_on == row.performed_on and (
                words := _clash_of_day(row, technique, before, used)
            ):
                return [words]
            if row.died_on and before.last_on > row.died_on:
                return [
                    f"Row {before.number} tells of a day after this date of death. Correct one."
                ]
        return []

    def brings(self, row: ProcedureRow, level: str) -> tuple[int | None, list[str]]:
        """Return the number of the row that brings the fracture of a row, or why it is unclear.

        (None, []) when no earlier row brings it.
        """
        for before in self.brought[level]:
            same_onset = same_day(before.onset_on, row.onset_on)
            by_onset = same_onset and are_exact(before.fracture, row.fracture)
            if by_onset or same_day(before.referred_on, row.referred_on):
                if _says_more(row, before):
                    return None, [
                        f"Row {before.number} treats the same fracture of {level}, and this row "
                        "says other or more of cause, onset or referral. Give both rows the same."
                    ]
                return before.number, []
            if same_onset:
                onset = known_words(row.onset_on, row.fracture["onset_precision"])
                return None, [
                    f"Row {before.number} treats a fracture of {level} with the onset {onset} or "
                    "near it. Give the onset to the day, or the same referral date, in both rows."
                ]
        return None, []

    def as_written(self, fracture: KnownFracture) -> KnownFracture:
        """Return a recorded fracture as earlier rows leave it."""
        written = self.edited.get(fracture.pk)
        if written is None:
            return fracture
        return replace(
            fracture,
            values={**fracture.values, **written},
            state=written.get("state", fracture.state),
            onset_on=written.get("onset_on", fracture.onset_on),
        )


def _clash_of_day(
    row: ProcedureRow, technique: KnownTechnique, before: ProcedureRow, used: KnownTechnique
) -> str:
    """Return why two procedures of one day cannot both be; '' when they can."""
    if used.pk == technique.pk:
        return (
            f"Row {before.number} is a procedure of the same patient, day and technique with "
            "other values. Keep one row, with all levels in it."
        )
    shared = ", ".join(level for level in row.levels if level in before.levels)
    if not shared:
        return ""
    return (
        f"Row {before.number} says that {shared} was treated that day by {used.name}, this row "
        f"says {technique.name}. Correct the wrong one."
    )


def _says_more(row: ProcedureRow, before: ProcedureRow) -> bool:
    """Whether a row says something of its fracture that an earlier row does not say, too."""
    if row.referred_on not in (None, before.referred_on):
        return True
    reasons = before.fracture.get("absent", {})
    return any(
        reasons.get(name) != why for name, why in row.fracture.get("absent", {}).items()
    ) or any(
        before.fracture.get(name) != value
        for name, value in row.fracture.items()
        if name != "absent"
    )
