"""Every awkward spelling in every box and column arrives exactly, or not at all."""

from datetime import date
from decimal import Decimal

import pytest

from register.drills import spellings
from register.forms.dates import ThreeBoxDateField
from register.forms.identifiers import NhsNumberField
from register.forms.numbers import StrictDecimalField
from tests.spellings import (
    DATES_READ,
    DATES_REFUSED,
    FILE_DATES,
    FILE_FIGURES,
    FILE_PARTS,
    FILE_REFUSED,
    NHS_PASTED,
    NHS_REFUSED,
    NUMBERS,
)


def test_no_spelling_arrives_changed(db):
    told: list[str] = []
    is_well = spellings.run(runs=1, seed=1, say=told.append)
    print("\n".join(told))
    assert is_well, told


def test_enough_spellings_are_tried():
    assert len(set(NUMBERS)) >= 200
    assert len(DATES_READ | DATES_REFUSED) >= 60
    assert len({*FILE_DATES, *FILE_FIGURES, *FILE_PARTS, *FILE_REFUSED}) >= 60
    assert len({*NHS_PASTED, *NHS_REFUSED}) >= 50


class Loose(StrictDecimalField):
    """Reads a comma as a point."""

    def to_python(self, value):
        return super().to_python(str(value).replace(",", "."))


class MonthFirst(ThreeBoxDateField):
    """Takes the day for the month where it can."""

    def clean(self, value):
        found = super().clean(value)
        return date(found.year, found.day, found.month) if found and found.day <= 12 else found


class Anything(NhsNumberField):
    """Checks no digit."""

    def to_python(self, value):
        return str(value).replace(" ", "")


@pytest.mark.parametrize(
    ("tried", "box"),
    [
        (spellings.numbers, Loose(label="Weight", decimal_places=1)),
        (spellings.numbers, StrictDecimalField()),
        (spellings.dates, MonthFirst(label="Seen")),
        (spellings.nhs_numbers, Anything()),
    ],
)
def test_a_box_that_reads_in_another_way_or_refuses_without_its_name_is_found(tried, box):
    found = tried([("a box", box)])
    assert found.wrong or found.unnamed


def test_a_column_that_cuts_a_number_is_found(monkeypatch):
    class Column:
        name, field, is_date = "Weight", "weight_kg", False

        def read(self, name, text, how):
            return Decimal(text.strip("+")) if text.strip("+").isascii() else spellings.REFUSED

    class Kind:
        code, columns = "x", (Column(),)

    monkeypatch.setattr(spellings, "KINDS", {"x": Kind})
    monkeypatch.setattr(spellings, "NUMBERS", ("7", "+7", "1"), raising=False)
    monkeypatch.setattr(spellings, "_tests", lambda: spellings)
    assert len(spellings.numbers_in_files().wrong) == 1
