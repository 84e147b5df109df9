"""The files that go out: the empty one, and the refused rows with their reasons.

They go out in the form that came in. A spreadsheet runs a CSV cell that begins like a
formula, so such a cell gets an apostrophe in front, which is taken off again when the
file comes back; the mark at the beginning tells a spreadsheet that the letters are
UTF-8. In a workbook every text is stored as text, and a number that was refused because
it is a number stays one, so that it is refused again until somebody has corrected it.
"""

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any, Final

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.utils import get_column_letter

from register.imports.decoding import UTF8_MARK
from register.imports.reading import FileKind, ReadFile
from register.imports.table import REASON, TypedCell, guarded
from register.imports.verdicts import LEFT_OUT, Verdict

_TEXT: Final = "@"  # the format under which a spreadsheet leaves alone what is typed
_DATE: Final = "dd mmm yyyy"
_READY_ROWS: Final = 500  # rows of an empty workbook that are formatted as text


def empty_file(kind: FileKind) -> bytes:
    """Return the head of a file of a kind, without rows."""
    return _written([[column.name for column in kind.columns]])


def empty_workbook(kind: FileKind) -> bytes:
    """Return the same as a workbook whose cells are text, so that zeros in front stay."""
    names = [column.name for column in kind.columns]
    blank = [[""] * len(names)] * _READY_ROWS
    return _workbook([names, *blank], kind.noun.capitalize())


def refused_file(
    file: ReadFile,
    verdicts: Iterable[Verdict],
    *,
    told: Sequence[Sequence[object]] | None = None,
) -> bytes:
    """Return the refused rows as they came, the reasons in a column in front.

    A workbook for a workbook, otherwise CSV. `told` are row numbers with the reasons
    given when the file was confirmed; they go before what would be said today.
    """
    if told is None:
        refused = [(v.number, v.reasons) for v in verdicts if v.kind in LEFT_OUT]
    else:
        refused = [(int(str(number)), tuple(map(str, why))) for number, *why in told]
    cells = {line.number: line.cells for line in file.lines}
    rows = [[REASON, *file.names], *([" ".join(why), *cells[n]] for n, why in refused)]
    return _workbook(rows, file.how.sheet) if file.how.form == "xlsx" else _written(rows)


def _written(rows: Iterable[Sequence[str]]) -> bytes:
    text = io.StringIO(newline="")
    csv.writer(text).writerows([guarded(cell) for cell in row] for row in rows)
    return UTF8_MARK + text.getvalue().encode()


def _workbook(rows: Sequence[Sequence[str]], title: str) -> bytes:
    book = Workbook(write_only=True)
    sheet = book.create_sheet(title[:31])
    for place in range(1, len(rows[0]) + 1):
        sheet.column_dimensions[get_column_letter(place)].width = 18
    for row in rows:
        sheet.append([_cell(sheet, text) for text in row])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _cell(sheet: Any, text: str) -> Any:
    """Return a cell that is stored as it came; text is never taken for a formula or number."""
    value, shown = _stored(text)
    cell = WriteOnlyCell(sheet, value)
    if isinstance(value, str):
        cell.data_type = "e" if getattr(text, "stored_as", "") == "error" else "s"
    cell.number_format = shown
    return cell


def _stored(text: str) -> tuple[Any, str]:
    """Return the value to store and its format."""
    match text.stored_as if isinstance(text, TypedCell) else "":
        case "number":
            if text.endswith("%"):
                return float(text[:-1]) / 100, "0.##%"
            return float(text) if "." in text or "e" in text else int(text), "General"
        case "yes or no":
            return text == "yes", "General"
        case "date":
            return _day(text), _DATE
        case _:
            return str(text) or None, _TEXT


def _day(text: str) -> Any:
    """Return a day or a moment; a time alone stays text, which is refused as before."""
    try:
        return datetime.fromisoformat(text) if "T" in text else date.fromisoformat(text)
    except ValueError:
        return str(text)
