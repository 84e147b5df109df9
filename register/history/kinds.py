"""What a kind of record is called, and how its fields and values are said in words.

A kind is described once, beside its forms: labels and units come from these. The history, the
view of the past and setting aside all speak through it.
"""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time
from functools import cached_property
from typing import Any, Final

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.utils.text import capfirst
from django.utils.timezone import localtime

from register.domain.days import NOT_RECORDED, day_words, known_words, precision_of
from register.domain.nhs_number import formatted
from register.domain.vocabulary import ABSENT
from register.forms.base import UNITS
from register.history.names import Names
from register.models.base import Record

Row = Mapping[str, Any]
# Kept by the register itself, or told in another way.
OWN: Final = {
    "id", "created_at", "version", "absent", "unusual", "voided_at", "void_reason",
}  # fmt: skip
_REASONS: Final = dict(ABSENT)
_RANGE: Final = re.compile(r", \d+ .*$")  # "pain at rest, 0 to 10"
# What a box counts, already said by its label.
_NOT_SAID: Final = ("bodies", "implants", "ratio", "SD")


@dataclass(frozen=True)
class FieldWords:
    """One field of a kind: how it is called, and its value in words, by `say` if given."""

    column: models.Field
    label: str
    unit: str = ""
    say: Callable[[Any], str] | None = None

    @property
    def name(self) -> str:
        return self.column.name

    def said(self, row: Row, names: Names) -> str:
        """Return the value in a stored row in words, or why there is none."""
        value = row.get(str(self.column.column))
        if value is None or value == "" or value == []:
            return self.why_empty(row)
        words = self.say(value) if self.say else _in_words(self.column, value, row, names)
        return f"{words} {self.unit}" if self.unit else words

    def why_empty(self, row: Row) -> str:
        """Return the reason that was given for an empty field; "not recorded" without one."""
        return _REASONS.get((row.get("absent") or {}).get(self.name, ""), NOT_RECORDED)

    def is_told(self, row: Row) -> bool:
        """Whether there is a value, or a reason for its absence."""
        value = row.get(str(self.column.column))
        return value not in (None, "", []) or self.name in (row.get("absent") or {})


@dataclass(frozen=True)
class Kind:
    """A kind of record. `code` stands in addresses, `title` names one row in words.

    `parents` leads by foreign keys to the row that names the patient: () when the row
    does so itself. `forms` give the labels; `labels` are for what no form asks. `hidden`
    are columns that nobody reads. `right` lets set aside; blank: not on the common page.
    `parts` are kinds that are set aside together with it.
    """

    code: str
    model: type[Record]
    words: str
    plural: str
    title: Callable[[Row, Names], str]
    parents: tuple[str, ...] = ()
    forms: tuple[Any, ...] = ()
    labels: Mapping[str, str] = field(default_factory=dict)
    hidden: tuple[str, ...] = ()
    right: str = ""
    parts: tuple[str, ...] = ()
    # For a kind with one `value` that another field names: its label, its unit, how it is said.
    value_is: Callable[[Row], tuple[str, str, Callable[[Any], str]]] | None = None

    @property
    def table(self) -> str:
        return self.model._meta.db_table

    @property
    def path(self) -> str:
        """The way from a row to its patient, for a question to the database."""
        own = {"patient": "pk", "transfer": "to_patient"}.get(self.code, "patient")
        return "__".join((*self.parents, own))

    def patient_number(self, row: Any) -> int:
        """Return the number of the patient to whom a row belongs."""
        found: int = self.model._base_manager.filter(pk=row.pk).values_list(self.path, flat=True)[0]
        return found

    def counted(self, count: int) -> str:
        """Return how many: "1 study", "2 studies"."""
        return f"{count} {self.words if count == 1 else self.plural}"

    @cached_property
    def fields(self) -> tuple[FieldWords, ...]:
        """The fields that are told, in the order of the model."""
        columns = {column.name: column for column in self.model._meta.concrete_fields}
        precisions = {precision_of(name) for name in columns} & set(columns)
        left_out = OWN | set(self.hidden) | precisions
        return tuple(
            FieldWords(column, *self._label(column))
            for name, column in columns.items()
            if name not in left_out
        )

    def fields_for(self, row: Row) -> tuple[FieldWords, ...]:
        """The fields, with the name of the one value where it depends on the row."""
        if self.value_is is None:
            return self.fields
        named = self.value_is(row)
        return tuple(
            FieldWords(told.column, *named) if told.name == "value" else told
            for told in self.fields
        )

    def _label(self, column: models.Field) -> tuple[str, str]:
        """Return label and unit: ours, else those of the form, else the column's own."""
        unit = UNITS.get(column.name.rsplit("_", 1)[-1], "")
        words = str(column.verbose_name).removesuffix(" on")
        words = words.rsplit(" ", 1)[0] if unit and " " in words else words
        for form in self.forms:
            asked = form.base_fields.get(column.name)
            if asked is not None and asked.label:
                words, unit = _RANGE.sub("", str(asked.label)), getattr(asked, "unit", "")
                break
        unit = "" if unit in _NOT_SAID or unit.startswith("of ") else unit
        return lower_first(self.labels.get(column.name, words)), unit


def lower_first(words: str) -> str:
    """Begin in the middle of a sentence, unless with an abbreviation: "NHS Number", "T-score"."""
    return words if words[1:2].isupper() or words[1:2] == "-" else words[:1].lower() + words[1:]


def upper_first(words: str) -> str:
    """Begin a sentence."""
    return capfirst(words)


def listed(parts: Iterable[str]) -> str:
    """Join as people do: "1 referral, 2 fractures and 1 patient"."""
    several = list(parts)
    return " and ".join(filter(None, [", ".join(several[:-1]), *several[-1:]]))


def moment(value: str | datetime) -> datetime:
    """Return a stored moment on the hospital's clock."""
    return localtime(datetime.fromisoformat(value) if isinstance(value, str) else value)


def moment_words(value: str | datetime) -> str:
    """Return a stored moment as 12 Mar 2027 10:42."""
    at = moment(value)
    return f"{day_words(at)} {at:%H:%M}"


def _in_words(column: models.Field, value: Any, row: Row, names: Names) -> str:
    match column:
        case models.ForeignKey():
            return names.of(column.related_model, value)
        case ArrayField():
            words = dict(column.base_field.flatchoices)
            return ", ".join(str(words.get(item, item)) for item in value)
        case models.DateTimeField():
            return moment_words(value)
        case models.DateField():
            return known_words(date.fromisoformat(value), row.get(precision_of(column.name), ""))
        case models.TimeField():
            return f"{time.fromisoformat(value):%H:%M}"
        case models.BooleanField():
            return "yes" if value else "no"
        case _ if column.flatchoices:
            return str(dict(column.flatchoices).get(value, value))
    return _by_name(column.name, value, names)


def _by_name(name: str, value: Any, names: Names) -> str:
    match name:
        case "marks":
            return _marks_in_words(value)
        case "nhs_number":
            return formatted(value)
        case "timepoint":
            return names.timepoint(value)
    return str(value)


def _marks_in_words(marks: Mapping[str, Any]) -> str:
    """Return each level with the places of its marks, across and down, in pixels."""
    return "; ".join(
        f"{level} {', '.join(_place(place) for place in points.values())}"
        for level, points in marks.items()
    )


def _place(place: Any) -> str:
    return "/".join(f"{value:.1f}" for value in place) if isinstance(place, list) else str(place)
