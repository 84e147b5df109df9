"""Workbooks (XLSX) as tables. They are opened in a child process only, never in the server.

A workbook is a packed archive that may unpack to any size; the child has its own
limits of memory and time, and what it sends back is text. See workbook_child.py.
"""

import hashlib
import json
import subprocess
import sys
import zlib
from collections import OrderedDict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from threading import Lock
from typing import Any, Final

from register.imports.decoding import FileRefused
from register.imports.table import HowRead, Table, TypedCell, plain_name, split
from register.imports.workbook_child import MEMORY, MOST_COLUMNS, MOST_ROWS

_CHILD: Final = Path(__file__).with_name("workbook_child.py")
_PATIENCE_S: Final = 90  # wall clock; processor time is bounded in the child
_SAVE: Final = "Save it as a workbook of the present form (.xlsx)"
_TOO_MUCH: Final = (
    f"The workbook needs more than {MEMORY // 1024 // 1024} MB of memory or half a minute to "
    "read. Copy the rows alone into a new workbook, without formats, and send that."
)
_REFUSALS: Final = {
    "password": "The workbook is protected by a password. Save it without one and send that.",
    "binary": f"This is a binary workbook (.xlsb). {_SAVE} and send that.",
    "other": f"This is a packed file, but no workbook. {_SAVE}, or as CSV, and send that.",
    "macros": f"The workbook holds macros (programs). {_SAVE} without macros and send that.",
    "links": (
        "The workbook takes values from other workbooks, which cannot be looked up here. Copy "
        "the rows, paste them as values into a new workbook, and send that."
    ),
    "bomb": _TOO_MUCH,
    "much": _TOO_MUCH,
    "deep": (
        "The sheet goes down to row {at} although its rows end far above. Delete the empty rows "
        "below, or copy the rows alone into a new workbook."
    ),
    "wide": f"Row {{at}} of the sheet has something beyond column {MOST_COLUMNS}. Remove it.",
    "rows": f"The sheet has more than {MOST_ROWS:,} rows. Send it in parts.",
    "merged": (
        "The cells {at} are merged, so it cannot be told to which rows their value belongs. "
        "Unmerge all cells, fill in each row, and send the file again."
    ),
    "hidden": "All sheets with something in them are hidden. Show the sheet to read and save.",
    "empty": "The workbook is empty. Choose the file again.",
    "hostile": "The workbook holds declarations that no spreadsheet program writes. "
    "Copy the rows into a new workbook and send that.",
    "damaged": (
        "The workbook is damaged, not complete, or of an unusual form. Open it in the "
        f"spreadsheet program. {_SAVE} and send that."
    ),
    "unsafe": "Workbooks cannot be read safely on this computer. Send the file as CSV.",
}


Row = tuple[int, tuple[str, ...]]  # its number and its cells


class SheetUnclear(FileRefused):
    """Several sheets hold something: a person says which one to read."""

    def __init__(self, sheets: Iterable[str]) -> None:
        self.sheets = tuple(sheets)
        names = ", ".join(f"“{name}”" for name in self.sheets)
        super().__init__(f"Several sheets hold something: {names}. Say which one to read.")


@dataclass(frozen=True, slots=True)
class Answer:
    """What the child said: the sheets, and rows by the name of the sheet."""

    sheets: tuple[tuple[str, bool, bool], ...]
    rows: dict[str, list[Row]]
    hidden_rows: int

    @property
    def shown(self) -> tuple[str, ...]:
        """The sheets that can be read."""
        return tuple(name for name, hidden, full in self.sheets if full and not hidden)


def looks_like_workbook(content: bytes) -> bool:
    """Whether the bytes are a packed archive, or a workbook of the old kind."""
    return content.startswith((b"PK", b"\xd0\xcf\x11\xe0"))


def workbook_table(content: bytes, *, names: Collection[str], sheet: str = "") -> Table:
    """Read a sheet of a workbook. `names` are the plain names of the known columns.

    Without `sheet` the only one with something in it is read, or the only one whose
    head holds two known names. Raises SheetUnclear, FileRefused.
    """
    if content.startswith(b"\xd0\xcf\x11\xe0"):
        _refuse_old(content)
    found = _asked(content, sheet)
    if sheet and sheet not in found.rows:
        raise SheetUnclear(found.shown)
    if len(found.rows) > 1:
        known = [name for name, rows in found.rows.items() if _known(rows[0], names) > 1]
        if len(known) != 1:
            raise SheetUnclear(found.shown)
        return workbook_table(content, names=names, sheet=known[0])
    (sheet, rows), *_ = found.rows.items()
    width = max(len(cells) for _, cells in rows)
    head, lines = split((n, cells + ("",) * (width - len(cells))) for n, cells in rows)
    how = HowRead("xlsx", sheet=sheet, sheets=found.shown, notes=_notes(found, sheet))
    return Table(head, lines, how)


def _refuse_old(content: bytes) -> None:
    if "EncryptedPackage".encode("utf-16-le") in content:
        raise FileRefused(_REFUSALS["password"])
    raise FileRefused(f"This is a workbook of the old form (.xls). {_SAVE} and send that.")


def _known(row: Row, names: Collection[str]) -> int:
    return sum(plain_name(cell) in names for cell in row[1])


def _notes(found: Answer, sheet: str) -> tuple[str, ...]:
    notes = []
    if others := [f"“{name}”" for name in found.shown if name != sheet]:
        notes.append(f"Not read: the other sheets, {', '.join(others)}.")
    if hidden := [f"“{name}”" for name, is_hidden, full in found.sheets if full and is_hidden]:
        notes.append(f"Not read: the hidden sheets, {', '.join(hidden)}.")
    if found.hidden_rows:
        notes.append(
            f"{found.hidden_rows} rows are hidden in the workbook, perhaps by a filter. "
            "They are read like the others."
        )
    return tuple(notes)


# --- the child ------------------------------------------------------------------------

_KEPT: OrderedDict[tuple[bytes, str], bytes] = OrderedDict()
_MOST_KEPT: Final = 4
_LOCK: Final = Lock()


def _asked(content: bytes, sheet: str) -> Answer:
    """Return the child's answer. The last few are kept, packed: a preview is asked for often."""
    key = (hashlib.sha256(content).digest(), sheet)
    with _LOCK:
        packed = _KEPT.get(key)
    if packed is None:
        packed = zlib.compress(_run(content, sheet), level=1)
        with _LOCK:
            _KEPT[key] = packed
            while len(_KEPT) > _MOST_KEPT:
                _KEPT.popitem(last=False)
    return _understood(zlib.decompress(packed))


def _run(content: bytes, sheet: str) -> bytes:
    question = json.dumps({"sheet": sheet}).encode() + b"\n"
    try:
        done = subprocess.run(
            [sys.executable, "-I", "-B", str(_CHILD)],
            input=question + content, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
            timeout=_PATIENCE_S, cwd="/", env={}, check=False,
        )  # fmt: skip
    except subprocess.TimeoutExpired as error:
        raise FileRefused(_TOO_MUCH) from error
    return done.stdout


def _understood(said: bytes) -> Answer:
    """Read the child's lines. Raises FileRefused for its refusals, and for a missing end."""
    sheets: tuple[tuple[str, bool, bool], ...] = ()
    rows: dict[str, list[Row]] = {}
    cells: dict[Any, str] = {}  # a table says the same again and again; kept once
    ended, hidden_rows, current = False, 0, []
    for line in BytesIO(said):
        match _one(line):
            case [int(number), [*row]]:
                current.append((number, tuple(_cell(cell, cells) for cell in row)))
            case {"refused": code, "at": at}:
                raise FileRefused(_REFUSALS[code].format(at=at))
            case {"sheets": found}:
                sheets = tuple((name, hidden, full) for name, hidden, full in found)
            case {"sheet": name}:
                current = rows.setdefault(name, [])
            case {"hidden_rows": count}:
                hidden_rows = count
            case {"end": True}:
                ended = True
    if not ended:
        raise FileRefused(_TOO_MUCH)
    return Answer(sheets, rows, hidden_rows)


def _one(line: bytes) -> Any:
    try:
        return json.loads(line)
    except ValueError:
        return None


def _cell(cell: Any, known: dict[Any, str]) -> str:
    key = cell if isinstance(cell, str) else tuple(cell)
    found = known.get(key)
    if found is None:
        made = TypedCell(*key) if isinstance(key, tuple) else key.replace("\xa0", " ").strip()
        found = known[key] = made
    return found
