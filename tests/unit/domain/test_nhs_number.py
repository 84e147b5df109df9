"""The NHS Number: what the published examples and slips say."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from register.domain.nhs_number import (
    check_digit,
    cleaned,
    formatted,
    is_nhs_number,
    is_test_number,
)


@pytest.mark.parametrize("number", ["9434765919", "943 476 5919", "943-476-5919", " 9990000018 "])
def test_a_right_number_may_be_spaced_or_dashed(number):
    assert is_nhs_number(number)


@pytest.mark.parametrize(
    "number",
    [
        "9434765918",  # wrong check digit
        "9991234560",  # printed as an example somewhere; its check value would be 10
        "9876544321",  # printed as an example somewhere; needs 2, not 1
        *(str(digit) * 10 for digit in range(10)),  # pass the arithmetic, are not numbers
        "943476591", "94347659190", "943476591O", "", "９４３４７６５９１９", "9434 76 59/19",
    ],
)  # fmt: skip
def test_a_wrong_number_is_refused(number):
    assert not is_nhs_number(number)


def test_ten_equal_digits_pass_the_arithmetic():
    assert all(check_digit(str(d) * 9) == d for d in range(10))


def test_no_number_has_the_check_value_ten():
    assert check_digit("999123456") is None


def test_a_number_is_shown_three_three_four():
    assert formatted("9990000018") == "999 000 0018"


def test_a_refusal_says_what_to_do():
    with pytest.raises(ValueError, match=r"ten digits.*Compare it with the letter"):
        cleaned("9990000019")


def test_the_reserved_range_starts_999():
    assert is_test_number("999 000 0018")
    assert not is_test_number("943 476 5919")
    assert not is_test_number("9990000019")


@given(digits=st.text("0123456789", min_size=10, max_size=10), place=st.integers(0, 9))
def test_one_mistyped_digit_is_always_noticed(digits, place):
    wrong = digits[:place] + str((int(digits[place]) + 1) % 10) + digits[place + 1 :]
    assert not (is_nhs_number(digits) and is_nhs_number(wrong))
