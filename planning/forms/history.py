"""What the history pages ask: what to show, as of when, and why something is set aside."""

from collections.abc import Sequence
from datetime import datetime, time, timedelta
from typing import Any, Final

from django import forms
from django.utils.timezone import get_current_timezone, localdate

from planning.record_kinds import KINDS
from register.forms.base import RegisterForm
from register.forms.clock import ClockField
from register.forms.dates import ThreeBoxDateField
from register.forms.editing import AsideForm
from register.forms.filters import FilterForm
from register.history.kinds import upper_first

DIGITS: Final = 15


class HistoryFilter(FilterForm):
    """What of a history is shown; `people` are those who ever changed something."""

    kind = forms.ChoiceField(label="Kind of record", required=False)
    person = forms.ChoiceField(label="Changed by", required=False)

    def __init__(self, data: Any, *, people: Sequence[tuple[str, str]]) -> None:
        self.people = people
        super().__init__(data)

    def offer(self) -> None:
        """Offer the kinds of record, and the people."""
        kinds = sorted((kind.code, upper_first(kind.plural)) for kind in KINDS)
        boxes: Any = self.fields
        boxes["kind"].choices = [("", "all"), *sorted(kinds, key=lambda pair: pair[1])]
        boxes["person"].choices = [("", "anybody"), *self.people]


def chosen(data: Any) -> tuple[str, str, int]:
    """Return kind, person, and the number before which to begin (0: at the newest)."""
    kind, before = data.get("kind", ""), data.get("before", "")
    is_number = before.isascii() and before.isdigit() and len(before) <= DIGITS
    known = kind if kind in {known.code for known in KINDS} else ""
    return known, data.get("person", "")[:150], int(before) if is_number else 0


class AsOfForm(RegisterForm):
    """A day, and perhaps a time of day; without one, the end of the day."""

    day = ThreeBoxDateField(label="Day", latest=localdate, latest_words="today")
    at = ClockField(label="Time, for example 14:05", required=False)

    def moment(self) -> datetime:
        """Return the moment that is meant, on the hospital's clock."""
        day, at = self.cleaned_data["day"], self.cleaned_data["at"]
        if at is not None:
            minute = datetime.combine(day, at, get_current_timezone())
            return minute + timedelta(minutes=1, microseconds=-1)
        return datetime.combine(day, time.max, get_current_timezone())

    def words(self) -> str:
        """Return how the moment was asked for: "07 Mar 2027, at the end of the day"."""
        at = self.cleaned_data["at"]
        return f"at {at:%H:%M}" if at else "at the end of the day"


class BackForm(AsideForm):
    """Why an entry is brought back."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        why: Any = self.fields["reason"]
        why.help_text = "For example: it was the right patient after all."
        why.error_messages["required"] = "Say why it is brought back."
