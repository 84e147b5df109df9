"""From a line of cells to what a referral says, or to all reasons why it cannot be read."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any, Final

from register.domain.days import day_words
from register.forms.dates import KnownDate
from register.imports.cells import Absent, CellRefused, OrderDoubted, Reading, reason_in
from register.imports.columns import COLUMNS, NAMES, Column, Head, head_of
from register.imports.decoding import FileRefused, text_of
from register.imports.table import Line, table_of

OLDEST_YEARS: Final = 120  # nobody lives longer; common sense, no source
SPREADSHEET_ERRORS: Final = frozenset(
    ("#N/A", "#NAME?", "#REF!", "#VALUE!", "#DIV/0!", "#NUM!", "#NULL!", "#SPILL!")
)


@dataclass(frozen=True, slots=True)
class ReferralRow:
    """What one row says. Only what is given is in the maps; `absent` maps hold the reasons."""

    number: int
    patient: Mapping[str, Any]
    referral: Mapping[str, Any]
    levels: tuple[str, ...]
    fracture: Mapping[str, Any]
    phone: str = ""
    drugs: tuple[tuple[str, str], ...] = ()
    laboratory: Mapping[str, Decimal] = field(default_factory=dict)
    taken_on: date | None = None

    def says_the_same_as(self, other: "ReferralRow") -> bool:
        """Whether both rows give the same values."""
        names = [name for name in self.__slots__ if name != "number"]
        return all(getattr(self, name) == getattr(other, name) for name in names)


@dataclass(frozen=True, slots=True)
class ReadLine:
    """One line of the file: its cells as they came, and the row or the reasons against it."""

    number: int
    cells: tuple[str, ...]
    row: ReferralRow | None
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ReadFile:
    """A whole file, read. Nothing has been compared with the register yet."""

    head: Head
    names: tuple[str, ...]
    lines: tuple[ReadLine, ...]
    delimiter: str
    date_order: str

    @property
    def rows(self) -> list[ReferralRow]:
        """The rows that could be read."""
        return [line.row for line in self.lines if line.row is not None]


def read_file(content: bytes, *, date_order: str, today: date) -> ReadFile:
    """Read a referral file. Raises FileRefused when the file as a whole cannot be trusted."""
    table = table_of(text_of(content), NAMES)
    head = head_of(table.head)
    if not table.lines:
        raise FileRefused("The file has a head and no rows below it. Choose the file again.")
    how = Reading(date_order, today)
    lines = tuple(_read_line(line, head, how) for line in table.lines)
    return ReadFile(head, table.head, lines, table.delimiter, date_order)


def _read_line(line: Line, head: Head, how: Reading) -> ReadLine:
    width = len(head.places)
    if len(line.cells) < width or any(line.cells[width:]):
        reason = (
            f"The row has {len(line.cells)} cells, the head {width}. A text that holds the "
            "separator must stand in quotation marks."
        )
        return ReadLine(line.number, line.cells, None, (reason,))
    values, reasons = _values(line, head, how)
    if not reasons:
        reasons = _contradictions(values)
    row = None if reasons else _row(line.number, values)
    return ReadLine(line.number, line.cells, row, tuple(reasons))


Values = dict[tuple[str, str], Any]


def _values(line: Line, head: Head, how: Reading) -> tuple[Values, list[str]]:
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
        for column in COLUMNS
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


def _contradictions(values: Values) -> list[str]:
    """Return what two cells of a row say against each other."""
    born = values["patient", "date_of_birth"]
    referred = values["referral", "referred_on"]
    onset = values.get(("referral", "onset_on"))
    taken = values.get(("laboratory", "taken_on"))
    found = []
    if referred < born:
        found.append(f"Referral date: {day_words(referred)} is before the date of birth.")
    if referred.year - born.year > OLDEST_YEARS:
        found.append(f"Date of birth: {day_words(born)} makes the patient over {OLDEST_YEARS}.")
    if isinstance(onset, KnownDate) and onset.on > referred:
        found.append(f"Onset date: {day_words(onset.on)} is after the referral date.")
    if isinstance(onset, KnownDate) and onset.on.year < born.year:
        found.append(f"Onset date: {onset.on.year} is before the date of birth.")
    if taken is None and any(part == "laboratory" for part, _ in values):
        found.append("Blood test date is empty. It is needed beside a blood value.")
    return found


def _row(number: int, values: Values) -> ReferralRow:
    parts: dict[str, dict[str, Any]] = {
        name: {} for name in ("patient", "referral", "fracture", "laboratory", "phone", "drugs")
    }
    for (part, name), value in values.items():
        if isinstance(value, Absent):
            home = parts["referral" if part == "drugs" else part]
            home.setdefault("absent", {})[name] = value.reason
        elif isinstance(value, KnownDate):
            parts[part] |= {name: value.on, name.replace("_on", "_precision"): value.precision}
        else:
            parts[part][name] = value
    drugs = parts["drugs"].get("takes_antithrombotics")
    if drugs is not None:
        parts["referral"]["takes_antithrombotics"] = bool(drugs)
    return ReferralRow(
        number=number,
        patient=parts["patient"],
        referral=parts["referral"],
        levels=parts["fracture"].pop("levels"),
        fracture=parts["fracture"],
        phone=parts["phone"].get("number", ""),
        drugs=drugs or (),
        taken_on=parts["laboratory"].pop("taken_on", None),
        laboratory=parts["laboratory"],
    )
