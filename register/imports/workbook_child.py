"""Reads one workbook in a process of its own, under limits that the kernel keeps.

Run as a file, not imported: it knows nothing of the register, has no database and
cannot write files. In: a line of JSON {"sheet": name or ""}, then the bytes of the
workbook. Out: lines of JSON:

    {"sheets": [[name, hidden, has_content], …]}   sheets in their order
    {"sheet": name}                                the one whose rows follow
    [number, [cell, …]]                            each row that is not blank
    {"end": true, "hidden_rows": n}                or {"refused": code, "at": where}

A cell is its text, or [text, "number" | "date" | "yes or no" | "error" | "formula"].
Without a last line the process was stopped by a limit.
"""

import json
import re
import resource
import sys
import warnings
import zipfile
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from io import BytesIO
from typing import Any, Final

MEMORY: Final = 200 * 1024 * 1024  # bytes of address space
SECONDS: Final = 30  # of processor time
MOST_UNPACKED: Final = 300 * 1024 * 1024  # bytes of all parts together
MOST_PARTS: Final = 2_000
MOST_ROWS: Final = 10_000
DEEPEST_ROW: Final = 100_000  # blank ones included
MOST_COLUMNS: Final = 300
MOST_LETTERS: Final = 20_000_000
_ESCAPED: Final = re.compile("_x([0-9A-Fa-f]{4})_")
_QUOTED: Final = re.compile(r'"[^"]*"|\\.')


class Refused(Exception):
    """`code` is known to the reader of the answer; `at` says where."""

    def __init__(self, code: str, at: str = "") -> None:
        super().__init__(code)
        self.code, self.at = code, at


def limit() -> None:
    """Bound memory and time of this process; forbid files, further processes and dumps."""
    for what, most in (
        (resource.RLIMIT_AS, MEMORY),
        (resource.RLIMIT_CPU, SECONDS),
        (resource.RLIMIT_FSIZE, 0),
        (resource.RLIMIT_CORE, 0),
    ):
        resource.setrlimit(what, (most, most))


def answer(line: Any) -> None:
    """Send one line back."""
    sys.stdout.write(json.dumps(line, separators=(",", ":")) + "\n")


def check_parts(archive: zipfile.ZipFile) -> None:
    """Refuse what is no plain workbook, before any part of it is unpacked."""
    parts = archive.infolist()
    names = {part.filename for part in parts}
    if any(part.flag_bits & 1 for part in parts):
        raise Refused("password")
    if "xl/workbook.bin" in names:
        raise Refused("binary")
    if "[Content_Types].xml" not in names or not any(n.startswith("xl/") for n in names):
        raise Refused("other")
    if any(name.endswith("vbaProject.bin") for name in names):
        raise Refused("macros")
    if any(name.startswith("xl/externalLinks/") for name in names):
        raise Refused("links")
    if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > MOST_UNPACKED:
        raise Refused("bomb")


def strings_of(source: Any) -> list[str]:
    """Return the shared strings; the runs of a formatted text joined, readings aside left out."""
    from openpyxl.xml.constants import SHEET_MAIN_NS as NS
    from openpyxl.xml.functions import iterparse

    found, letters = [], 0
    for _, node in iterparse(source):
        if node.tag == f"{{{NS}}}si":
            parts = [*node.findall(f"{{{NS}}}t"), *node.findall(f"{{{NS}}}r/{{{NS}}}t")]
            found.append("".join(part.text or "" for part in parts))
            letters += len(found[-1])
            node.clear()
            if letters > MOST_LETTERS:
                raise Refused("much")
    return found


def load(content: bytes) -> Any:
    """Return the workbook, opened for reading on demand."""
    # Neither is needed to read cells, and each would fill the memory that is allowed.
    for module in ("numpy", "PIL", "lxml"):
        sys.modules[module] = None  # type: ignore[assignment]
    import openpyxl
    from openpyxl.reader import excel
    from openpyxl.xml import DEFUSEDXML

    if not DEFUSEDXML:
        raise Refused("unsafe")
    excel.read_string_table = strings_of
    return openpyxl.load_workbook(
        BytesIO(content), read_only=True, data_only=True, keep_links=False
    )


def percent_styles(book: Any) -> set[int]:
    """Return the numbers of the styles that show 0.5 as 50 %."""
    from openpyxl.styles.numbers import BUILTIN_FORMATS

    found = set()
    for number, style in enumerate(book._cell_styles):
        own = style.numFmtId - 164
        shown = BUILTIN_FORMATS.get(style.numFmtId) if own < 0 else book._number_formats[own]
        if "%" in _QUOTED.sub("", shown or ""):
            found.add(number)
    return found


class Sheet:
    """The rows of one sheet, one after another."""

    def __init__(self, book: Any, sheet: Any) -> None:
        self.book, self.sheet = book, sheet
        self.percent = percent_styles(book)
        self.hidden_rows = 0
        self.merged = ""

    def rows(self) -> Iterator[tuple[int, list[Any]]]:
        """Yield (row number, cells) for each row that holds something."""
        from openpyxl.worksheet._reader import MERGE_TAG, ROW_TAG, WorkSheetParser
        from openpyxl.xml.functions import iterparse

        book, sheet = self.book, self.sheet
        with sheet._get_source() as source:
            parser = WorkSheetParser(
                source, sheet._shared_strings, data_only=True, epoch=book.epoch,
                date_formats=book._date_formats, timedelta_formats=book._timedelta_formats,
            )  # fmt: skip
            for _, element in iterparse(source):
                if element.tag == ROW_TAG:
                    cells = self._cells(parser, element)
                    if any(cells):
                        self.hidden_rows += element.get("hidden") in ("1", "true")
                        yield parser.row_counter, cells
                    elif parser.row_counter > DEEPEST_ROW:
                        raise Refused("deep", str(parser.row_counter))
                    parser.row_dimensions.clear()
                    element.clear()
                elif element.tag == MERGE_TAG:
                    self.merged = next((one.get("ref", "") for one in element), "")

    def _cells(self, parser: Any, row: Any) -> list[Any]:
        from openpyxl.worksheet._reader import FORMULA_TAG, VALUE_TAG

        _, read = parser.parse_row(row)
        cells: list[Any] = []
        for element, cell in zip(row, read, strict=True):
            value = self._value(cell)
            if value == "" and element.find(FORMULA_TAG) is not None:
                without = element.find(VALUE_TAG) is None or element.get("t", "n") == "n"
                value = ["", "formula"] if without else ""
            if value == "":
                continue
            if cell["column"] > MOST_COLUMNS:
                raise Refused("wide", str(cell["row"]))
            cells.extend([""] * (cell["column"] - len(cells)))
            cells[cell["column"] - 1] = value
        return cells

    def _value(self, cell: dict[str, Any]) -> Any:
        value = cell["value"]
        if value is None:
            return ""
        if cell["data_type"] == "e":
            return [str(value), "error"]
        match value:
            case bool():
                return ["yes" if value else "no", "yes or no"]
            case int() | float():
                if cell["style_id"] in self.percent:
                    return [f"{value * 100:.15g}%", "number"]
                return [figures(value), "number"]
            case datetime() if value.time() == time():
                return [value.date().isoformat(), "date"]
            case datetime() | date() | time() | timedelta():
                return [value.isoformat() if hasattr(value, "isoformat") else str(value), "date"]
        return _ESCAPED.sub(_sign, str(value)).strip()


def _sign(escaped: re.Match[str]) -> str:
    """Return a sign that the file format writes by its number; a mark of loss for no sign."""
    number = int(escaped[1], 16)
    is_sign = number in (9, 10, 13) or (number >= 32 and not 0xD800 <= number <= 0xDFFF)
    return chr(number) if is_sign else "\ufffd"


def figures(value: int | float) -> str:
    """Return a number as a spreadsheet keeps it: fifteen figures, no .0 behind a whole one."""
    if isinstance(value, int) or value.is_integer():
        return str(int(value))
    return f"{value:.15g}"


def sheets_of(book: Any) -> list[tuple[Any, bool, bool]]:
    """Return (sheet, whether it is hidden, whether it holds something)."""
    return [
        (sheet, sheet.sheet_state != "visible", next(Sheet(book, sheet).rows(), None) is not None)
        for sheet in book.worksheets
    ]


def read(content: bytes, wanted: str) -> None:
    """Answer with the sheets, and with the rows of the wanted or of the only one."""
    with zipfile.ZipFile(BytesIO(content)) as archive:
        check_parts(archive)
    book = load(content)
    sheets = sheets_of(book)
    answer({"sheets": [(sheet.title, hidden, full) for sheet, hidden, full in sheets]})
    shown = [sheet for sheet, hidden, full in sheets if full and not hidden]
    chosen = [sheet for sheet in shown if sheet.title == wanted] if wanted else shown
    if not shown:
        raise Refused("hidden" if any(full for _, _, full in sheets) else "empty")
    for sheet in chosen:
        read_sheet(Sheet(book, sheet), head_only=len(chosen) > 1)
    answer({"end": True})


def read_sheet(sheet: Sheet, *, head_only: bool) -> None:
    """Answer with the rows of a sheet; with its first one alone while nobody chose the sheet."""
    answer({"sheet": sheet.sheet.title})
    letters = 0
    for count, (number, cells) in enumerate(sheet.rows()):
        answer([number, cells])
        letters += sum(map(len, cells))
        if head_only:
            return
        if count > MOST_ROWS:
            raise Refused("rows")
        if letters > MOST_LETTERS:
            raise Refused("much")
    if sheet.merged:
        raise Refused("merged", sheet.merged)
    answer({"hidden_rows": sheet.hidden_rows})


def code_of(error: Exception) -> str:
    """Return the code for what the library raised."""
    if "out of memory" in str(error):
        return "much"
    # The library wraps what its reader of XML raised.
    kinds = {type(one).__module__ for one in (error, error.__cause__)}
    return "hostile" if any(kind.startswith("defusedxml") for kind in kinds) else "damaged"


def main() -> None:
    """Read the question, answer, and turn every trouble into a code."""
    limit()
    warnings.simplefilter("ignore")
    question = json.loads(sys.stdin.buffer.readline())
    content = sys.stdin.buffer.read()
    try:
        read(content, question["sheet"])
    except Refused as refused:
        answer({"refused": refused.code, "at": refused.at})
    except MemoryError:
        answer({"refused": "much", "at": ""})
    except zipfile.BadZipFile:
        answer({"refused": "damaged", "at": ""})
    except Exception as error:  # whatever a hostile file makes of the library
        answer({"refused": code_of(error), "at": ""})
    sys.stdout.flush()


if __name__ == "__main__":
    main()
