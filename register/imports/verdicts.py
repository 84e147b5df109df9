"""What becomes of a row: new, new for a known patient, same, or refused. For every kind of file."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

from register.imports.reading import ReadLine


class Kind(StrEnum):
    """The verdict on a row."""

    NEW = "new"
    KNOWN = "known"
    SAME = "same"
    REFUSED = "refused"

    @property
    def words(self) -> str:
        """The verdict as pages print it."""
        return {
            "new": "new patient",
            "known": "new referral for a known patient",
            "same": "already recorded",
            "refused": "refused",
        }[self.value]


# The verdicts above a list of rows, each beside a number.
COUNTED: Final = (
    (Kind.NEW.value, "new patients"),
    (Kind.KNOWN.value, "new referrals for known patients"),
    (Kind.SAME.value, "already recorded"),
    (Kind.REFUSED.value, "refused"),
)
# One letter for each verdict: what a preview showed, sent back with the confirmation.
LETTERS: Final = {Kind.NEW: "n", Kind.KNOWN: "k", Kind.SAME: "s", Kind.REFUSED: "r"}


@dataclass(frozen=True, slots=True)
class Verdict:
    """The verdict on one row, why, and what is not taken over.

    `patient_id` is the known patient's; `earlier_row` the row of this file that
    brings the patient when the register does not know him yet.
    """

    line: ReadLine
    kind: Kind
    reasons: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    patient_id: int | None = None
    earlier_row: int | None = None

    @property
    def number(self) -> int:
        """The row's number in the file."""
        return self.line.number

    @property
    def row(self) -> Any:
        """What the row says; None when it could not be read."""
        return self.line.row


def counts(verdicts: Iterable[Verdict]) -> dict[str, int]:
    """Return how many rows have each verdict; every kind is there."""
    found = Counter(verdict.kind for verdict in verdicts)
    return {kind.value: found[kind] for kind in Kind}


def seal(verdicts: Iterable[Verdict]) -> str:
    """Return the verdicts as letters, one for each row."""
    return "".join(LETTERS[verdict.kind] for verdict in verdicts)
