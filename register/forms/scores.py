"""The box of one score: for the contact's page, and for a cell of a file."""

from typing import Any

from django import forms

from register.domain.scores import Instrument, impossible
from register.forms.numbers import StrictIntegerField


class ScoreField(StrictIntegerField):
    """The box of one instrument; a value outside its range is told in its own words."""

    def __init__(self, asked: Instrument, **options: Any) -> None:
        super().__init__(min_value=asked.low, max_value=asked.high, **options)
        self.code = asked.code

    def validate(self, value: Any) -> None:
        """Refuse what the instrument cannot give."""
        if value is not None and (words := impossible(self.code, value)):
            raise forms.ValidationError(words, code="range")


def score_field(asked: Instrument) -> ScoreField:
    """Return the box of an instrument; under it what each digit means."""
    field = ScoreField(
        asked,
        label=asked.question,
        unit=asked.unit,
        required=False,
        help_text=" · ".join(" ".join(answer) for answer in asked.answers),
    )
    field.widget.attrs |= {"class": "box--2", "data-next": ""}
    return field
