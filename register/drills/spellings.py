"""Every awkward spelling in every box for a number, a date or an NHS Number, and in files.

The spellings stand in the tests (spellings.py), each date with the day that is meant. Boxes
are those of every form of every page, of forms that no page shows just now, and the columns
of every kind of file.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from importlib import import_module
from typing import Any, Final

from django import forms
from django.core.exceptions import ValidationError
from django.test.utils import setup_test_environment, teardown_test_environment

from register.domain.scores import INSTRUMENTS
from register.forms.dates import KnownDate, ThreeBoxDateField
from register.forms.identifiers import NhsNumberField
from register.forms.numbers import StrictDecimalField
from register.imports.cells import CellRefused, Reading, uncertain_date
from register.imports.column import Column
from register.imports.dates import ORDERS
from register.imports.kinds import KINDS

RUNS: Final = 1  # nothing is drawn by lot
TODAY: Final = date(2100, 1, 1)  # for files: no spelling is refused for lying ahead
REFUSED: Final = object()
Box = tuple[str, forms.Field]
Try = Callable[[str], Any]


@dataclass(slots=True)
class Figures:
    """What became of some spellings in some boxes."""

    words: str
    boxes: int = 0
    spellings: int = 0
    taken: int = 0
    refused: int = 0
    wrong: list[str] = field(default_factory=list)
    unnamed: list[str] = field(default_factory=list)

    def note(self, box: str, typed: Any, value: Any, meant: Any) -> None:
        """Count one try. `meant` is REFUSED for a spelling that must not be taken."""
        if value is REFUSED:
            self.refused += 1
            return
        self.taken += 1
        if value != meant:
            self.wrong.append(f"{box}: {typed!r} is taken as {value!r}")

    @property
    def told(self) -> str:
        return (
            f"{self.words}: {self.spellings} spellings x {self.boxes}, "
            f"{self.taken + self.refused} tries: {self.taken - len(self.wrong)} taken exactly, "
            f"{self.refused} refused, {len(self.wrong)} taken and changed."
        )


def run(*, runs: int, seed: int, say: Callable[[str], None]) -> bool:
    """Try everything everywhere and tell the figures; True when nothing arrived changed."""
    boxes = boxes_of_all_forms()
    found = [
        numbers(boxes),
        numbers_in_files(),
        dates(boxes),
        *(dates_in_files(order) for order in ORDERS),
        nhs_numbers(boxes),
        nhs_numbers_in_files(),
    ]
    for figures in found:
        say(figures.told)
        for line in (*figures.wrong[:20], *figures.unnamed[:20]):
            say(f"  {line}")
    return all(one.boxes and one.taken and not one.wrong and not one.unnamed for one in found)


def boxes_of_all_forms() -> list[Box]:
    """Return every box of every form by page, form and name; it makes one of every record."""
    pages = import_module("tests.pages")
    is_ours = not hasattr(import_module("django.test.utils")._TestState, "saved_data")
    if is_ours:
        setup_test_environment()
    try:
        shown = list(pages.forms_seen())
    finally:
        if is_ours:
            teardown_test_environment()
    boxes = [
        (f"{page.name}, {type(form).__name__}.{name}", box)
        for page, form in shown
        for name, box in form.fields.items()
    ]
    there = {type(form) for _, form in shown}
    others = [
        (f"{kind.__name__}.{name}", box)
        for kind in set(_kinds_of(forms.BaseForm)) - there
        for name, box in getattr(kind, "base_fields", {}).items()
    ]
    return boxes + sorted(others, key=lambda box: box[0])


def numbers(boxes: Iterable[Box]) -> Figures:
    """Type every spelling into every number box; a refusal must name its box."""
    found, spellings = Figures("Numbers in boxes"), _tests().NUMBERS
    found.spellings = len(spellings)
    for where, box in boxes:
        if isinstance(box, StrictDecimalField):
            found.boxes += 1
            for text in spellings:
                found.note(where, text, _number(_typed(box, text, found)), text.strip(" \t\r\n"))
    return found


def numbers_in_files() -> Figures:
    """Send every spelling in every column that holds a number."""
    found, spellings = Figures("Numbers in columns of files"), _tests().NUMBERS
    found.spellings = len(spellings)
    for where, column in _columns():
        if type(_sent(column, "1", "dmy")) in (int, Decimal) or _takes_number(column):
            found.boxes += 1
            for text in filter(None, map(_cell, spellings)):
                value = _number(_sent(column, text, "dmy"))
                found.note(where, text, value, _by_word(column, text))
    return found


def dates(boxes: Iterable[Box]) -> Figures:
    """Type every spelling into the three boxes of every date, whatever days it allows."""
    found, tests = Figures("Dates in three boxes"), _tests()
    spellings = [*tests.DATES_READ, *tests.DATES_REFUSED]
    found.spellings = len(spellings)
    for where, box in boxes:
        if isinstance(box, ThreeBoxDateField):
            found.boxes += 1
            for typed in spellings:
                value = _typed(box, [*typed, False], found)
                found.note(where, typed, value, _meant(typed, box))
    return found


def dates_in_files(order: str) -> Figures:
    """Send every spelling in every column that holds a date, in one declared order."""
    found, tests = Figures(f"Dates in columns of files, {ORDERS[order]}"), _tests()
    meant: dict[str, Any] = dict.fromkeys(tests.FILE_REFUSED, REFUSED)
    meant |= dict(tests.FILE_DATES)
    meant |= {text: days.get(order, REFUSED) for text, days in tests.FILE_FIGURES.items()}
    found.spellings = len(meant) + len(tests.FILE_PARTS)
    for where, column in _columns():
        if column.is_date:
            found.boxes += 1
            parts = tests.FILE_PARTS if column.read is uncertain_date else {}
            parts = dict.fromkeys(tests.FILE_PARTS, REFUSED) | parts
            for text, day in (meant | parts).items():
                found.note(where, text, _day(_sent(column, text, order)), day)
    return found


def nhs_numbers(boxes: Iterable[Box]) -> Figures:
    """Paste every spelling into every box for an NHS Number."""
    found, tests = Figures("NHS Numbers in boxes"), _tests()
    spellings = [*tests.NHS_PASTED, *tests.NHS_REFUSED]
    found.spellings = len(spellings)
    for where, box in boxes:
        if isinstance(box, NhsNumberField):
            found.boxes += 1
            for text in spellings:
                found.note(where, text, _typed(box, text, found), _nhs_number(text))
    return found


def nhs_numbers_in_files() -> Figures:
    """Send every spelling in every column that holds an NHS Number."""
    found, tests = Figures("NHS Numbers in columns of files"), _tests()
    spellings = [*tests.NHS_PASTED, *tests.NHS_REFUSED]
    found.spellings = len(spellings)
    for where, column in _columns():
        if column.field == "nhs_number":
            found.boxes += 1
            for text in spellings:
                found.note(where, text, _sent(column, text, "dmy"), _nhs_number(text))
    return found


def _tests() -> Any:
    return import_module("tests.spellings")


def _kinds_of(kind: Any) -> Iterator[Any]:
    """Yield every form of the register, at any depth."""
    for below in kind.__subclasses__():
        if below.__module__.partition(".")[0] in ("register", "planning", "reports"):
            yield below
        yield from _kinds_of(below)


def _columns() -> Iterator[tuple[str, Column]]:
    for kind in KINDS.values():
        for column in kind.columns:
            yield f"{kind.code}, {column.name}", column


def _takes_number(column: Column) -> bool:
    """Whether a column that refuses 1 takes another plain number."""
    return any(type(_sent(column, text, "dmy")) in (int, Decimal) for text in ("25", "100", "1.5"))


def _typed(box: forms.Field, typed: Any, found: Figures) -> Any:
    """Return what a box makes of a spelling, whatever range it allows."""
    try:
        return box.clean(typed)
    except ValidationError as refusal:
        if not refusal.messages[0].startswith(str(box.label)):
            found.unnamed.append(f"{typed!r} is refused without the name of the box: {refusal}")
        return REFUSED


def _sent(column: Column, text: str, order: str) -> Any:
    """Return what a column makes of a cell."""
    try:
        return column.read(column.name, _cell(text), Reading(order, TODAY))
    except CellRefused:
        return REFUSED


def _cell(text: str) -> str:
    """Return a text as the cells of a file arrive; blank ones are not read at all."""
    return text.replace("\xa0", " ").strip()


def _by_word(column: Column, text: str) -> str:
    """Return what a cell means: a scale may be answered by its words, "none" for step 0."""
    scale = INSTRUMENTS[column.field].answers if column.field in INSTRUMENTS else ()
    return next((figure for figure, word in scale if word == text.casefold()), text)


def _number(value: Any) -> Any:
    """Return a number by its figures, so that 7.0 is not 7 and 1E+1 is not 10."""
    return value if value is REFUSED else str(value)


def _day(value: Any) -> Any:
    """Return a day that is known as a day alone, else with its precision."""
    if isinstance(value, KnownDate):
        return value.on if value.precision == "day" else (value.on, value.precision)
    return value


def _meant(typed: tuple[str, ...], box: ThreeBoxDateField) -> Any:
    """Return what three boxes mean; REFUSED for nothing that can be kept."""
    read = _tests().DATES_READ
    day, month, year = (part.strip() for part in typed)
    if typed in read:
        return KnownDate(read[typed], "day") if box.may_be_uncertain else read[typed]
    if box.may_be_uncertain and not day and year == "2027" and month in ("", "3"):
        return KnownDate(date(2027, int(month or 1), 1), "month" if month else "year")
    return REFUSED


def _nhs_number(text: str) -> Any:
    tests = _tests()
    return tests.NHS_NUMBER if text in tests.NHS_PASTED else REFUSED
