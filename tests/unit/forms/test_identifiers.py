"""The NHS Number: pastes are cleaned, wrong digits refused, real numbers kept out of the demo."""

import pytest
from django.core.exceptions import ValidationError

from register.domain.nhs_number import check_digit, is_nhs_number
from register.forms.identifiers import NhsNumberField
from tests.factories import nhs_number
from tests.spellings import NHS_NUMBER, NHS_PASTED, NHS_REFUSED


def message(text):
    with pytest.raises(ValidationError) as caught:
        NhsNumberField().clean(text)
    return caught.value.messages[0]


@pytest.mark.parametrize("text", NHS_PASTED, ids=map(ascii, NHS_PASTED))
def test_spaces_and_dashes_do_not_matter(text):
    assert NhsNumberField().clean(text) == NHS_NUMBER


@pytest.mark.parametrize(("text", "advice"), NHS_REFUSED.items(), ids=map(ascii, NHS_REFUSED))
def test_anything_else_is_refused_with_what_to_do(text, advice):
    assert message(text).startswith("NHS Number: ")
    assert advice in message(text)


def test_fifty_pastes_are_tried():
    assert len({*NHS_PASTED, *NHS_REFUSED}) == 50


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
    assert field.prepare_value(NHS_NUMBER) == "999 000 0018"
    assert field.prepare_value("999-00") == "999-00"
    assert not field.has_changed(NHS_NUMBER, "999 000 0018")
    assert field.has_changed(NHS_NUMBER, "999 000 0026")
