"""The NHS Number: pastes are cleaned, wrong digits refused, real numbers kept out of the demo."""

import pytest
from django.core.exceptions import ValidationError

from register.domain.nhs_number import check_digit, is_nhs_number
from register.forms.identifiers import NhsNumberField
from tests.factories import nhs_number

GOOD = "9990000018"
# Fifty pastes: what letters, labels, web pages and spreadsheets make of one number.
PASTED = [
    "9990000018", "999 000 0018", "999-000-0018", " 999 000 0018 ", "999 0000018", "9990 000018",
    "99 90 00 00 18", "999\u00a0000\u00a00018", "999 - 000 - 0018", "9 9 9 0 0 0 0 0 1 8",
    "999\u2011000\u20110018", "999\u2013000\u20130018", "\t9990000018\n", "999  000  0018",
    "999\u2009000\u20090018", "999\u202f000\u202f0018", "999\u2014000\u20140018",
    "999\u2010000\u20100018", "999\t000\t0018", "999 000-0018", "\r\n999 000 0018\r\n",
    "999\n000\n0018", "99900 00018", "9990-000-018",
]  # fmt: skip
REFUSED = {
    "999000001": "has ten digits, this has 9",
    "99900000188": "has ten digits, this has 11",
    "1": "has ten digits, this has 1",
    "000": "has ten digits, this has 3",
    "999 000 001": "has ten digits, this has 9",
    "999 000 0018 999 000 0018": "has ten digits, this has 20",
    "9990000019": "a digit is mistyped",
    "9990000081": "a digit is mistyped",
    "9999999999": "a digit is mistyped",
    "0000000000": "a digit is mistyped",
    "1111111111": "a digit is mistyped",
    "9990000108": "a digit is mistyped",
    "999O000018": "type the ten digits",
    "ABC/123456": "type the ten digits",
    "999.000.0018": "type the ten digits",
    "999_000_0018": "type the ten digits",
    "٩٩٩٠٠٠٠٠١٨": "type the ten digits",
    "９９９００００018": "type the ten digits",
    "9990000018x": "type the ten digits",
    "+9990000018": "type the ten digits",
    "NHS 9990000018": "type the ten digits",
    "(999) 000 0018": "type the ten digits",
    "9.99E+09": "type the ten digits",
    "9990000018.0": "type the ten digits",
    "=9990000018": "type the ten digits",
    "999,000,0018": "type the ten digits",
}


def message(text):
    with pytest.raises(ValidationError) as caught:
        NhsNumberField().clean(text)
    return caught.value.messages[0]


@pytest.mark.parametrize("text", PASTED, ids=map(ascii, PASTED))
def test_spaces_and_dashes_do_not_matter(text):
    assert NhsNumberField().clean(text) == GOOD


@pytest.mark.parametrize(("text", "advice"), REFUSED.items(), ids=map(ascii, REFUSED))
def test_anything_else_is_refused_with_what_to_do(text, advice):
    assert message(text).startswith("NHS Number: ")
    assert advice in message(text)


def test_fifty_pastes_are_tried():
    assert len({*PASTED, *REFUSED}) == 50


def test_every_single_wrong_digit_of_a_hundred_numbers_is_refused():
    numbers = [nhs_number(serial) for serial in range(1, 101)]
    wrong = [
        right[:i] + digit + right[i + 1 :]
        for right in numbers
        for i in range(10)
        for digit in "0123456789"
        if digit != right[i]
    ]
    assert len(wrong) == 9000
    assert all(message(text) for text in wrong)


def test_the_demonstration_takes_no_number_that_was_ever_issued(settings):
    real = f"400000000{check_digit('400000000')}"
    assert is_nhs_number(real)
    settings.REGISTER_DEMO = True
    assert "start with 999" in message(real)
    settings.REGISTER_DEMO = False
    assert NhsNumberField().clean(real) == real


def test_an_empty_box_is_no_number():
    assert NhsNumberField().clean("  ") == ""


def test_a_stored_number_is_shown_in_groups_and_a_typed_one_as_typed():
    field = NhsNumberField()
    assert field.prepare_value(GOOD) == "999 000 0018"
    assert field.prepare_value("999-00") == "999-00"
    assert not field.has_changed(GOOD, "999 000 0018")
    assert field.has_changed(GOOD, "999 000 0026")
