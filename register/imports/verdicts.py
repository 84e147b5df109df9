"""What becomes of a row: written, there already, left for a person, or not readable. For all kinds.

| verdict | meaning |
|---|---|
| new | it brings a record, and a patient whom the register does not know where the kind may |
| known | it brings a record for a patient whom the register knows |
| same | every value it gives is recorded already |
| changed | it fills or changes recorded values; each is told as "name: before → after" |
| conflict | it contradicts something that only a person can decide; nothing of it is written |
| refused | it cannot be read; nothing of it is written |
"""

import hashlib
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

from register.imports.reading import ReadLine


class Kind(StrEnum):
    """The verdict on a row."""

    NEW = "new"
    KNOWN = "known"
    SAME = "same"
    CHANGED = "changed"
    CONFLICT = "conflict"
    REFUSED = "refused"

    @property
    def words(self) -> str:
        """The verdict as pages print it."""
        return _WORDS[self]


_WORDS: Final = {
    Kind.NEW: "new",
    Kind.KNOWN: "new, patient known",
    Kind.SAME: "already recorded",
    Kind.CHANGED: "fills or changes values",
    Kind.CONFLICT: "a person must decide",
    Kind.REFUSED: "refused",
}
# The verdicts above a list of rows, each beside a number.
COUNTED: Final = (
    (Kind.NEW.value, "new"),
    (Kind.KNOWN.value, "new, patient known"),
    (Kind.CHANGED.value, "fill or change values"),
    (Kind.SAME.value, "already recorded"),
    (Kind.CONFLICT.value, "for a person to decide"),
    (Kind.REFUSED.value, "refused"),
)
# One letter for each verdict: what a preview showed, sent back with the confirmation.
LETTERS: Final = {
    Kind.NEW: "n",
    Kind.KNOWN: "k",
    Kind.SAME: "s",
    Kind.CHANGED: "c",
    Kind.CONFLICT: "x",
    Kind.REFUSED: "r",
}
KIND_OF: Final = {letter: kind for kind, letter in LETTERS.items()}
# What a confirmation writes, and what it leaves out for somebody to look at.
WRITTEN: Final = (Kind.NEW, Kind.KNOWN, Kind.CHANGED)
LEFT_OUT: Final = (Kind.CONFLICT, Kind.REFUSED)
_TOKEN: Final = re.compile(r"[nksxrc](?:[0-9a-f]{8})?")


@dataclass(frozen=True, slots=True)
class Edit:
    """Fields of one recorded row that a file fills or changes. `model` is a model's name."""

    model: str
    pk: int
    version: int
    values: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Addition:
    """A row that a file adds to a recorded one; links are given by number ("patient_id")."""

    model: str
    values: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Verdict:
    """The verdict on one row, why, and what is told beside it.

    `notes` hold each change as "name: before → after" and what is not taken over.
    `edits` and `additions` are what a confirmation writes to recorded rows.
    `meant` is what a new record hangs on, in the terms of its kind.
    `patient_id` is the known patient's; `earlier_row` the row of this file that
    brings the patient when the register does not know him yet.
    """

    line: ReadLine
    kind: Kind
    reasons: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    patient_id: int | None = None
    earlier_row: int | None = None
    edits: tuple[Edit, ...] = ()
    additions: tuple[Addition, ...] = ()
    meant: Any = None

    @property
    def number(self) -> int:
        """The row's number in the file."""
        return self.line.number

    @property
    def row(self) -> Any:
        """What the row says; None when it could not be read."""
        return self.line.row

    @property
    def token(self) -> str:
        """What this verdict adds to the seal: its letter, and a digest of the notes it changes by.

        So a change of 8 to 6 is not confirmed by somebody who was shown 7 to 6.
        """
        letter = LETTERS[self.kind]
        if not (self.edits or self.additions):
            return letter
        return letter + hashlib.sha256("\n".join(self.notes).encode()).hexdigest()[:8]


def counts(verdicts: Iterable[Verdict]) -> dict[str, int]:
    """Return how many rows have each verdict; every kind is there."""
    found = Counter(verdict.kind for verdict in verdicts)
    return {kind.value: found[kind] for kind in Kind}


def seal(verdicts: Iterable[Verdict]) -> str:
    """Return the verdicts as one text: a letter for each row, with a digest where it changes."""
    return "".join(verdict.token for verdict in verdicts)


def tokens(seen: str) -> list[str]:
    """Return what a seal says of each row; none of a text that is no seal."""
    found = _TOKEN.findall(seen)
    return found if "".join(found) == seen else []
