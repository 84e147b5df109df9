"""The clock of a fracture: its age in days, the day the window closes, the age band.

The onset is day 0. An onset that is not known to the day gives a range of
ages, never a padded single day: "week" means seven days either way, "month"
and "year" the whole calendar month or year. The window is a number of days of
the protocol; the day it closes is the last day inside it. Its close prompts a
decision, never an operation.
"""

import calendar
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

from register.domain.protocol import ProtocolValues

WEEK: Final = timedelta(days=7)


class WindowState(StrEnum):
    """Where a fracture stands in the window."""

    INSIDE = "inside"
    LAST_DAY = "last_day"
    UNSURE = "unsure"
    CLOSED = "closed"
    NO_ONSET = "no_onset"

    @property
    def words(self) -> str:
        """The state as pages print it."""
        return {
            "inside": "inside the window",
            "last_day": "last day of the window",
            "unsure": "may be past the window",
            "closed": "past the window",
            "no_onset": "onset not recorded",
        }[self.value]


class AgeBand(StrEnum):
    """Acute, subacute, chronic: a common division without consensus; from memory."""

    ACUTE = "acute"
    SUBACUTE = "subacute"
    CHRONIC = "chronic"


@dataclass(frozen=True, slots=True)
class FractureAge:
    """Age in whole days: from the latest to the earliest day the onset can have been."""

    least_days: int
    most_days: int

    @property
    def words(self) -> str:
        """The age as people read it: "12 days", or "24 to 38 days"."""
        if self.least_days == self.most_days:
            return f"{self.least_days} day" + ("" if self.least_days == 1 else "s")
        return f"{self.least_days} to {self.most_days} days"


@dataclass(frozen=True, slots=True)
class Window:
    """Where a fracture stands on a day. The two days differ when the onset is not exact.

    `closes_on` is the earliest day the window can close, the one to plan by;
    both days and the age are None without an onset. `days_left` counts from the
    day asked about to `closes_on`: 0 on the last day, negative after it.
    """

    state: WindowState
    age: FractureAge | None
    closes_on: date | None
    closes_on_latest: date | None
    days_left: int | None


def onset_range(onset_on: date, precision: str) -> tuple[date, date]:
    """Return the earliest and latest day of an onset; a blank precision counts as "day".

    Raises ValueError for an unknown precision.
    """
    if precision in ("", "day"):
        return onset_on, onset_on
    if precision == "week":
        return onset_on - WEEK, onset_on + WEEK
    if precision == "month":
        last = calendar.monthrange(onset_on.year, onset_on.month)[1]
        return onset_on.replace(day=1), onset_on.replace(day=last)
    if precision == "year":
        return date(onset_on.year, 1, 1), date(onset_on.year, 12, 31)
    raise ValueError(f"{precision!r} does not say how exactly a day is known.")


def fracture_age(onset_on: date, precision: str, on: date) -> FractureAge:
    """Return the age on a day; the part of the range after that day cannot be and is left out.

    Raises ValueError when the whole range lies after the day.
    """
    earliest, latest = onset_range(onset_on, precision)
    if earliest > on:
        raise ValueError("The onset lies after this day. Check both days.")
    return FractureAge(max((on - latest).days, 0), (on - earliest).days)


def window(onset_on: date | None, precision: str, on: date, *, window_days: int) -> Window:
    """Return where a fracture stands in a window of `window_days`; that day still counts.

    Raises ValueError when the onset lies after the day asked about.
    """
    if onset_on is None:
        return Window(WindowState.NO_ONSET, None, None, None, None)
    age = fracture_age(onset_on, precision, on)
    first, last = (on + timedelta(days=window_days - d) for d in (age.most_days, age.least_days))
    return Window(_state(age, window_days), age, first, last, (first - on).days)


def _state(age: FractureAge, window_days: int) -> WindowState:
    if age.least_days > window_days:
        return WindowState.CLOSED
    if age.most_days > window_days:
        return WindowState.UNSURE
    return WindowState.LAST_DAY if age.most_days == window_days else WindowState.INSIDE


def age_band(days: int, values: ProtocolValues) -> AgeBand:
    """Return the band of an age in days; each bound belongs to the younger band."""
    if days <= values.days("clock.acute_until_days"):
        return AgeBand.ACUTE
    return AgeBand.SUBACUTE if days <= values.days("clock.subacute_until_days") else AgeBand.CHRONIC
