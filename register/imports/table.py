"""A file as a table: a head and numbered lines of cells, whatever form it came in."""

import csv
import io
import re
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from register.imports.decoding import CODE_PAGES, FileRefused, non_english, text_of

DELIMITERS: Final = {",": "comma", ";": "semicolon", "\t": "tab"}
MOST_ROWS: Final = 10_000
MOST_COLUMNS: Final = 300  # a table of ours has about fifty
# The column in front of the refused rows that went out; such a file is guarded.
REASON: Final = "Why it was refused"
# What a spreadsheet may take for the beginning of a formula, the wide signs too.
_LIVE: Final = (*"=+-@|%'", *"＝＋－＠", "\t", "\r", "\n")
_SEPARATOR_LINE: Final = re.compile(r'^"?sep=(.?)"?\r?\n', re.IGNORECASE)
_NO_HEAD: Final = (
    "The first row must hold the names of the columns and nothing else, in a CSV file with "
    "comma, semicolon or tab between them. Remove what stands above the names, or take the "
    "empty file from this page and copy your rows under its head."
)
_DATUM: Final = re.compile(r"[0-9][0-9 ./:-]*|[0-9]{1,2}[ -][A-Za-z]{3,9}[ -][0-9]{4}")


class TypedCell(str):
    """The text of a workbook's cell that is not stored as text.

    `stored_as`: "number", "date", "yes or no", "error", "formula" (without a result).
    A number has lost zeros in front and the format it was shown in, so columns that
    keep text refuse it.
    """

    __slots__ = ("stored_as",)
    stored_as: str

    def __new__(cls, text: str, stored_as: str) -> "TypedCell":
        cell = super().__new__(cls, text)
        cell.stored_as = stored_as
        return cell


@dataclass(frozen=True, slots=True)
class Line:
    """One row of the file. `number` counts the rows as a spreadsheet does, from 1."""

    number: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class HowRead:
    """How the bytes became a table.

    `doubtful` are the words whose letters nothing but a person can vouch for;
    `sheets` the sheets of a workbook that hold something, `notes` what is told about it.
    """

    form: str  # csv or xlsx
    code_page: str = ""
    separator: str = ""
    sheet: str = ""
    sheets: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    doubtful: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """The same in words, for pages."""
        if self.form == "xlsx":
            return f"workbook, sheet “{self.sheet}”"
        return f"text in {CODE_PAGES[self.code_page]}, {self.separator} between the cells"


@dataclass(frozen=True, slots=True)
class Table:
    """The head and the rows below it; blank rows are left out, their numbers are not reused."""

    head: tuple[str, ...]
    lines: tuple[Line, ...]
    how: HowRead

    def values_of(self, place: int, most: int = 3) -> list[str]:
        """Return the first values of a column."""
        found = (line.cells[place] for line in self.lines if place < len(line.cells))
        return [cell for cell, _ in zip((c for c in found if c), range(most), strict=False)]


def guarded(cell: str) -> str:
    """Return a cell that no spreadsheet runs as a formula."""
    return f"'{cell}" if cell.startswith(_LIVE) else cell


def without_guard(cell: str) -> str:
    """Return a cell as it was before `guarded`."""
    return cell[1:] if cell.startswith("'") and cell[1:].startswith(_LIVE) else cell


def plain_name(text: str) -> str:
    """Return a column name without case, underscores and surplus blanks."""
    return " ".join(text.replace("_", " ").casefold().split())


def came_back(head: Iterable[str]) -> bool:
    """Whether a file holds refused rows that went out from here."""
    return plain_name(REASON) in map(plain_name, head)


def text_table(content: bytes, *, names: Collection[str], code_page: str = "") -> Table:
    """Read a CSV file with the separator that makes the most known column names.

    `names` are plain names. Raises FileRefused when no head is found, a quotation
    mark is left open, or the file is longer than a preview can hold.
    """
    text, found = text_of(content, code_page)
    text, separator = _separator(text, names)
    rows = _rows(text, separator)
    head, lines = split(rows)
    if came_back(head):
        lines = tuple(Line(one.number, tuple(map(without_guard, one.cells))) for one in lines)
    doubtful = tuple(non_english(text)) if found == "cp1252" else ()
    return Table(head, lines, HowRead("csv", found, DELIMITERS[separator], doubtful=doubtful))


def split(rows: Iterable[tuple[int, tuple[str, ...]]]) -> tuple[tuple[str, ...], tuple[Line, ...]]:
    """Return the first row that is not blank, and the others. Raises FileRefused."""
    filled = ((number, row) for number, row in rows if any(row))
    _, head = next(filled, (0, ()))
    lines = []
    for number, row in filled:
        lines.append(Line(number, row))
        if len(lines) > MOST_ROWS:
            raise FileRefused(f"The file has more than {MOST_ROWS:,} rows. Send it in parts.")
    check_head(head, lines)
    return head, tuple(lines)


def check_head(head: tuple[str, ...], lines: list[Line]) -> None:
    """Refuse a first row that is a title or a row of data: it would be lost or misread."""
    named = [name for name in head if name]
    widest = max((sum(map(bool, line.cells)) for line in lines[:20]), default=0)
    if len(head) > MOST_COLUMNS:
        raise FileRefused(f"The file has more than {MOST_COLUMNS} columns. Send fewer.")
    if any(_DATUM.fullmatch(name) for name in named) or (len(named) <= 1 and widest > 2):
        raise FileRefused(_NO_HEAD)


def _separator(text: str, names: Collection[str]) -> tuple[str, str]:
    """Return the text without its separator line, and the separator."""
    if said := _SEPARATOR_LINE.match(text):
        if said[1] not in DELIMITERS:
            raise FileRefused(
                f"The first line declares “{said[1]}” between the cells. Save the file with a "
                "comma, a semicolon or a tab."
            )
        return text[said.end() :], said[1]
    known = {sign: _known_in_head(text, sign, names) for sign in DELIMITERS}
    separator = max(known, key=lambda sign: known[sign])
    if known[separator] == (0, 1):
        raise FileRefused(_NO_HEAD)
    return text, separator


def _known_in_head(text: str, sign: str, names: Collection[str]) -> tuple[int, int]:
    """Return how many column names a separator makes, known ones first."""
    try:
        rows = csv.reader(io.StringIO(text, newline=""), delimiter=sign)
        head = next((row for row in rows if any(row)), [])
    except csv.Error:
        return 0, 1
    return sum(plain_name(cell) in names for cell in head), max(1, len(head))


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
