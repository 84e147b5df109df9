"""From the bytes of a file to its rows, or to all reasons why a row cannot be read."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from register.imports.cells import CellRefused, OrderDoubted, Reading, reason_in
from register.imports.column import Column, Head, head_of
from register.imports.decoding import FileRefused, text_of
from register.imports.table import Line, table_of

SPREADSHEET_ERRORS: Final = frozenset(
    ("#N/A", "#NAME?", "#REF!", "#VALUE!", "#DIV/0!", "#NUM!", "#NULL!", "#SPILL!")
)
# What the cells of a line say, by (part, field) of their columns; Absent where a reason stands.
Values = dict[tuple[str, str], Any]


@dataclass(frozen=True, slots=True)
class ReadLine:
    """One line of the file: its cells as they came, and the row or the reasons against it.

    `row` is what the kind of file makes of a line, None when it could not be read.
    """

    number: int
    cells: tuple[str, ...]
    row: Any
    reasons: tuple[str, ...] = ()


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


@dataclass(frozen=True, slots=True)
class ReadFile:
    """A whole file, read. Nothing has been compared with the register yet."""

    kind: FileKind

    head: Head
    names: tuple[str, ...]
    lines: tuple[ReadLine, ...]
    delimiter: str
    date_order: str

    @property
    def rows(self) -> list[Any]:
        """The rows that could be read."""
        return [line.row for line in self.lines if line.row is not None]


def read_file(content: bytes, *, kind: FileKind, date_order: str, today: date) -> ReadFile:
    """Read a file of a kind. Raises FileRefused when it cannot be trusted as a whole."""
    table = table_of(text_of(content), {column.plain for column in kind.columns})
    head = head_of(table.head, kind.columns)
    if not table.lines:
        raise FileRefused("The file has a head and no rows below it. Choose the file again.")
    how = Reading(date_order, today)
    lines = tuple(_read_line(line, kind, head, how) for line in table.lines)
    return ReadFile(kind, head, table.head, lines, table.delimiter, date_order)


def _read_line(line: Line, kind: FileKind, head: Head, how: Reading) -> ReadLine:
    width = len(head.places)
    if len(line.cells) < width or any(line.cells[width:]):
        reason = (
            f"The row has {len(line.cells)} cells, the head {width}. A text that holds the "
            "separator must stand in quotation marks."
        )
        return ReadLine(line.number, line.cells, None, (reason,))
    values, reasons = _values(line, kind.columns, head, how)
    if not reasons:
        reasons = kind.contradictions(values)
    row = None if reasons else kind.row_of(line.number, values)
    return ReadLine(line.number, line.cells, row, tuple(reasons))


def _values(
    line: Line, columns: tuple[Column, ...], head: Head, how: Reading
) -> tuple[Values, list[str]]:
    """Read every cell of a line; a doubted order of dates stops the whole file."""
    values: Values = {}
    reasons = []
    for column, text in zip(head.places, line.cells, strict=False):
        if column is None or text.casefold() in ("", "not recorded"):
            continue
        try:
            values[column.part, column.field] = _value(column, text, how)
        except OrderDoubted as doubt:
            raise FileRefused(
                f"Row {line.number}, {doubt} So no date in figures of this file can be trusted. "
                "Declare the other order, or correct this date."
            ) from doubt
        except CellRefused as refused:
            reasons.append(str(refused))
    reasons += [
        f"{column.name} is empty. It is needed."
        for column in columns
        if column.needed and _is_blank(column, head, line)
    ]
    return values, reasons


def _value(column: Column, text: str, how: Reading) -> Any:
    if text in SPREADSHEET_ERRORS:
        raise CellRefused(f"{column.name}: {text} is an error of the spreadsheet. Correct it.")
    reason = reason_in(text)
    if reason is None:
        return column.read(column.name, text, how)
    if not column.may_be_absent:
        raise CellRefused(f"{column.name}: write the value, or leave the cell empty.")
    return reason


def _is_blank(column: Column, head: Head, line: Line) -> bool:
    text = line.cells[head.places.index(column)]
    return text.casefold() in ("", "not recorded")
