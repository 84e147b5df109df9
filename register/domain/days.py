"""Days in words, the same on screen, in PDFs and in the sentences of rules: 07 Mar 2027."""

from datetime import date
from typing import Final

MONTHS: Final = (
    "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
)  # fmt: skip
NOT_RECORDED: Final = "not recorded"


def day_words(value: date | None) -> str:
    """Return 07 Mar 2027 whatever the computer's language; "not recorded" for None."""
    if value is None:
        return NOT_RECORDED
    return f"{value.day:02d} {MONTHS[value.month - 1]} {value.year:04d}"


def known_words(value: date | None, precision: str) -> str:
    """Return a day no finer than it is known: Mar 2027 for "month", 2027 for "year".

    `precision` is a code of vocabulary.DATE_PRECISION; a blank one counts as "day".
    """
    if value is None:
        return NOT_RECORDED
    if precision == "month":
        return f"{MONTHS[value.month - 1]} {value.year:04d}"
    if precision == "year":
        return f"{value.year:04d}"
    return f"about {day_words(value)}" if precision == "week" else day_words(value)


def precision_of(name: str) -> str:
    """Return the name of the column that says how exactly the day of a column is known."""
    return f"{name.removesuffix('_on')}_precision"


def age_years(born: date, on: date) -> int:
    """Return completed years; somebody born on 29 February completes one on 1 March."""
    return on.year - born.year - ((on.month, on.day) < (born.month, born.day))
