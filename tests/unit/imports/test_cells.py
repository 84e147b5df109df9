"""Cells read by the fields of forms: side by side, each refusal names its own column."""

from datetime import date

import pytest
from django.core.exceptions import ValidationError

from register.forms.numbers import StrictIntegerField
from register.imports import cells

HOW = cells.Reading(date_order="dmy", today=date(2027, 3, 7))


class Interrupted(StrictIntegerField):
    """In the middle of one cell another upload reads a cell under another name."""

    def to_python(self, value):
        if value == "first":
            with pytest.raises(cells.CellRefused, match=r"^Cement mL of L1: "):
                read("Cement mL of L1", "second", HOW)
        return super().to_python(value)


read = cells.number(Interrupted(label="Volume"))


def test_a_refusal_names_its_own_column_while_another_file_is_read():
    with pytest.raises(cells.CellRefused, match=r"^Cement mL of T12: write figures only"):
        read("Cement mL of T12", "first", HOW)


def test_reading_leaves_the_label_of_a_shared_field_alone():
    field = StrictIntegerField(label="Pain now", max_value=10, min_value=0)
    with pytest.raises(cells.CellRefused, match=r"^Worst pain "):
        cells.number(field)("Worst pain", "11", HOW)
    with pytest.raises(ValidationError, match="Pain now must be"):
        field.clean("11")


def test_an_nhs_number_is_refused_under_the_name_of_its_column():
    for name in ("NHS Number", "Number of the patient"):
        with pytest.raises(cells.CellRefused, match=f"^{name}: a digit is mistyped"):
            cells.nhs_number(name, "9990000019", HOW)
