"""Dates in three boxes: sixty spellings, none of them read as another day."""

from datetime import date

import pytest
from django import forms
from django.core.exceptions import ValidationError
from hypothesis import given
from hypothesis import strategies as st

from register.domain.days import MONTHS
from register.forms.dates import KnownDate, ThreeBoxDateField
from tests.spellings import DATES_READ as READ
from tests.spellings import DATES_REFUSED as REFUSED

TODAY = date(2027, 3, 7)


def problem(field, boxes):
    with pytest.raises(ValidationError) as caught:
        field.clean(list(boxes))
    return caught.value.code, caught.value.message


@pytest.mark.parametrize(("boxes", "day"), READ.items())
def test_a_real_date_is_read_day_first(boxes, day):
    assert ThreeBoxDateField(label="Date seen").clean(list(boxes)) == day


@pytest.mark.parametrize(("boxes", "expected"), REFUSED.items(), ids=map(ascii, REFUSED))
def test_anything_else_names_the_box_and_the_rule(boxes, expected):
    code, words = problem(ThreeBoxDateField(label="Date seen"), boxes)
    assert code == expected[0]
    assert words.startswith("Date seen: ")
    assert expected[1] in words


def test_all_boxes_empty_is_no_date():
    assert ThreeBoxDateField(required=False).clean(["", "", ""]) is None
    assert ThreeBoxDateField(required=False).clean(None) is None
    assert problem(ThreeBoxDateField(label="Date seen"), ["", " ", ""]) == (
        "day",
        "Date seen: enter the date.",
    )


def test_limits_are_told_with_their_day_and_its_meaning():
    field = ThreeBoxDateField(
        label="Date seen",
        earliest=date(2027, 2, 9),
        earliest_words="the day of onset",
        latest=lambda: TODAY,
        latest_words="today",
    )
    assert field.clean(["9", "2", "2027"]) == date(2027, 2, 9)
    assert field.clean(["7", "3", "2027"]) == TODAY
    assert problem(field, ["8", "3", "2027"])[1] == (
        "Date seen: must be on or before 07 Mar 2027 (today)."
    )
    assert problem(field, ["8", "2", "2027"])[1] == (
        "Date seen: must be on or after 09 Feb 2027 (the day of onset)."
    )


UNCERTAIN = {
    ("7", "3", "2027", False): KnownDate(date(2027, 3, 7), "day"),
    ("7", "3", "2027", True): KnownDate(date(2027, 3, 7), "week"),
    ("", "3", "2027", False): KnownDate(date(2027, 3, 1), "month"),
    ("", "", "2027", False): KnownDate(date(2027, 1, 1), "year"),
}


@pytest.mark.parametrize(("boxes", "known"), UNCERTAIN.items())
def test_an_uncertain_date_keeps_how_exactly_it_is_known(boxes, known):
    field = ThreeBoxDateField(may_be_uncertain=True)
    assert field.clean(list(boxes)) == known


@pytest.mark.parametrize(("boxes", "known"), UNCERTAIN.items())
def test_an_uncertain_date_comes_back_into_its_boxes(boxes, known):
    shown = ThreeBoxDateField(may_be_uncertain=True).widget.decompress(known)
    assert ThreeBoxDateField(may_be_uncertain=True).clean(shown) == known
    assert [bool(box) for box in shown] == [bool(box) for box in boxes]


@pytest.mark.parametrize(
    ("boxes", "code"), [(["7", "", "2027", False], "month"), (["", "3", "2027", True], "about")]
)
def test_an_uncertain_date_has_no_holes(boxes, code):
    assert problem(ThreeBoxDateField(may_be_uncertain=True), boxes)[0] == code


def test_the_month_of_the_limit_is_not_refused_for_its_first_day():
    field = ThreeBoxDateField(may_be_uncertain=True, earliest=date(2027, 2, 9), latest=TODAY)
    assert field.clean(["", "2", "2027", False]).precision == "month"
    assert field.clean(["", "", "2027", False]).precision == "year"
    assert problem(field, ["", "1", "2027", False])[0] == "month"
    assert problem(field, ["", "4", "2027", False])[0] == "month"


@given(st.dates(min_value=date(1880, 1, 1), max_value=date(2199, 12, 31)))
def test_every_day_survives_the_boxes(day):
    field = ThreeBoxDateField()
    boxes = field.widget.decompress(day)
    assert boxes[1] in MONTHS
    assert field.clean(boxes) == day
    assert not field.has_changed(day, [str(day.day), str(day.month), str(day.year)])


def test_the_boxes_have_names_labels_and_keep_what_was_typed():
    class OneForm(forms.Form):
        seen = ThreeBoxDateField(label="Date seen")

    form = OneForm({"seen_day": "31", "seen_month": "feb", "seen_year": "27"})
    assert form.errors["seen"] == ["Date seen: enter the year with four figures, for example 2027."]
    html = str(form["seen"])
    assert all(f'value="{typed}"' in html for typed in ("31", "feb", "27"))
    assert "maxlength" not in html
