"""From text to lines of cells, numbered as a spreadsheet numbers its rows."""

import csv
import io
import re
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from register.imports.decoding import FileRefused

DELIMITERS: Final = {",": "comma", ";": "semicolon", "\t": "tab"}
MOST_ROWS: Final = 10_000
# The column in front of the refused rows that went out; such a file is guarded.
REASON: Final = "Why it was refused"
_LIVE: Final = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%", "'")
_SEPARATOR_LINE: Final = re.compile(r'^"?sep=.?"?\r?\n', re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Line:
    """One row of the file. `number` counts the head as 1, as a spreadsheet does."""

    number: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """The head and the rows below it; blank rows are left out, their numbers are not reused."""

    head: tuple[str, ...]
    lines: tuple[Line, ...]
    delimiter: str


def guarded(cell: str) -> str:
    """Return a cell that no spreadsheet runs as a formula."""
    return f"'{cell}" if cell.startswith(_LIVE) else cell


def without_guard(cell: str) -> str:
    """Return a cell as it was before `guarded`."""
    return cell[1:] if cell.startswith("'") and cell[1:].startswith(_LIVE) else cell


def plain_name(text: str) -> str:
    """Return a column name without case, underscores and surplus blanks."""
    return " ".join(text.replace("_", " ").casefold().split())


def table_of(text: str, names: Collection[str]) -> Table:
    """Read the text with the delimiter that makes the most known column names.

    `names` are plain names. Raises FileRefused when no column is known, a quotation
    mark is left open, or the file is longer than a preview can hold.
    """
    text = _SEPARATOR_LINE.sub("", text, count=1)
    delimiter = max(DELIMITERS, key=lambda sign: _known_in_head(text, sign, names))
    if not _known_in_head(text, delimiter, names):
        raise FileRefused(
            "The first row must hold the names of the columns, and none of them is known. "
            "Take the empty file from this page and copy your rows under its head."
        )
    rows = _rows(text, delimiter)
    _, head = next(rows)
    came_back = plain_name(REASON) in map(plain_name, head)
    lines = tuple(
        Line(number, tuple(map(without_guard, row)) if came_back else row)
        for number, row in rows
        if any(row)
    )
    if len(lines) > MOST_ROWS:
        raise FileRefused(f"The file has more than {MOST_ROWS} rows. Send it in parts.")
    return Table(head, lines, delimiter)


def _known_in_head(text: str, delimiter: str, names: Collection[str]) -> int:
    try:
        head = next(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter), [])
    except csv.Error:
        return 0
    return sum(plain_name(cell) in names for cell in head)


def _rows(text: str, delimiter: str) -> Iterator[tuple[int, tuple[str, ...]]]:
    """Yield (row number, cells without surrounding blanks). Raises FileRefused."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    number = 0
    try:
        for number, row in enumerate(reader, 1):
            yield number, tuple(cell.replace("\xa0", " ").strip() for cell in row)
    except csv.Error as error:
        raise FileRefused(
            f"Row {number + 1} has a quotation mark that is not closed, or text around one. "
            "Correct the row and send the file again."
        ) from error


def repeated(names: Iterable[str]) -> list[str]:
    """Return the names that stand in a head more than once, in order, blanks apart."""
    seen: set[str] = set()
    twice = []
    for name in names:
        if name and name in seen and name not in twice:
            twice.append(name)
        seen.add(name)
    return twice
