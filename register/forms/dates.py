"""Dates typed into three boxes: day, month as word or number, year with four figures."""

import re
from calendar import monthrange
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final, NoReturn

from django import forms
from django.core.exceptions import ValidationError

from register.domain.days import MONTHS, day_words

_LONG_MONTHS: Final = (
    "january", "february", "march", "april", "may", "june", "july", "august",
    "september", "october", "november", "december",
)  # fmt: skip
_UNCERTAIN_HELP: Final = "Leave empty what is not known: the day, or day and month."
_FIRST_YEAR: Final = 1880  # nobody alive was born before; common sense, no source
Limit = date | Callable[[], date] | None


@dataclass(frozen=True, slots=True)
class KnownDate:
    """A date and how exactly it is known (a code of vocabulary.DATE_PRECISION).

    With "month" or "year", `on` is the first day of it: a place to store, never
    to show or to count from. Read it with days.known_words and clock.onset_range.
    """

    on: date
    precision: str


class ThreeBoxes(forms.MultiWidget):
    """Three text boxes. Nothing jumps by itself and nothing is cut short."""

    use_fieldset = True
    parts: tuple[tuple[str, str], ...] = (("day", "Day"), ("month", "Month"), ("year", "Year"))

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        plain = {"autocomplete": "off"}
        boxes: dict[str, forms.Widget | type[forms.Widget]] = {
            "day": forms.TextInput({**plain, "inputmode": "numeric", "class": "box--2"}),
            "month": forms.TextInput({**plain, "class": "box--month"}),
            "year": forms.TextInput({**plain, "inputmode": "numeric", "class": "box--4"}),
        }
        super().__init__(boxes | self.more_boxes(), attrs)

    def more_boxes(self) -> dict[str, forms.Widget | type[forms.Widget]]:
        """What stands after the year; nothing here."""
        return {}

    def decompress(self, value: Any) -> list[Any]:
        """Spread a stored date over the boxes, the month as a word."""
        known = KnownDate(value, "day") if isinstance(value, date) else value
        if not isinstance(known, KnownDate):
            return ["", "", ""]
        boxes = [str(known.on.day), MONTHS[known.on.month - 1], f"{known.on.year:04d}"]
        finest = {"year": 2, "month": 1}.get(known.precision, 0)
        return ["" if place < finest else box for place, box in enumerate(boxes)]

    def value_omitted_from_data(self, data: Mapping[str, Any], files: Any, name: str) -> bool:
        """Whether none of the boxes was on the page."""
        return all(f"{name}_{part}" not in data for part, _ in self.parts)


class AboutBoxes(ThreeBoxes):
    """The three boxes and a tick for "give or take a week"."""

    parts = (*ThreeBoxes.parts, ("about", "Give or take a week"))

    def more_boxes(self) -> dict[str, forms.Widget | type[forms.Widget]]:
        """The tick."""
        return {"about": forms.CheckboxInput()}

    def decompress(self, value: Any) -> list[Any]:
        """Spread a stored date, and tick the box for a precision of a week."""
        is_about = isinstance(value, KnownDate) and value.precision == "week"
        return [*super().decompress(value), is_about]


class ThreeBoxDateField(forms.Field):
    """A date in three boxes; the message names the box and the rule.

    `earliest` and `latest` are days or functions that return one, each with the
    words that say what they are ("today", "the day of the injury"). With
    `may_be_uncertain` the day, or day and month, may stay empty, a tick says
    "give or take a week", and the value is a KnownDate; otherwise it is a date.
    None when all boxes are empty.
    """

    widget = ThreeBoxes

    def __init__(
        self,
        *,
        earliest: Limit = None,
        earliest_words: str = "",
        latest: Limit = None,
        latest_words: str = "",
        may_be_uncertain: bool = False,
        **options: Any,
    ) -> None:
        if may_be_uncertain:
            options.setdefault("widget", AboutBoxes)
            options["help_text"] = options.get("help_text") or _UNCERTAIN_HELP
        super().__init__(**options)
        self.earliest, self.earliest_words = earliest, earliest_words
        self.latest, self.latest_words = latest, latest_words
        self.may_be_uncertain = may_be_uncertain

    def bound(
        self,
        *,
        earliest: Limit = None,
        earliest_words: str = "",
        latest: Limit = None,
        latest_words: str = "",
    ) -> None:
        """Set limits that a form knows only when it is made; what is not given stays."""
        if earliest is not None:
            self.earliest, self.earliest_words = earliest, earliest_words
        if latest is not None:
            self.latest, self.latest_words = latest, latest_words

    def clean(self, value: Any) -> date | KnownDate | None:
        """Return the date, or the date and its precision."""
        if isinstance(value, date | KnownDate):
            return self._inside(value if isinstance(value, KnownDate) else KnownDate(value, "day"))
        day, month, year, is_about = _typed(value)
        if not (day or month or year):
            if self.required:
                self._refuse("day", "enter the date")
            return None
        known = self._known(day, month, year)
        if is_about:
            if known.precision != "day":
                self._refuse(
                    "about", "give or take a week needs a day; enter it, or remove the tick"
                )
            known = KnownDate(known.on, "week")
        return self._inside(known)

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Compare dates, not spellings: "Mar" and "3" are the same month."""
        try:
            return self.clean(data) != initial
        except ValidationError:
            return True

    def _known(self, day: str, month: str, year: str) -> KnownDate:
        if len(day) > 2 and not month and not year:
            self._refuse("day", "put day, month and year into their own boxes")
        year_number = self._year(year)
        if not month:
            if day or not self.may_be_uncertain:
                self._refuse("month", "enter the month, for example 3 or Mar")
            return KnownDate(date(year_number, 1, 1), "year")
        month_number = self._month(month)
        if not day:
            if not self.may_be_uncertain:
                self._refuse("day", "enter the day of the month")
            return KnownDate(date(year_number, month_number, 1), "month")
        return KnownDate(self._day(day, month_number, year_number), "day")

    def _day(self, text: str, month: int, year: int) -> date:
        if not re.fullmatch(r"[0-9]{1,2}", text):
            self._refuse("day", "enter the day as a number from 1 to 31")
        try:
            return date(year, month, int(text))
        except ValueError:
            self._refuse("day", f"there is no day {int(text)} in {MONTHS[month - 1]} {year}")

    def _month(self, text: str) -> int:
        if re.fullmatch(r"[0-9]{1,2}", text) and 1 <= int(text) <= 12:
            return int(text)
        word = text.lower().removesuffix(".")
        fits = [place for place, name in enumerate(_LONG_MONTHS, 1) if name.startswith(word)]
        if len(word) < 3 or len(fits) != 1:
            self._refuse("month", "enter the month as a number from 1 to 12 or a word such as Mar")
        return fits[0]

    def _year(self, text: str) -> int:
        if not text:
            self._refuse("year", "enter the year")
        if not re.fullmatch(r"[0-9]{4}", text):
            self._refuse("year", "enter the year with four figures, for example 2027")
        if int(text) < _FIRST_YEAR:
            self._refuse("year", f"the year must be {_FIRST_YEAR} or later")
        return int(text)

    def _inside(self, known: KnownDate) -> date | KnownDate:
        first, last = (
            limit() if callable(limit) else limit for limit in (self.earliest, self.latest)
        )
        if first is not None and _last_day(known) < first:
            self._refuse(
                _coarsest(known, first),
                f"must be {_bound('on or after', first, self.earliest_words)}",
            )
        if last is not None and known.on > last:
            self._refuse(
                _coarsest(known, last),
                f"must be {_bound('on or before', last, self.latest_words)}",
            )
        return known if self.may_be_uncertain else known.on

    def _refuse(self, part: str, words: str) -> NoReturn:
        raise ValidationError(f"{self.label or 'Date'}: {words}.", code=part)


def _typed(value: Any) -> tuple[str, str, str, bool]:
    given: Sequence[Any] = (
        value if isinstance(value, list | tuple) and len(value) >= 3 else ("",) * 3
    )
    day, month, year = (str(part or "").strip(" \t\r\n") for part in given[:3])
    return day, month, year, any(given[3:])


def _last_day(known: KnownDate) -> date:
    """Return the last day the date can be, so that no month is refused for its first day."""
    if known.precision == "year":
        return date(known.on.year, 12, 31)
    if known.precision == "month":
        return known.on.replace(day=monthrange(known.on.year, known.on.month)[1])
    return known.on


def _coarsest(known: KnownDate, limit: date) -> str:
    """Return the box to look at: the year when that is wrong, else the month, else the day."""
    if known.on.year != limit.year or known.precision == "year":
        return "year"
    return "month" if known.on.month != limit.month or known.precision == "month" else "day"


def _bound(order: str, day: date, words: str) -> str:
    return f"{order} {day_words(day)}" + (f" ({words})" if words else "")
