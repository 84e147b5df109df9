"""What an audit was asked for: site, days, protocol. Frozen, and stored beside the rows."""

import calendar
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Any, Final, Self

from register.domain.days import day_words
from register.domain.protocol import ProtocolValue, ProtocolValues
from register.domain.timepoints import Timepoint
from register.domain.vocabulary import INSTRUMENT, words_for

BEFORE: Final = "before"  # the contact that holds the baseline


class Clock(StrEnum):
    """By which day something belongs to a period; every table names its clock."""

    DONE = "done"
    DUE = "due"

    @property
    def words(self) -> str:
        """The clock as tables print it."""
        return {
            Clock.DONE: "Clock: done, by the day of the procedure.",
            Clock.DUE: "Clock: due, by the day on which the window of the contact closed.",
        }[self]


@dataclass(frozen=True, slots=True)
class Period:
    """A stretch of days, both ends included; `first` is None for everything since the start."""

    code: str
    title: str
    first: date | None
    last: date

    def holds(self, day: date) -> bool:
        """Whether a day belongs to the period."""
        return (self.first is None or self.first <= day) and day <= self.last


@dataclass(frozen=True, slots=True)
class Spec:
    """One audit. `cut_off` is the last day whose records were read; `pain` the score reported.

    `measured` are values that the department found from its own repeat readings; they
    stand in the place of those of the protocol.
    """

    site: str
    first_day: date
    last_day: date
    cut_off: date
    protocol: ProtocolValues
    pain: str = "pain_moving"
    measured: tuple[ProtocolValue, ...] = ()

    def __post_init__(self) -> None:
        """Refuse days out of order. Raises ValueError."""
        if not self.first_day <= self.last_day <= self.cut_off:
            raise ValueError(
                "The first day, the last day and the data cut-off must follow one another; got "
                f"{day_words(self.first_day)}, {day_words(self.last_day)} and "
                f"{day_words(self.cut_off)}."
            )

    @property
    def quarter(self) -> Period:
        """The period of the audit itself."""
        return Period("quarter", self.title, self.first_day, self.last_day)

    @property
    def twelve_months(self) -> Period:
        """The year that ends with the audit's last day; the quarter is inside it."""
        title = f"twelve months to {day_words(self.last_day)}"
        return Period("twelve_months", title, _year_before(self.last_day), self.last_day)

    @property
    def before_quarter(self) -> Period:
        """The part of the twelve months before the quarter, to compare the quarter with."""
        last = self.first_day - timedelta(days=1)
        title = f"twelve months to {day_words(self.last_day)} without the quarter"
        return Period("before_quarter", title, _year_before(self.last_day), last)

    @property
    def since_start(self) -> Period:
        """Everything up to the audit's last day."""
        return Period("since_start", "since start", None, self.last_day)

    @property
    def title(self) -> str:
        """The period in words: January to March 2027, or two days."""
        return period_words(self.first_day, self.last_day)

    @property
    def contacts(self) -> tuple[Timepoint, ...]:
        """The contacts that the protocol asks for after the procedure, in order."""
        asked = [t for t in self.protocol.timepoints if t.asked and t.code != BEFORE]
        return tuple(sorted(asked, key=lambda t: t.target_days))

    @property
    def values(self) -> ProtocolValues:
        """The values of the protocol, those that the department measured itself in their place."""
        return self.protocol.with_entries(self.measured)

    @property
    def pain_words(self) -> str:
        """The score that is reported, as the vocabulary names it."""
        return words_for(INSTRUMENT, self.pain)

    def as_json(self) -> dict[str, Any]:
        """Return the whole spec, with its protocol, as plain JSON values."""
        return {
            "site": self.site,
            "first_day": self.first_day.isoformat(),
            "last_day": self.last_day.isoformat(),
            "cut_off": self.cut_off.isoformat(),
            "protocol": self.protocol.as_json(),
            "pain": self.pain,
            "measured": [value.as_json() for value in self.measured],
        }

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> Self:
        """Read back what `as_json` wrote, also before anything was measured here."""
        days = {
            key: date.fromisoformat(stored[key]) for key in ("first_day", "last_day", "cut_off")
        }
        protocol = ProtocolValues.from_json(stored["protocol"])
        measured = tuple(ProtocolValue.from_json(one) for one in stored.get("measured", []))
        return cls(
            site=stored["site"], protocol=protocol, pain=stored["pain"], measured=measured, **days
        )


def quarter_days(year: int, number: int) -> tuple[date, date]:
    """Return first and last day of a calendar quarter, 1 to 4."""
    if number not in (1, 2, 3, 4):
        raise ValueError(f"A year has the quarters 1 to 4; got {number}.")
    last_month = 3 * number
    last = date(year, last_month, calendar.monthrange(year, last_month)[1])
    return date(year, last_month - 2, 1), last


def quarter_of(day: date) -> tuple[date, date]:
    """Return the first and last day of the calendar quarter that holds a day."""
    return quarter_days(day.year, (day.month - 1) // 3 + 1)


def quarter_before(day: date) -> tuple[date, date]:
    """Return the first and last day of the last whole quarter before a day."""
    return quarter_of(quarter_of(day)[0] - timedelta(days=1))


def period_words(first: date, last: date) -> str:
    """Return January to March 2027 for whole months, otherwise the two days."""
    whole = first.day == 1 and last.day == calendar.monthrange(last.year, last.month)[1]
    if not whole:
        return f"{day_words(first)} to {day_words(last)}"
    start = calendar.month_name[first.month]
    if first.year != last.year:
        start = f"{start} {first.year}"
    elif first.month == last.month:
        return f"{start} {last.year}"
    return f"{start} to {calendar.month_name[last.month]} {last.year}"


def _year_before(last: date) -> date:
    """The first of the twelve months that end with `last`."""
    day = min(last.day, calendar.monthrange(last.year - 1, last.month)[1])
    return date(last.year - 1, last.month, day) + timedelta(days=1)
