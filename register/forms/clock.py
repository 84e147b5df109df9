"""A time of day, typed as 14:05, read as typed or not at all."""

import re
from datetime import time
from typing import Any, Final

from django import forms
from django.core.exceptions import ValidationError

# Two figures for the minutes always: "123" could be 01:23 or 12:03.
_SPELLINGS: Final = re.compile(r"([0-9]{1,2})[:.]([0-9]{2})|([0-9]{2})([0-9]{2})")


class ClockField(forms.TimeField):
    """Hours and minutes on the 24-hour clock: 9:05, 14:05, 14.05 or 1405."""

    def __init__(self, **options: Any) -> None:
        options.setdefault(
            "widget",
            forms.TimeInput(
                format="%H:%M",
                attrs={
                    "type": "text",
                    "class": "box--4",
                    "inputmode": "text",
                    "autocomplete": "off",
                },
            ),
        )
        super().__init__(**options)

    def to_python(self, value: Any) -> time | None:
        """Return the time; None for an empty box. Raises ValidationError with an example."""
        if isinstance(value, time):
            return value
        text = "" if value is None else str(value).strip(" \t\r\n")
        if not text:
            return None
        found = _SPELLINGS.fullmatch(text)
        hours, minutes = (int(part) for part in found.groups() if part) if found else (99, 99)
        if hours > 23 or minutes > 59:
            raise ValidationError(f"{self.label}: write the time as 14:05.", code="spelling")
        return time(hours, minutes)

    def validate(self, value: Any) -> None:
        """Ask for a time that is needed."""
        if value is None and self.required:
            raise ValidationError(f"{self.label}: enter the time, for example 14:05.")
