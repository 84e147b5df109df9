"""Referral files for tests: one true referral, and every awkward way to write it down.

Each case says what must become of the file: `refused` as a whole, or a verdict
for each row (n new, k known patient, s same, x for a person, r refused). A row that is taken
must say exactly what `TRUTH` says: then nothing was silently wrong.
"""

import csv
import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import xlsxwriter

from register.imports.people import KnownPeople
from register.imports.referrals.columns import COLUMNS
from tests.factories import nhs_number

TODAY = date(2027, 3, 7)
NHS = nhs_number(900)
NHS_2 = nhs_number(901)

# What the referral really says, as the register must hold it.
TRUTH: dict[str, Any] = {
    "hospital_number": "H00104711",
    "nhs_number": NHS,
    "family_name": "Zoëbeck",
    "given_name": "Maud",
    "date_of_birth": date(1942, 5, 11),
    "referred_on": date(2027, 3, 4),
    "levels": ("T12", "L1"),
    "onset_on": date(2027, 2, 3),
    "pain_moving": 8,
}
# The same, as cells.
CELLS: dict[str, str] = {
    "Hospital number": "H00104711",
    "NHS Number": NHS,
    "Family name": "Zoëbeck",
    "Given name": "Maud",
    "Date of birth": "11 May 1942",
    "Referral date": "04 Mar 2027",
    "Levels": "T12 L1",
    "Onset date": "03 Feb 2027",
    "Pain on movement": "8",
}
IN_FIGURES = {
    "dmy": {
        "Date of birth": "11/05/1942",
        "Referral date": "04/03/2027",
        "Onset date": "03/02/2027",
    },
    "mdy": {
        "Date of birth": "05/11/1942",
        "Referral date": "03/04/2027",
        "Onset date": "02/03/2027",
    },
    "ymd": {
        "Date of birth": "1942/05/11",
        "Referral date": "2027/03/04",
        "Onset date": "2027/02/03",
    },
}


def another(**cells: Any) -> dict[str, Any]:
    """Return the cells of a second, different patient."""
    own = {"Hospital number": "H00104999", "NHS Number": NHS_2, "Given name": "Beryl"}
    return CELLS | own | {name.replace("_", " "): value for name, value in cells.items()}


def written(
    rows: Iterable[Mapping[str, str]],
    *,
    names: Iterable[str] = CELLS,
    sign: str = ",",
    encoding: str = "utf-8",
    head: Iterable[str] | None = None,
    before: str = "",
    after: str = "",
    end: str = "\r\n",
) -> bytes:
    """Return a file with these rows; `head` replaces the names in the first row."""
    names = list(names)
    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=sign, lineterminator=end)
    writer.writerow(list(head) if head is not None else names)
    writer.writerows([[row.get(name, "") for name in names] for row in rows])
    return f"{before}{text.getvalue()}{after}".encode(encoding)


def workbook(
    rows: Iterable[Mapping[str, Any]],
    *,
    names: Iterable[str] = CELLS,
    head: Iterable[str] | None = None,
    more: Mapping[str, list[list[Any]]] | None = None,
    **options: Any,
) -> bytes:
    """Return a workbook with these rows: text as text, numbers and dates as such.

    `more` are other sheets by name; `options` are those of the writer.
    """
    names = list(names)
    table = [list(head) if head is not None else names]
    table += [[row.get(name) for name in names] for row in rows]
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True, "strings_to_formulas": False} | options)
    for title, cells in {"Referrals": table, **(more or {})}.items():
        fill(book.add_worksheet(title), cells, book.add_format({"num_format": "dd/mm/yyyy"}))
    book.close()
    return out.getvalue()


def fill(sheet: Any, table: list[list[Any]], as_day: Any) -> None:
    """Write rows of cells; None is left out."""
    for y, row in enumerate(table):
        for x, value in enumerate(row):
            if isinstance(value, date):
                sheet.write_datetime(y, x, value, as_day)
            elif value is not None:
                sheet.write(y, x, value)


def changed(**cells: Any) -> dict[str, Any]:
    """Return the true cells with some of them spelt otherwise."""
    return CELLS | {name.replace("_", " "): value for name, value in cells.items()}


NOBODY: Any = KnownPeople.of([])


@dataclass(frozen=True)
class Awkward:
    """One file and what must become of it."""

    name: str
    content: bytes
    refused: str = ""  # words of the refusal of the whole file
    rows: str = ""  # otherwise a letter for each row
    says: str = ""  # words that stand beside a row
    order: str = "dmy"
    code_page: str = ""  # as it is declared
    asks: str = ""  # what a person has to say first: sheet, columns or letters
    mapping: Mapping[str, str] | None = None  # the answer: columns of the file, ours
    sheet: str = ""  # the answer
    truth: Mapping[str, Any] = field(default_factory=lambda: TRUTH)
    kind: str = "referrals"
    known: Any = NOBODY  # whom the register knows


def bad(name: str, says: str, **cells: str) -> Awkward:
    """A file whose one row is refused."""
    return Awkward(name, written([changed(**cells)], names=_names(cells)), rows="r", says=says)


def good(name: str, *, truth: Mapping[str, Any] | None = None, **cells: str) -> Awkward:
    """A file whose one row is oddly spelt and right."""
    content = written([changed(**cells)], names=_names(cells))
    return Awkward(name, content, rows="n", truth=TRUTH | (truth or {}))


def _names(cells: Mapping[str, str]) -> list[str]:
    return [*CELLS, *(n for n in (k.replace("_", " ") for k in cells) if n not in CELLS)]


# Each column of the file is the one of its name.
SAME = {name: name for name in CELLS}


def without(name: str) -> dict[str, str]:
    """Return the columns by their names, one of them left out."""
    return {label: ours for label, ours in SAME.items() if label != name}


FULL_WIDTH_8 = "\uff18"
MANY = [
    another(Hospital_number=f"N{n}", NHS_Number="", Given_name=f"Ann{n}") for n in range(10_001)
]

CASES: list[Awkward] = [
    # --- letters and separators
    Awkward("comma", written([CELLS]), rows="n"),
    Awkward("semicolon", written([CELLS], sign=";"), rows="n"),
    Awkward("tab", written([CELLS], sign="\t"), rows="n"),
    Awkward("mark of UTF-8", written([CELLS], encoding="utf-8-sig"), rows="n"),
    Awkward("UTF-16", written([CELLS], encoding="utf-16"), rows="n"),
    Awkward(
        "UTF-16, big end first", b"\xfe\xff" + written([CELLS], encoding="utf-16-be"), rows="n"
    ),
    Awkward("UTF-16 without mark", written([CELLS], encoding="utf-16-le"), rows="n"),
    Awkward("UTF-16 without mark, big end first", written([CELLS], encoding="utf-16-be"), rows="n"),
    Awkward("UTF-16, last byte lost", written([CELLS], encoding="utf-16")[:-1], refused="code"),
    Awkward("western code page", written([CELLS], encoding="cp1252"), asks="letters", rows="n"),
    Awkward(
        "western code page, declared",
        written([CELLS], encoding="cp1252"),
        code_page="cp1252",
        asks="letters",
        rows="n",
    ),
    Awkward(
        "western code page, declared as UTF-8",
        written([CELLS], encoding="cp1252"),
        code_page="utf-8",
        refused="Line 2 does not fit UTF-8",
    ),
    Awkward(
        "UTF-8, declared as western",
        written([CELLS]),
        code_page="cp1252",
        asks="letters",
        rows="r",
        says="damaged letters, perhaps “Zoëbeck”",
    ),
    Awkward(
        "western code page, a byte that is none",
        written([CELLS], encoding="cp1252") + b"\x81",
        refused="unknown code",
    ),
    Awkward("broken UTF-8", written([CELLS])[:-9] + b"\xc3", refused="unknown code"),
    bad("code page read wrongly", "damaged letters, perhaps “Zoëbeck”", Family_name="ZoÃ«beck"),
    bad("letters lost", "damaged letters", Family_name="Zo\ufffdbeck"),
    Awkward(
        "separator told in the first line", written([CELLS], sign=";", before="sep=;\r\n"), rows="n"
    ),
    Awkward(
        "separator told that is none of ours",
        written([CELLS], sign=";", before="sep=|\r\n"),
        refused="declares “|” between the cells",
    ),
    Awkward("old line ends", written([CELLS], end="\r"), rows="n"),
    # --- not a file of referrals
    Awkward("portable document", b"%PDF-1.7 x", refused="a PDF"),
    Awkward("nothing", b"", refused="empty"),
    Awkward("head alone", written([]), refused="no rows below"),
    Awkward("no head", written([CELLS]).split(b"\r\n", 1)[1], refused="names of the columns"),
    Awkward("too many rows", written(MANY), refused="more than 10,000 rows"),
    # --- columns
    Awkward(
        "needed column missing",
        written([CELLS], names=[n for n in CELLS if n != "Levels"]),
        asks="columns",
    ),
    Awkward(
        "column twice",
        written([CELLS], names=[*CELLS, "Levels"]),
        asks="columns",
        mapping=without("Levels") | {"Levels (column G)": "Levels", "Levels (column J)": ""},
        rows="n",
    ),
    Awkward(
        "column twice, chosen the wrong way",
        written([CELLS], names=[*CELLS, "Levels"]),
        asks="columns",
        mapping=without("Levels") | {"Levels (column G)": "Levels", "Levels (column J)": "Levels"},
        refused="stands twice",
    ),
    Awkward(
        "columns renamed",
        written([CELLS], head=[f"X {name.split()[0]}" for name in CELLS]),
        asks="columns",
        mapping={f"X {name.split()[0]}": name for name in CELLS},
        rows="n",
    ),
    Awkward(
        "column without a name",
        written([CELLS | {"": "7"}], names=[*CELLS, ""]),
        asks="columns",
        mapping=SAME | {"no name (column J)": ""},
        rows="n",
    ),
    Awkward("title above the head", b"Referrals of March\r\n" + written([CELLS]), refused="above"),
    Awkward("blank lines above the head", b",,\r\n\r\n" + written([CELLS]), rows="n"),
    Awkward(
        "column not known",
        written([CELLS | {"Ward bed": "7"}], names=[*CELLS, "Ward bed"]),
        asks="columns",
        mapping=SAME | {"Ward bed": ""},
        rows="n",
    ),
    Awkward("other order", written([CELLS], names=reversed(CELLS)), rows="n"),
    Awkward(
        "head in small letters",
        written([CELLS], head=[n.lower().replace(" ", "_") for n in CELLS]),
        rows="n",
    ),
    # --- rows
    Awkward("blank rows behind", written([CELLS, {}, {}], after=",,,,,,,,\r\n\r\n\r\n"), rows="n"),
    Awkward("blank cells behind", written([CELLS], names=[*CELLS, "", ""]), rows="n"),
    Awkward(
        "cell too many",
        written([CELLS]).replace(b"Maud,", b"Maud,Mrs,"),
        rows="r",
        says="10 cells, the head 9",
    ),
    Awkward(
        "cells missing",
        written([CELLS]).replace(b",8\r\n", b"\r\n"),
        rows="r",
        says="8 cells, the head 9",
    ),
    Awkward(
        "quotation mark left open",
        written([CELLS]).replace(b"Maud", b'"Maud'),
        refused="quotation mark",
    ),
    Awkward("same row twice", written([CELLS, CELLS]), rows="ns", says="The same as row 2"),
    Awkward(
        "same day, other values",
        written([CELLS, changed(Levels="L1")]),
        rows="nx",
        says="same patient and day",
    ),
    Awkward(
        "one number, two people",
        written([CELLS, another(NHS_Number=NHS)]),
        rows="xx",
        says="Rows 2, 3",
    ),
    Awkward(
        "second referral",
        written([CELLS, changed(Referral_date="05 Mar 2027", Levels="L4")]),
        rows="nk",
    ),
    Awkward(
        "level twice in two rows",
        written([CELLS, changed(Referral_date="05 Mar 2027")]),
        rows="nx",
        says="brings T12, L1",
    ),
    Awkward(
        "line break in a note",
        written([CELLS | {"Note": "one\ntwo"}], names=[*CELLS, "Note"]),
        rows="n",
    ),
    # --- dates
    Awkward("day first", written([CELLS | IN_FIGURES["dmy"]]), rows="n"),
    Awkward("month first, declared", written([CELLS | IN_FIGURES["mdy"]]), order="mdy", rows="n"),
    Awkward("year first, declared", written([CELLS | IN_FIGURES["ymd"]]), order="ymd", rows="n"),
    Awkward(
        "month first, not declared",
        written([CELLS | IN_FIGURES["mdy"], another(Date_of_birth="05/25/1942")]),
        refused="Row 3, Date of birth: 05/25/1942",
    ),
    good("computer's date", Date_of_birth="1942-05-11", Referral_date="2027-03-04T00:00:00"),
    good("month word first", Date_of_birth="May 11, 1942", Referral_date="4-Mar-2027"),
    bad("year of two figures", "four-figure year", Date_of_birth="11/05/42"),
    bad("day number", "day number of a spreadsheet", Date_of_birth="15472"),
    bad("day number with hours", "day number of a spreadsheet", Date_of_birth="15472.5"),
    bad("time of day", "time of day", Date_of_birth="1942-05-11 23:00"),
    bad("no such day", "no day 31 in Jun", Date_of_birth="31 Jun 1942"),
    bad("no such month", "no month 14", Date_of_birth="31/14/1942"),
    bad("not come yet", "has not come yet", Referral_date="04 Mar 2072"),
    bad("onset after the referral", "after the referral date", Onset_date="05 Mar 2027"),
    bad("born after the referral", "before the date of birth", Date_of_birth="06 Mar 2027"),
    bad("month of birth only", "has no day", Date_of_birth="May 1942"),
    good("month of onset", Onset_date="Feb 2027", truth={"onset_on": (date(2027, 2, 1), "month")}),
    good("year of onset", Onset_date="2027", truth={"onset_on": (date(2027, 1, 1), "year")}),
    # --- numbers of people
    good("NHS Number in groups", NHS_Number=f"{NHS[:3]} {NHS[3:6]}-{NHS[6:]}"),
    good("NHS Number with hard blanks", NHS_Number=f"{NHS[:3]}\xa0{NHS[3:6]}\xa0{NHS[6:]}"),
    bad("NHS Number as a power", "a spreadsheet has turned", NHS_Number="9.99E+09"),
    bad("NHS Number with point", "a spreadsheet has turned", NHS_Number=f"{NHS}.0"),
    bad("NHS Number without its 0", "has 9 figures", NHS_Number=NHS[1:]),
    bad(
        "NHS Number mistyped",
        "a digit is mistyped",
        NHS_Number=NHS[:-1] + str((int(NHS[-1]) + 1) % 10),
    ),
    bad("NHS Number of a person", "start with 999", NHS_Number="943 476 5919"),
    bad("hospital number as a power", "a spreadsheet has turned", Hospital_number="1.1E+11"),
    bad("hospital number with point", "a spreadsheet has turned", Hospital_number="104711.0"),
    bad("telephone without its 0", "does not begin with 0", Telephone="1632960145"),
    bad("error of a spreadsheet", "error of the spreadsheet", Family_name="#REF!"),
    bad("name empty", "Family name is empty", Family_name=""),
    # --- values
    bad("comma for point", "point instead of the comma", Pain_on_movement="7,5"),
    bad("part of a point", "whole number", Pain_on_movement="7.5"),
    bad("other digits", "digits 0 to 9", Pain_on_movement=FULL_WIDTH_8),
    bad("beyond the scale", "from 0 to 10", Pain_on_movement="80"),
    bad("unit in the cell", "without letters or unit", Weight_kg="61.5 kg"),
    bad("date made of a score", "figures only", Pain_on_movement="08-Mar"),
    bad("word not known", "is not one of the answers", Neurology="fine"),
    bad("truth as a number", "write yes or no", Steroids="1"),
    bad("level of another system", "not a level", Levels="D12"),
    bad("range of levels", "not a level", Levels="T12-L1"),
    bad("level twice", "twice", Levels="L1 L1"),
    bad("drug not known", "is not one of the answers", Blood_thinners="apixiban"),
    bad("value without date", "Blood test date is empty", INR="1.2"),
    bad("impossible value", "from 0.5 to 20", INR="120", Blood_test_date="03 Mar 2027"),
    bad("reason for a name", "write the value", Family_name="not known"),
    good("reason for pain", Pain_on_movement="not done", truth={"pain_moving": "not_done"}),
    good("levels in another order", Levels="L1; T12"),
]

assert {column.name for column in COLUMNS} >= set(CELLS)
