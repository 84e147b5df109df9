"""Theatre logs for tests: one line, and ways to change it."""

import csv
import io
from collections.abc import Iterable, Mapping
from datetime import date

from register.imports.theatre_log.columns import COLUMNS

TODAY = date(2027, 3, 7)
DAY = date(2027, 3, 4)
LINE: dict[str, str] = {
    "Date": "04 Mar 2027",
    "Reference": "2027-0412",
    "Hospital number": "H00104711",
    "Family name": "Zoëbeck",
    "Given name": "Maud",
    "Procedure": "Cement augmentation L1",
    "Code": "V44.4",
    "Operator": "Person",
}


def log(*lines: Mapping[str, str]) -> bytes:
    """Return a log of the lines as CSV."""
    sheet = io.StringIO()
    writer = csv.DictWriter(sheet, [column.name for column in COLUMNS], lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(lines)
    return sheet.getvalue().encode()


def line(number: int = 412, **cells: str) -> dict[str, str]:
    """Return the line under another reference; `Hospital_number` names a column with a blank."""
    given = {name.replace("_", " "): value for name, value in cells.items()}
    return LINE | {"Reference": f"2027-{number:04d}"} | given


def without(cells: Mapping[str, str], *names: str) -> dict[str, str]:
    """Return a line with some of its cells left empty."""
    return {name: "" if name in names else value for name, value in cells.items()}


def letters(verdicts: Iterable) -> str:
    """Return the verdicts as their letters."""
    return "".join(verdict.token[0] for verdict in verdicts)
