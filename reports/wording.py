"""How reports write numbers. Pure text: nothing is rounded anywhere else before printing."""

from decimal import ROUND_HALF_UP, Decimal
from typing import Final

MINUS: Final = "\N{MINUS SIGN}"
THIN: Final = "\N{NARROW NO-BREAK SPACE}"
NO_BREAK: Final = "\N{NO-BREAK SPACE}"
NONE: Final = "\N{EN DASH}"
INTERVAL: Final = f"95{THIN}%{NO_BREAK}interval"
FROM_HUNDRED: Final = 100  # from this denominator on, percentages carry one decimal


def fixed(value: float | Decimal | None, digits: int = 0) -> str:
    """Return a number with a fixed count of decimals, halves rounded up; a dash for None.

    A value that rounds to nought is printed without a sign.
    """
    if value is None:
        return NONE
    step = Decimal(1).scaleb(-digits)
    rounded = abs(Decimal(str(value))).quantize(step, rounding=ROUND_HALF_UP)
    return f"{MINUS if value < 0 and rounded else ''}{rounded}"


def signed(value: float | Decimal | None, digits: int = 0) -> str:
    """Return a change: always with its sign, except nought."""
    text = fixed(value, digits)
    plus = value is not None and value > 0 and Decimal(text) != 0
    return f"+{text}" if plus else text


def percent(fraction: float | None, of: int) -> str:
    """Return 0.3077 as 31 %, or as 30.8 % when the denominator `of` is 100 or more."""
    return NONE if fraction is None else f"{percent_number(fraction, of)}{THIN}%"


def percent_number(fraction: float, of: int) -> str:
    """Return the figure of a percentage without its sign."""
    return fixed(Decimal(str(fraction)) * 100, 1 if of >= FROM_HUNDRED else 0)


def span(lower: float | None, upper: float | None, digits: int = 0) -> str:
    """Return limits as "3.3 to 4.9"; a dash when there are none."""
    if lower is None or upper is None:
        return NONE
    return f"{fixed(lower, digits)} to {fixed(upper, digits)}"


def percent_span(lower: float | None, upper: float | None, of: int) -> str:
    """Return limits given as fractions as "17 to 47 %"; a dash when there are none."""
    if lower is None or upper is None:
        return NONE
    return f"{percent_number(lower, of)} to {percent_number(upper, of)}{THIN}%"


def count(number: int, one: str, many: str = "") -> str:
    """Return "1 level" or "3 levels"; `many` for words that do not simply take an s."""
    return f"{number}{NO_BREAK}{one if number == 1 else many or one + 's'}"


def listed(words: list[str]) -> str:
    """Return "a, b and c"."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"
