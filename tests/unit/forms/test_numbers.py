"""Numbers arrive as typed or not at all: every spelling is kept exactly or refused with advice."""

from decimal import Decimal

import pytest
from django import forms
from django.core.exceptions import ValidationError
from hypothesis import given
from hypothesis import strategies as st

from register.forms.numbers import StrictDecimalField, StrictIntegerField

HEIGHT = {
    "label": "Anterior height", "unit": "mm", "decimal_places": 1,
    "min_value": 0, "max_value": 60,
}  # fmt: skip

KEPT = ["0", "7", "12", "60", "0.5", "7.5", "12.0", "59.9", "0.0", "10.1"]
REFUSED = {
    # Digits of other scripts, which Python itself would read.
    "١٢": "use the digits 0 to 9",
    "７.5": "use the digits 0 to 9",
    "७": "use the digits 0 to 9",
    "1٢": "use the digits 0 to 9",
    "๗": "use the digits 0 to 9",
    # Commas and other separators.
    "7,5": "write a point instead of the comma",
    "12,0": "write a point instead of the comma",
    "1,000": "write a point instead of the comma",
    "1,000.5": "write it without separators",
    "1.000,5": "write it without separators",
    "1_000": "write it without separators",
    "1_0": "write it without separators",
    "1'000": "write it without separators",
    ",5": "write it without separators",
    # Blanks inside, also the thin and the unbreakable ones.
    "1 000": "write it without spaces",
    "1\u00a0000": "write it without spaces",
    "1\u202f000": "write it without spaces",
    "1 .5": "write it without spaces",
    # Signs.
    "+7": "write it without the plus sign",
    "−7": "write the minus sign as a plain hyphen",
    "–7": "write the minus sign as a plain hyphen",
    "-0": "write 0 without a minus sign",
    "-0.0": "write 0 without a minus sign",
    # Powers, names of numbers, units.
    "1e3": "write figures only",
    "1E3": "write figures only",
    "1.5e1": "write figures only",
    "0x10": "write figures only",
    "NaN": "write figures only",
    "inf": "write figures only",
    "Infinity": "write figures only",
    "12 mm": "write figures only",
    "12mm": "write figures only",
    "7°": "write figures only",
    "7 %": "write figures only",
    "seven": "write figures only",
    "O.5": "write figures only",
    "l2": "write figures only",
    # Points.
    ".5": "write a 0 before the point",
    "7.": "write a figure after the point",
    "7..5": "write one point only",
    "1.2.3": "write one point only",
    ".": "write it in figures",
    # A 0 in front is more often a point forgotten than a number meant.
    "05": "write it without the 0 in front",
    "007": "write it without the 0 in front",
    "00.5": "write it without the 0 in front",
    # Too precise: rounding would change it.
    "7.55": "write at most 1 figure after the point",
    "7.00": "write at most 1 figure after the point",
    "7.4999999": "write at most 1 figure after the point",
    # Not a number at all.
    "-": "write it in figures",
    "--7": "write it in figures",
    "7-8": "write it in figures",
    "7/10": "write it in figures",
    "~7": "write it in figures",
    "<7": "write it in figures",
    "(7)": "write it in figures",
    "=7": "write it in figures",
    "½": "write figures only",
    "7\x00": "write it in figures",
    "1" * 40: "write it in figures",
}  # fmt: skip


def message(field, text):
    with pytest.raises(ValidationError) as caught:
        field.clean(text)
    (words,) = caught.value.messages
    return words


@pytest.mark.parametrize("text", KEPT)
def test_a_plain_number_is_kept_to_its_last_figure(text):
    assert str(StrictDecimalField(**HEIGHT).clean(text)) == text


@pytest.mark.parametrize(("text", "advice"), REFUSED.items(), ids=[ascii(t)[:24] for t in REFUSED])
def test_any_other_spelling_is_refused_with_what_to_do(text, advice):
    words = message(StrictDecimalField(**HEIGHT), text)
    assert words.startswith("Anterior height: ")
    assert advice in words


@pytest.mark.parametrize("text", ["", "  ", "\t", None])
def test_an_empty_box_is_not_a_zero(text):
    assert StrictDecimalField(**HEIGHT, required=False).clean(text) is None
    assert message(StrictDecimalField(**HEIGHT), text) == "Anterior height: enter a number."


@pytest.mark.parametrize("text", [" 7.5", "7.5 ", "\t7.5\r\n"])
def test_blanks_around_a_number_do_not_matter(text):
    assert StrictDecimalField(**HEIGHT).clean(text) == Decimal("7.5")


@pytest.mark.parametrize("text", ["61", "60.1", "-1", "-0.5", "100000"])
def test_the_impossible_is_refused_with_its_range(text):
    words = message(StrictDecimalField(**HEIGHT), text)
    assert words == "Anterior height must be from 0 to 60 mm."


def test_one_sided_ranges_are_told_in_words():
    low = StrictDecimalField(label="Stay", unit="days", min_value=1)
    high = StrictDecimalField(label="T-score", max_value=5)
    assert message(low, "0") == "Stay must be 1 days or more."
    assert message(high, "6") == "T-score must be 5 or less."


@pytest.mark.parametrize("text", ["-2.5", "-10", "3"])
def test_a_minus_sign_is_taken_where_negative_numbers_exist(text):
    field = StrictDecimalField(label="T-score", decimal_places=1, min_value=-10, max_value=5)
    assert str(field.clean(text)) == text


@pytest.mark.parametrize("text", ["12.0", "7.5", "7.", "1,0", "1e1", "٣", "7 0"])
def test_a_whole_number_is_not_cut_out_of_something_else(text):
    field = StrictIntegerField(label="Pain", min_value=0, max_value=10)
    assert message(field, text).startswith("Pain: ")


@pytest.mark.parametrize(("text", "value"), [("0", 0), ("10", 10), (" 7 ", 7)])
def test_a_whole_number_is_an_int(text, value):
    kept = StrictIntegerField(label="Pain", min_value=0, max_value=10).clean(text)
    assert (kept, type(kept)) == (value, int)


@pytest.mark.parametrize("field", [StrictDecimalField(**HEIGHT), StrictIntegerField()])
def test_the_box_is_a_text_box_with_a_number_keyboard(field):
    class OneForm(forms.Form):
        box = field

    html = str(OneForm()["box"])
    assert 'type="text"' in html
    assert "inputmode=" in html
    assert 'type="number"' not in html


@given(st.decimals(min_value=-999, max_value=999, places=2))
def test_what_is_accepted_is_what_was_typed(number):
    text = str(number)
    field = StrictDecimalField(label="Number", decimal_places=2)
    if number == 0 and text.startswith("-"):
        message(field, text)
    else:
        assert str(field.clean(text)) == text


@given(st.text(max_size=12))
def test_any_text_is_refused_or_kept_never_changed(text):
    try:
        kept = StrictDecimalField(label="Number", required=False).clean(text)
    except ValidationError:
        return
    assert kept is None if not text.strip(" \t\r\n") else str(kept) == text.strip(" \t\r\n")
