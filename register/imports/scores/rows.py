"""From the values of a line to what it says of a contact, or to what contradicts itself."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.utils.timezone import get_current_timezone

from register.domain.days import day_words
from register.imports.cells import Absent
from register.imports.reading import Values


@dataclass(frozen=True, slots=True)
class ScoreRow:
    """What one row says. Only what is given is in the maps.

    `timepoint` is still in the words of the file. `review` holds fields of Review, `scores`
    a whole number or a reason for each instrument.
    """

    number: int
    patient: Mapping[str, Any]
    held_on: date
    review: Mapping[str, Any]
    scores: Mapping[str, int | Absent] = field(default_factory=dict)
    timepoint: str = ""
    anchor_on: date | None = None
    levels: tuple[str, ...] = ()
    unlikely_reason: str = ""

    def says_the_same_as(self, other: "ScoreRow") -> bool:
        """Whether both rows give the same values."""
        names = [name for name in self.__slots__ if name != "number"]
        return all(getattr(self, name) == getattr(other, name) for name in names)


def contradictions(values: Values) -> list[str]:
    """Return what is missing in a row, and what two of its cells say against each other."""
    return [*_missing(values), *_days_wrong(values), *_told_wrong(values)]


def _missing(values: Values) -> Iterator[str]:
    numbers = (values.get(("patient", name)) for name in ("hospital_number", "nhs_number"))
    if not any(isinstance(number, str) for number in numbers):
        yield "Hospital number and NHS Number are empty. Write one of them."
    if not any(part == "score" for part, _ in values):
        yield "The row holds no score. Write one, or the reason why there is none."


def _days_wrong(values: Values) -> Iterator[str]:
    held, born = values["review", "held_on"], values["patient", "date_of_birth"]
    if held < born:
        yield f"Contact date: {day_words(held)} is before the date of birth."
    told = values.get(("told", "on"))
    if told is not None and told < held:
        yield f"Told on: {day_words(told)} is before the contact."


def _told_wrong(values: Values) -> Iterator[str]:
    named, who = ("review", "informant_name") in values, values.get(("review", "informant"), "")
    if named and who in ("", "patient"):
        yield "Name of relative or carer: say under “Who answered” that it was one."
    signs = [sign for sign in values.get(("review", "red_flags"), ()) if sign != "none"]
    told = {name: values.get(key) for name, key in _TOLD.items()}
    if signs and (missing := [name for name, value in told.items() if value is None]):
        yield f"A warning sign needs these beside it: {', '.join(missing)}."
    if not signs and (given := [name for name, value in told.items() if value is not None]):
        yield f"{', '.join(given)}: name the warning sign that was told of."


_TOLD = {
    "Told whom": ("review", "red_flags_told"),
    "Told on": ("told", "on"),
    "Told at": ("told", "at"),
}


def row_of(number: int, values: Values) -> ScoreRow:
    parts: dict[str, dict[str, Any]] = {
        name: {} for name in ("patient", "review", "contact", "score", "told")
    }
    for (part, name), value in values.items():
        if isinstance(value, Absent) and part == "patient":
            continue  # a reason for no NHS Number says nothing about the contact
        parts[part][name] = value
    review, told = parts["review"], parts["told"]
    held_on = review.pop("held_on")
    if told:
        moment = datetime.combine(told["on"], told["at"], get_current_timezone())
        review["red_flags_told_at"] = moment
    return ScoreRow(
        number=number,
        patient=parts["patient"],
        held_on=held_on,
        review=review,
        scores=parts["score"],
        **parts["contact"],
    )
