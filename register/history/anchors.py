"""Anchors: the newest digest of the history, kept outside the database.

One line for each sealing, only ever added to, and short enough to be copied onto paper:

    2027-03-12T02:15:04+00:00 last 48213 count 48190 sha256 9f86d081…
"""

import os
import re
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final, Self

LINE: Final = re.compile(
    r"(?P<at>\S+) last (?P<last>\d+) count (?P<count>\d+) sha256 (?P<digest>[0-9a-f]{64})"
)


class AnchorsUnreadable(Exception):
    """The file of anchors is missing or damaged; the message says which line."""


@dataclass(frozen=True, slots=True)
class Anchor:
    """When the history was sealed, its last sealed row, how many rows, and the chain's digest."""

    at: datetime
    last_id: int
    count: int
    digest: str

    def __str__(self) -> str:
        at = self.at.isoformat(timespec="seconds")
        return f"{at} last {self.last_id} count {self.count} sha256 {self.digest}"

    @classmethod
    def read(cls, line: str) -> Self:
        """Read back one line. Raises ValueError."""
        found = LINE.fullmatch(line.strip())
        if found is None:
            raise ValueError("This is not a line of anchors.")
        at = datetime.fromisoformat(found["at"])
        return cls(at, int(found["last"]), int(found["count"]), found["digest"])


def anchor_add(file: Path, anchor: Anchor) -> None:
    """Add one line and wait until it is on the disk; the file is made when missing."""
    handle = os.open(file, os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_CLOEXEC, 0o600)
    with os.fdopen(handle, "a", encoding="ascii") as opened:
        opened.write(f"{anchor}\n")
        opened.flush()
        os.fsync(opened.fileno())


def anchors_of(file: Path) -> list[Anchor]:
    """Return all anchors of a file, in its order. Raises AnchorsUnreadable."""
    if not file.is_file():
        raise AnchorsUnreadable(f"There are no anchors at {file}.")
    found = []
    for number, line in enumerate(file.read_text(encoding="utf-8").splitlines(), start=1):
        try:
            found.append(Anchor.read(line))
        except ValueError as problem:
            raise AnchorsUnreadable(f"Line {number} of {file}: {problem}") from problem
    return found
