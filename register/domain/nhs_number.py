"""The NHS Number: ten digits with a check digit, written 3-3-4.

Published in the NHS Data Dictionary (modulus 11; read on several pages): the
first nine digits are weighted 10 to 2 and added; 11 minus the remainder of the
sum by 11 is the last digit, where 11 stands for 0 and 10 cannot be issued.
"""

from typing import Final

from register.domain.calculations import calculation

TEST_PREFIX: Final = "999"  # reserved, never issued: the demo uses nothing else
_SEPARATORS: Final = str.maketrans("", "", " \t\r\n-\u00a0\u2009\u202f\u2010\u2011\u2013\u2014")


def digits_of(text: str) -> str:
    """Return what was typed without spaces and dashes."""
    return text.translate(_SEPARATORS)


@calculation("nhs_number_valid", answer="valid")
def is_nhs_number(number: str) -> bool:
    """Return whether a text is an NHS Number; spaces and dashes may stand anywhere.

    Ten equal digits pass the arithmetic and are refused all the same.
    """
    digits = digits_of(number)
    if len(digits) != 10 or not (digits.isascii() and digits.isdigit()) or len(set(digits)) == 1:
        return False
    return check_digit(digits[:9]) == int(digits[9])


def check_digit(first_nine: str) -> int | None:
    """Return the check digit of nine digits; None when no NHS Number begins with them."""
    weighted = sum(
        int(digit) * weight for digit, weight in zip(first_nine, range(10, 1, -1), strict=True)
    )
    check = 11 - weighted % 11
    return None if check == 10 else check % 11


def formatted(number: str) -> str:
    """Return an NHS Number as it is read aloud: 999 000 0018. Raises ValueError if it is none."""
    digits = cleaned(number)
    return f"{digits[:3]} {digits[3:6]} {digits[6:]}"


def cleaned(number: str) -> str:
    """Return the ten digits of an NHS Number. Raises ValueError with what to do."""
    if not is_nhs_number(number):
        raise ValueError(
            "This is not an NHS Number: ten digits, the last of which checks the others. "
            "Compare it with the letter or the wristband."
        )
    return digits_of(number)


def is_test_number(number: str) -> bool:
    """Return whether an NHS Number comes from the range that is never issued (starts 999)."""
    return is_nhs_number(number) and digits_of(number).startswith(TEST_PREFIX)
