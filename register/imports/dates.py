"""Dates in a file: one declared order for all of them, and nothing guessed.

Accepted under every order: 2027-03-04, and dates whose month is a word. A date
in figures is read in the declared order only. Two-figure years and day numbers
of a spreadsheet are refused.
"""

import re
from datetime import date
from typing import Final

from register.domain.days import MONTHS
from register.forms.dates import KnownDate

# How the parts of a date in figures follow each other, and the words for it.
ORDERS: Final = {"dmy": "day first", "mdy": "month first", "ymd": "year first"}
FIRST_YEAR: Final = 1880  # nobody alive was born before; common sense, no source

_MIDNIGHT: Final = re.compile(r"[T ]00:00(:00(\.0+)?)?Z?$")
_ISO: Final = re.compile(r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})")
_FIGURES: Final = re.compile(r"([0-9]{1,4})([/. -])([0-9]{1,2})\2([0-9]{1,4})")
_MONTH_WORD: Final = re.compile(r"(?:([0-9]{1,2})[ .-]*)?([A-Za-z]{3,9})\.?[ ,.-]*([0-9]{2,4})")
_WORD_FIRST: Final = re.compile(r"([A-Za-z]{3,9})\.? *([0-9]{1,2}),? +([0-9]{2,4})")
_MONTH_FIGURE: Final = re.compile(r"([0-9]{1,2})[/.-]([0-9]{4})")
_LONG_MONTHS: Final = (
    "january", "february", "march", "april", "may", "june", "july", "august",
    "september", "october", "november", "december",
)  # fmt: skip


class DateRefused(ValueError):
    """The words say which part of the date is wrong and what to do."""


class OtherOrder(DateRefused):
    """The date is impossible in the declared order and possible in another one."""


def read_date(text: str, order: str, *, may_be_uncertain: bool = False) -> KnownDate:
    """Return a date and how exactly it is known. Raises DateRefused, or OtherOrder.

    `order` is a code of ORDERS. With `may_be_uncertain` a month ("Mar 2027",
    03/2027) or a year is a date too; elsewhere both are refused.
    """
    text = _MIDNIGHT.sub("", text)
    if re.fullmatch(r"[0-9]+(\.[0-9]+)?", text) and not re.fullmatch(r"[0-9]{4}", text):
        raise DateRefused(
            f"{text} is a day number of a spreadsheet. Format the column as text, "
            "write the date as 04 Mar 2027, and send the file again."
        )
    if ":" in text:
        raise DateRefused(f"{text} holds a time of day. Write the day alone, as 04 Mar 2027.")
    known = _whole(text, order) or _part(text)
    if known is None:
        raise DateRefused(f"{text} is not a date. Write it as 04 Mar 2027.")
    if known.precision != "day" and not may_be_uncertain:
        raise DateRefused(f"{text} has no day. Write the whole date, as 04 Mar 2027.")
    return known


def in_figures(text: str) -> bool:
    """Whether a text is a date whose reading depends on the declared order."""
    found = _FIGURES.fullmatch(_MIDNIGHT.sub("", text))
    return found is not None and not _ISO.fullmatch(_MIDNIGHT.sub("", text))


def both_ways(text: str) -> bool:
    """Whether a date in figures makes another date when day and month change places."""
    found = _FIGURES.fullmatch(_MIDNIGHT.sub("", text))
    if found is None:
        return False
    parts = [part for part in found.groups() if part.isdecimal() and len(part) <= 2]
    return len(parts) == 2 and parts[0] != parts[1] and max(map(int, parts)) <= 12


def _whole(text: str, order: str) -> KnownDate | None:
    if found := _ISO.fullmatch(text):
        year, month, day = found.groups()
    elif found := _FIGURES.fullmatch(text):
        year, month, day = _by_order((found[1], found[3], found[4]), order, text)
    elif (found := _MONTH_WORD.fullmatch(text)) and found[1]:
        day, month, year = found.groups()
    elif found := _WORD_FIRST.fullmatch(text):
        month, day, year = found.groups()
    else:
        return None
    return KnownDate(_day(day, _month(month), _year(year, text)), "day")


def _part(text: str) -> KnownDate | None:
    """Return a month or a year; the stored day is the first, never to be shown."""
    if re.fullmatch(r"[0-9]{4}", text):
        return KnownDate(date(_year(text, text), 1, 1), "year")
    if found := _MONTH_FIGURE.fullmatch(text):
        return KnownDate(date(_year(found[2], text), _month(found[1]), 1), "month")
    if found := _MONTH_WORD.fullmatch(text):
        return KnownDate(date(_year(found[3], text), _month(found[2]), 1), "month")
    return None


def _by_order(parts: tuple[str, str, str], order: str, text: str) -> tuple[str, str, str]:
    """Return year, month, day of a date in figures, read in the declared order.

    Raises OtherOrder when only another order makes a date of it.
    """
    year, month, day = (parts[order.index(part)] for part in "ymd")
    if _is_day(year, month, day):
        return year, month, day
    for other, words in ORDERS.items():
        if other != order and _is_day(*(parts[other.index(part)] for part in "ymd")):
            raise OtherOrder(
                f"{text} is no date when read {ORDERS[order]}, but is one when read {words}."
            )
    return year, month, day


def _is_day(year: str, month: str, day: str) -> bool:
    if len(year) != 4 or len(month) > 2 or len(day) > 2:
        return False
    try:
        date(int(year), int(month), int(day))
    except ValueError:
        return False
    return True


def _year(text: str, whole: str) -> int:
    if len(text) != 4:
        raise DateRefused(f"{whole} has no four-figure year. Write the year with four figures.")
    if int(text) < FIRST_YEAR:
        raise DateRefused(f"{whole}: the year must be {FIRST_YEAR} or later.")
    return int(text)


def _month(text: str) -> int:
    if text.isdecimal():
        if 1 <= int(text) <= 12:
            return int(text)
        raise DateRefused(f"There is no month {int(text)}. Write the month as a word.")
    fits = [n for n, name in enumerate(_LONG_MONTHS, 1) if name.startswith(text.lower())]
    if len(fits) == 1:
        return fits[0]
    raise DateRefused(f"“{text}” is not a month. Write it as a word such as Mar.")


def _day(text: str, month: int, year: int) -> date:
    try:
        return date(year, month, int(text))
    except ValueError:
        raise DateRefused(
            f"There is no day {int(text)} in {MONTHS[month - 1]} {year}. Correct the date."
        ) from None
