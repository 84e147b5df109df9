"""From the bytes of a file to its rows, or to all reasons why a row cannot be read."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Final

from register.domain.days import day_words, known_words
from register.forms.dates import KnownDate
from register.imports.cells import CellRefused, OrderDoubted, Reading, reason_in
from register.imports.column import Column, Head, head_of, labels_of
from register.imports.dates import both_ways, in_figures
from register.imports.decoding import FileRefused
from register.imports.table import HowRead, Line, Table, TypedCell, text_table
from register.imports.workbook import looks_like_workbook, workbook_table

SPREADSHEET_ERRORS: Final = frozenset(
    ("#N/A", "#NAME?", "#REF!", "#VALUE!", "#DIV/0!", "#NUM!", "#NULL!", "#SPILL!")
)
# What the cells of a line say, by (part, field) of their columns; Absent where a reason stands.
Values = dict[tuple[str, str], Any]


@dataclass(frozen=True, slots=True)
class ReadLine:
    """One line of the file: its cells as they came, and the row or the reasons against it.

    `row` is what the kind of file makes of a line, None when it could not be read;
    `values` what its cells say, as far as they could be read.
    """

    number: int
    cells: tuple[str, ...]
    row: Any
    reasons: tuple[str, ...] = ()
    values: Values | None = None


@dataclass(frozen=True, slots=True)
class FileKind:
    """How one kind of file is read.

    `row_of` turns row number and values into the kind's own row; `contradictions`
    says what two cells of a row have against each other. `noun` names what one row
    brings, in the singular ("referral").
    """

    code: str
    noun: str
    columns: tuple[Column, ...]
    row_of: Callable[[int, Values], Any]
    contradictions: Callable[[Values], list[str]]

    @property
    def plain_names(self) -> frozenset[str]:
        """The names of the columns as they are compared."""
        return frozenset(column.plain for column in self.columns)


@dataclass(frozen=True, slots=True)
class DateSample:
    """One date of the file: where it stands, as it came, and in words as it is read."""

    number: int
    column: str
    text: str
    words: str


@dataclass(frozen=True, slots=True)
class ReadFile:
    """A whole file, read. Nothing has been compared with the register yet."""

    kind: FileKind
    head: Head
    names: tuple[str, ...]
    lines: tuple[ReadLine, ...]
    how: HowRead
    date_order: str

    @property
    def rows(self) -> list[Any]:
        """The rows that could be read."""
        return [line.row for line in self.lines if line.row is not None]

    @property
    def samples(self) -> list[DateSample]:
        """Two dates to check against the source, if possible such as could be read two ways."""
        return date_samples(self)


def table_in(content: bytes, *, kind: FileKind, code_page: str = "", sheet: str = "") -> Table:
    """Read a file as a table, whatever its form. Raises SheetUnclear, FileRefused."""
    if looks_like_workbook(content):
        return workbook_table(content, names=kind.plain_names, sheet=sheet)
    return text_table(content, names=kind.plain_names, code_page=code_page)


def read_file(
    content: bytes,
    *,
    kind: FileKind,
    date_order: str,
    today: date,
    mapping: Mapping[str, str] | None = None,
    code_page: str = "",
    sheet: str = "",
) -> ReadFile:
    """Read a file of a kind. `mapping` is as in `head_of`.

    Raises SheetUnclear or ColumnsUnclear when a person has to say more, and FileRefused
    when the file cannot be trusted as a whole.
    """
    table = table_in(content, kind=kind, code_page=code_page, sheet=sheet)
    return read_table(table, kind=kind, date_order=date_order, today=today, mapping=mapping)


def read_table(
    table: Table,
    *,
    kind: FileKind,
    date_order: str,
    today: date,
    mapping: Mapping[str, str] | None = None,
) -> ReadFile:
    """Read the rows of a table; the same errors as `read_file`."""
    if not table.lines:
        raise FileRefused("The file has a head and no rows below it. Choose the file again.")
    head = _with_nameless(head_of(table.head, kind.columns, mapping), table)
    _refuse_mixed_dates(table.lines, head)
    how = Reading(date_order, today)
    lines = tuple(map(_Reader(kind, head, how).line, table.lines))
    return ReadFile(kind, head, table.head, lines, table.how, date_order)


def date_samples(file: ReadFile, most: int = 2) -> list[DateSample]:
    """Return dates of different wording, first those in figures that could be read two ways."""
    places = [(place, c) for place, c in enumerate(file.head.places) if c and c.is_date]
    found: dict[int, dict[str, DateSample]] = {0: {}, 1: {}, 2: {}}
    for line in file.lines:
        for place, column in places:
            text = line.cells[place] if place < len(line.cells) else ""
            value = (line.values or {}).get(column.key)
            if text and isinstance(value, date | KnownDate):
                rank = 0 if both_ways(text) else 1 if in_figures(text) else 2
                found[rank].setdefault(
                    text, DateSample(line.number, column.name, text, date_words(value))
                )
        if len(found[0]) >= most:
            break
    return [sample for rank in found.values() for sample in rank.values()][:most]


def date_words(value: Any) -> str:
    """Return a date no finer than it is known."""
    if isinstance(value, KnownDate):
        return known_words(value.on, value.precision)
    return day_words(value)


def _with_nameless(head: Head, table: Table) -> Head:
    """Tell also of columns that have values and no name."""
    nameless = [
        label
        for place, label in enumerate(labels_of(table.head))
        if not table.head[place] and head.places[place] is None and table.values_of(place, 1)
    ]
    return replace(head, unknown=head.unknown + tuple(nameless)) if nameless else head


def _refuse_mixed_dates(lines: Iterable[Line], head: Head) -> None:
    """Refuse a workbook in which some dates are dates and others text in figures.

    That is what is left when a spreadsheet has read day and month the wrong way round:
    it makes dates of those that it can, and leaves the others as they were.
    """
    for place, column in enumerate(head.places):
        if column is None or not column.is_date:
            continue
        typed = as_text = 0
        for line in lines:
            cell = line.cells[place] if place < len(line.cells) else ""
            if isinstance(cell, TypedCell):
                typed = typed or line.number * (cell.stored_as == "date")
            elif in_figures(cell):
                as_text = as_text or line.number
        if typed and as_text:
            raise FileRefused(
                f"{column.name} holds dates in row {typed} and text in figures in row {as_text}. "
                "A spreadsheet that opens a file with the wrong order of day and month leaves it "
                "like this, with some days and months exchanged. Take the file from its source "
                "again, as text."
            )


class _Reader:
    """Reads the lines of one file. What stood in a column before is not read once more."""

    def __init__(self, kind: FileKind, head: Head, how: Reading) -> None:
        self._kind, self._how, self._width = kind, how, len(head.places)
        self._columns = [(n, column) for n, column in enumerate(head.places) if column]
        self._needed = [(head.places.index(c), c) for c in kind.columns if c.needed]
        self._known: list[dict[Any, Any]] = [{} for _ in head.places]

    def line(self, line: Line) -> ReadLine:
        """Read one line, or tell all reasons why it cannot be read."""
        if len(line.cells) < self._width or any(line.cells[self._width :]):
            reason = (
                f"The row has {len(line.cells)} cells, the head {self._width}. A text that holds "
                "the separator must stand in quotation marks."
            )
            return ReadLine(line.number, line.cells, None, (reason,))
        values, reasons = self._values(line)
        if not reasons:
            reasons = self._kind.contradictions(values)
        row = None if reasons else self._kind.row_of(line.number, values)
        return ReadLine(line.number, line.cells, row, tuple(reasons), values)

    def _values(self, line: Line) -> tuple[Values, list[str]]:
        """Read every cell of a line; a doubted order of dates stops the whole file."""
        values: Values = {}
        reasons = []
        for place, column in self._columns:
            try:
                found = self._cell(place, column, line.cells[place])
            except OrderDoubted as doubt:
                raise FileRefused(
                    f"Row {line.number}, {doubt} So no date in figures of this file can be "
                    "trusted. Declare the other order, or correct this date."
                ) from doubt
            if isinstance(found, CellRefused):
                reasons.append(str(found))
            elif found is not None:
                values[column.key] = found
        reasons += [
            f"{column.name} is empty. It is needed."
            for place, column in self._needed
            if is_blank(line.cells[place])
        ]
        return values, reasons

    def _cell(self, place: int, column: Column, text: str) -> Any:
        """Return what a cell says, None when it is blank, or the refusal. Raises OrderDoubted."""
        known = self._known[place]
        key = (str(text), text.stored_as) if isinstance(text, TypedCell) else text
        if key not in known:
            try:
                known[key] = None if is_blank(text) else _value(column, text, self._how)
            except OrderDoubted:
                raise
            except CellRefused as refused:
                known[key] = CellRefused(str(refused))
        return known[key]


def _value(column: Column, text: str, how: Reading) -> Any:
    stored_as = text.stored_as if isinstance(text, TypedCell) else ""
    if text in SPREADSHEET_ERRORS or stored_as == "error":
        raise CellRefused(f"{column.name}: {text} is an error of the spreadsheet. Correct it.")
    if stored_as == "formula":
        raise CellRefused(
            f"{column.name}: the workbook holds a formula without its result. Open it in the "
            "spreadsheet program, save it, and send it again."
        )
    reason = reason_in(text)
    if reason is None:
        return column.read(column.name, text, how)
    if not column.may_be_absent:
        raise CellRefused(f"{column.name}: write the value, or leave the cell empty.")
    return reason


def is_blank(text: str) -> bool:
    """Whether a cell says nothing; a formula without its result is not blank."""
    return text.casefold() in ("", "not recorded") and not isinstance(text, TypedCell)
