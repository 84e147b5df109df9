"""Awkward workbooks for tests, each with what must become of it; see referral_files.py."""

import io
import zipfile
from collections.abc import Callable
from datetime import date, datetime
from typing import Any

import openpyxl
import xlsxwriter

from tests.referral_files import (
    CELLS,
    NHS,
    SAME,
    Awkward,
    another,
    changed,
    fill,
    without,
    workbook,
    written,
)

# The true referral as a careful workbook holds it: dates and numbers as such.
TYPED: dict[str, Any] = CELLS | {
    "Date of birth": date(1942, 5, 11),
    "Referral date": date(2027, 3, 4),
    "Onset date": date(2027, 2, 3),
    "Pain on movement": 8.0,
}
SHEET = "xl/worksheets/sheet1.xml"
LAUGHS = (
    '<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">'
    '<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]>'
)


def typed(**cells: Any) -> dict[str, Any]:
    """Return the typed cells with some of them otherwise."""
    return TYPED | {name.replace("_", " "): value for name, value in cells.items()}


def bad(name: str, says: str, **cells: Any) -> Awkward:
    """A workbook whose one row is refused."""
    row = typed(**cells)
    return Awkward(name, workbook([row], names=row), rows="r", says=says)


def drawn(draw: Callable[[xlsxwriter.Workbook, Any], None], **options: Any) -> bytes:
    """Return the true workbook after `draw` has changed it."""
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True} | options)
    sheet = book.add_worksheet("Referrals")
    fill(sheet, [list(CELLS), list(TYPED.values())], book.add_format({"num_format": "dd/mm/yy"}))
    draw(book, sheet)
    book.close()
    return out.getvalue()


def repacked(
    change: Callable[[str, bytes], bytes | None], *, swollen_mb: int = 0, **more: bytes
) -> bytes:
    """Return the true workbook with its parts changed (None: left out) and others added."""
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(workbook([TYPED]))) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            if (content := change(name, old.read(name))) is not None:
                new.writestr(name, content)
        for name, content in more.items():
            new.writestr(name, content)
        with new.open("xl/media/x", "w") as part:
            for _ in range(swollen_mb):
                part.write(bytes(1 << 20))
    return out.getvalue()


def same(name: str, content: bytes) -> bytes:
    return content


def with_laughs(name: str, content: bytes) -> bytes:
    """Put an entity that unfolds into many into the first cell of the sheet."""
    if name != "xl/sharedStrings.xml":
        return content
    text = content.decode().replace("<sst", f"{LAUGHS}<sst", 1)
    return text.replace("Zoëbeck", "&c;").encode()


def unfilled_formula() -> bytes:
    """A formula that no spreadsheet program has worked out."""
    book = openpyxl.Workbook()
    book.active.append(list(CELLS))
    book.active.append([*list(TYPED.values())[:-1], "=4+4"])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def far_below() -> bytes:
    """Rows that hold nothing but a format, far below the last one."""
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet()
    sheet.append(list(CELLS))
    sheet.append(list(TYPED.values()))
    out = io.BytesIO()
    book.save(out)
    below = b'<row r="1048000" ht="9" customHeight="1"><c r="A1048000"/></row></sheetData>'
    return _with_part(out.getvalue(), SHEET, lambda xml: xml.replace(b"</sheetData>", below))


def _with_part(content: bytes, part: str, change: Callable[[bytes], bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            new.writestr(name, change(old.read(name)) if name == part else old.read(name))
    return out.getvalue()


def formatted(text_format: str) -> Callable[[Any, Any], None]:
    """Show the pain score in another format."""

    def draw(book: Any, sheet: Any) -> None:
        sheet.write_number(1, 8, 0.08, book.add_format({"num_format": text_format}))

    return draw


def in_two_tones(book: Any, sheet: Any) -> None:
    sheet.write_rich_string(1, 2, "Zoë", book.add_format({"bold": True}), "beck")


def day_without_format(book: Any, sheet: Any) -> None:
    sheet.write_number(1, 5, 46450)


def blank_surroundings(book: Any, sheet: Any) -> None:
    shade = book.add_format({"bg_color": "#eeeeee"})
    for row in range(2, 60):
        for column in range(14):
            sheet.write_blank(row, column, None, shade)
    sheet.write_string(70, 12, "  ")


def filtered(book: Any, sheet: Any) -> None:
    sheet.set_row(1, None, None, {"hidden": True})


def hidden_besides(book: Any, sheet: Any) -> None:
    other = book.add_worksheet("Lists")
    fill(other, [["Hospital number", "Levels"], ["H1", "L1"]], None)
    other.hide()


def titled() -> bytes:
    """A title in the first row, the head in the third."""
    book = openpyxl.Workbook()
    for row in (["Referrals of March"], [], list(CELLS), list(TYPED.values())):
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def only_hidden(book: Any, sheet: Any) -> None:
    book.add_worksheet("Cover").activate()
    sheet.hide()


TWO_SHEETS = workbook([TYPED], more={"February": [list(CELLS), list(another().values())]})
HEAD_X = [f"X {name.split()[0]}" for name in CELLS]
MANY = [{"Hospital number": f"N{n}", "Levels": "L1"} for n in range(10_001)]

WORKBOOKS: list[Awkward] = [
    Awkward("workbook, all text", workbook([CELLS]), rows="n"),
    Awkward("workbook, dates and numbers as such", workbook([TYPED]), rows="n"),
    Awkward("workbook, days counted from 1904", drawn(lambda b, s: None, date_1904=True), rows="n"),
    Awkward(
        "workbook, month first declared, dates as such", workbook([TYPED]), order="mdy", rows="n"
    ),
    Awkward("text file named as a workbook", written([CELLS]), rows="n"),
    # --- values
    bad("workbook, time of day", "time of day", Referral_date=datetime(2027, 3, 4, 10, 42)),
    bad("workbook, hospital number as a number", "came as a number", Hospital_number=104711),
    bad("workbook, NHS Number as a number", "came as a number", NHS_Number=int(NHS)),
    bad("workbook, number as a power", "a spreadsheet has turned", Hospital_number="1.1E+11"),
    bad("workbook, telephone as a number", "came as a number", Telephone=1632960145),
    bad("workbook, address as a number", "came as a number", Address=12),
    bad("workbook, part of a point", "whole number", Pain_on_movement=7.5),
    bad("workbook, name as a date", "came as a date", Family_name=date(2027, 5, 1)),
    bad("workbook, name as yes or no", "came as a yes or no", Family_name=True),
    bad("workbook, level as a number", "not a level", Levels=1),
    bad("workbook, yes as a number", "write yes or no", Steroids=1),
    bad("workbook, date for a score", "whole number in figures", Pain_on_movement=date(2027, 8, 1)),
    Awkward(
        "workbook, yes as yes",
        workbook([TYPED | {"Steroids": True}], names=[*CELLS, "Steroids"]),
        rows="n",
    ),
    Awkward(
        "workbook, score in per cent", drawn(formatted("0%")), rows="r", says="without letters"
    ),
    Awkward("workbook, day number", drawn(day_without_format), rows="r", says="day number"),
    Awkward(
        "workbook, error of a formula",
        drawn(lambda b, s: s.write_formula(1, 8, "=1/0", None, "#DIV/0!")),
        rows="r",
        says="error of the spreadsheet",
    ),
    Awkward(
        "workbook, formula with its result",
        drawn(lambda b, s: s.write_formula(1, 8, "=4+4", None, 8)),
        rows="n",
    ),
    Awkward(
        "workbook, formula without its result",
        unfilled_formula(),
        rows="r",
        says="formula without its result",
    ),
    Awkward("workbook, name in two tones", drawn(in_two_tones), rows="n"),
    Awkward(
        "workbook, sign written by its number",
        repacked(lambda _, xml: xml.replace("Zoëbeck".encode(), "Zoë_x0062_eck_x000D_".encode())),
        rows="n",
    ),
    Awkward(
        "workbook, damaged letters",
        workbook([typed(Family_name="ZoÃ«beck")]),
        rows="r",
        says="damaged letters",
    ),
    Awkward(
        "workbook, dates as such and dates in figures",
        workbook([TYPED, another(Referral_date="13/02/2027", Onset_date="Feb 2027")]),
        refused="wrong order of day and month",
    ),
    Awkward(
        "workbook, dates in figures of another order",
        workbook([changed(Referral_date="02/13/2027")]),
        refused="is one when read month first",
    ),
    # --- sheets, rows and columns
    Awkward("workbook, blank surroundings", drawn(blank_surroundings), rows="n"),
    Awkward("workbook, row hidden by a filter", drawn(filtered), rows="n"),
    Awkward("workbook, hidden sheet besides", drawn(hidden_besides), rows="n"),
    Awkward("workbook, all hidden", drawn(only_hidden), refused="are hidden"),
    Awkward(
        "workbook, another sheet of other things",
        workbook([TYPED], more={"Notes": [["Done by", "On"], ["Ann", "Friday"]]}),
        rows="n",
    ),
    Awkward("workbook, two sheets", TWO_SHEETS, asks="sheet", sheet="Referrals", rows="n"),
    Awkward("workbook, sheet that is not there", TWO_SHEETS, asks="sheet", sheet="March"),
    Awkward(
        "workbook, merged cells",
        drawn(lambda b, s: s.merge_range("B3:B5", "x")),
        refused="The cells B3:B5 are merged",
    ),
    Awkward("workbook, title above the head", titled(), refused="above the names"),
    Awkward("workbook, head alone", workbook([]), refused="no rows below"),
    Awkward("workbook, nothing in it", workbook([], head=[]), refused="workbook is empty"),
    Awkward(
        "workbook, columns renamed",
        workbook([TYPED], head=HEAD_X),
        asks="columns",
        mapping=dict(zip(HEAD_X, CELLS, strict=True)),
        rows="n",
    ),
    Awkward(
        "workbook, column twice",
        workbook([TYPED], names=[*CELLS, "Levels"]),
        asks="columns",
        mapping=without("Levels") | {"Levels (column G)": "Levels", "Levels (column J)": ""},
        rows="n",
    ),
    Awkward(
        "workbook, something beside the table",
        drawn(lambda b, s: s.write_string(1, 10, "ask Ann")),
        asks="columns",
        mapping=SAME | {"no name (column J)": "", "no name (column K)": ""},
        rows="n",
    ),
    Awkward(
        "workbook, far to the right",
        drawn(lambda b, s: s.write_string(1, 900, "x")),
        refused="beyond column 300",
    ),
    Awkward(
        "workbook, too many rows", workbook(MANY, names=MANY[0]), refused="more than 10,000 rows"
    ),
    Awkward("workbook, formats far below", far_below(), refused="goes down to row 1048000"),
    # --- not a workbook that can be read
    Awkward("workbook of the old form", b"\xd0\xcf\x11\xe0" + b"\0" * 600, refused="old form"),
    Awkward(
        "workbook with a password",
        b"\xd0\xcf\x11\xe0" + b"\0" * 600 + "EncryptedPackage".encode("utf-16-le"),
        refused="protected by a password",
    ),
    Awkward(
        "workbook with macros", repacked(same, **{"xl/vbaProject.bin": b"x"}), refused="macros"
    ),
    Awkward(
        "binary workbook", repacked(same, **{"xl/workbook.bin": b"x"}), refused="binary workbook"
    ),
    Awkward(
        "workbook that looks into others",
        repacked(same, **{"xl/externalLinks/externalLink1.xml": b"<x/>"}),
        refused="from other workbooks",
    ),
    Awkward(
        "packed file of another kind",
        repacked(lambda name, content: None, **{"mimetype": b"text"}),
        refused="but no workbook",
    ),
    Awkward("workbook, cut off", workbook([TYPED])[:-300], refused="damaged, not complete"),
    Awkward(
        "workbook without its sheet",
        repacked(lambda name, content: None if name == SHEET else content),
        refused="empty",
    ),
    Awkward(
        "workbook that unpacks to 310 MB",
        repacked(same, swollen_mb=310),
        refused="200 MB of memory",
    ),
    Awkward(
        "workbook with entities that unfold", repacked(with_laughs), refused="holds declarations"
    ),
]
