"""What a protocol is made of: sources with a kind, dated values with a unit, follow-up contacts.

A `ProtocolValues` is the full set in force on one day. It is frozen, travels
as JSON, and has a digest, so that an assessment can always say which numbers
it used. Nothing here knows a file or a database.
"""

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from functools import cached_property
from typing import Any, Final, Self

from register.domain.days import day_words
from register.domain.timepoints import Timepoint


class ProtocolError(ValueError):
    """A protocol cannot be used. The message names the file and the key, and what to change."""


class SourceKind(StrEnum):
    """How far the source of a number can be trusted."""

    PUBLISHED = "published"
    SECOND_HAND = "second_hand"
    COMMON_PRACTICE = "common_practice"
    MEASURED_HERE = "measured_here"

    @property
    def words(self) -> str:
        """The kind as pages print it."""
        return _KIND_WORDS[self]

    @property
    def confirm_locally(self) -> bool:
        """True for everything that was neither published and read nor measured here."""
        return self in (SourceKind.SECOND_HAND, SourceKind.COMMON_PRACTICE)


_KIND_WORDS: Final = {
    SourceKind.PUBLISHED: "published and read",
    SourceKind.SECOND_HAND: "published, second-hand or from memory",
    SourceKind.COMMON_PRACTICE: "common practice, no source",
    SourceKind.MEASURED_HERE: "measured in this department",
}

# Closed list: unit code -> how a sentence prints it after the number.
UNITS: Final = {
    "days": "days",
    "years": "years",
    "points": "of 10",
    "score_points": "points",
    "percent": "%",
    "ratio": "",
    "mg_per_l": "mg/L",
    "10e9_per_l": "×10⁹/L",
    "mm": "mm",
    "degrees": "°",
    "levels": "levels",
    "pairs": "pairs",
    "t_score": "standard deviations",
    "hu": "HU",
    "code": "",
}


@dataclass(frozen=True, slots=True)
class Source:
    """Where a number or a rule comes from. `place` is a DOI, an address in words, or a page."""

    key: str
    citation: str
    kind: SourceKind
    checked_on: date
    place: str = ""

    @property
    def words(self) -> str:
        """Citation and kind for a page, with "confirm locally" where it is due."""
        local = ": confirm locally" if self.kind.confirm_locally else ""
        return f"{self.citation} ({self.kind.words}{local})"

    def as_json(self) -> dict[str, str]:
        """Return the source as plain JSON values."""
        return {
            "key": self.key,
            "citation": self.citation,
            "kind": self.kind.value,
            "checked_on": self.checked_on.isoformat(),
            "place": self.place,
        }

    @classmethod
    def from_json(cls, stored: dict[str, str]) -> Self:
        """Read back what `as_json` wrote."""
        return cls(
            key=stored["key"],
            citation=stored["citation"],
            kind=SourceKind(stored["kind"]),
            checked_on=date.fromisoformat(stored["checked_on"]),
            place=stored["place"],
        )


@dataclass(frozen=True, slots=True)
class ProtocolValue:
    """One number (Decimal) or code (str) of the protocol, as in force on the day of its set.

    `value` is None for a number that each department enters for itself and has not yet.
    """

    id: str
    description: str
    unit: str
    value: Decimal | str | None
    source: Source
    valid_from: date
    reviewed_on: date
    note: str = ""

    @property
    def words(self) -> str:
        """The value with its unit, for example "42 days"."""
        if self.value is None:
            return "not entered yet"
        space = "" if self.unit == "degrees" else " "
        return f"{self.value}{space}{UNITS[self.unit]}".strip()

    def as_json(self) -> dict[str, Any]:
        """Return the value with its source as plain JSON; numbers as text, to stay exact."""
        return {
            "id": self.id,
            "description": self.description,
            "unit": self.unit,
            "value": None if self.value is None else str(self.value),
            "source": self.source.as_json(),
            "valid_from": self.valid_from.isoformat(),
            "reviewed_on": self.reviewed_on.isoformat(),
            "note": self.note,
        }

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> Self:
        """Read back what `as_json` wrote. Raises ProtocolError for an unknown unit or number."""
        return cls(
            id=stored["id"],
            description=stored["description"],
            unit=stored["unit"],
            value=stored_value(stored["value"], stored["unit"], where=stored["id"]),
            source=Source.from_json(stored["source"]),
            valid_from=date.fromisoformat(stored["valid_from"]),
            reviewed_on=date.fromisoformat(stored["reviewed_on"]),
            note=stored["note"],
        )


@dataclass(frozen=True)
class ProtocolValues:
    """Everything a department has agreed on, as in force on `day`; sorted by id."""

    day: date
    values: tuple[ProtocolValue, ...]
    timepoints: tuple[Timepoint, ...]

    @cached_property
    def _by_id(self) -> dict[str, ProtocolValue]:
        return {entry.id: entry for entry in self.values}

    def entry(self, id: str) -> ProtocolValue:
        """Return a value with unit and source. Raises ProtocolError when the protocol lacks it."""
        try:
            return self._by_id[id]
        except KeyError:
            raise ProtocolError(
                f"The protocol of {day_words(self.day)} has no value {id!r}."
            ) from None

    def value(self, id: str) -> Decimal | str:
        """Return the bare value. Raises ProtocolError when the protocol lacks it or it is empty."""
        value = self.entry(id).value
        if value is None:
            raise ProtocolError(f"The department has not entered the protocol value {id!r} yet.")
        return value

    def number(self, id: str) -> Decimal:
        """Return a numeric value. Raises ProtocolError when it is missing or a code."""
        value = self.value(id)
        if not isinstance(value, Decimal):
            raise ProtocolError(f"The protocol value {id!r} is a code, not a number.")
        return value

    def number_if_entered(self, id: str) -> Decimal | None:
        """Return a numeric value; None while the department has not entered it.

        A protocol that was stored before the value existed has not entered it either.
        """
        entry = self._by_id.get(id)
        return None if entry is None or entry.value is None else self.number(id)

    def days(self, id: str) -> int:
        """Return a whole number of days. Raises ProtocolError when it is anything else."""
        entry, value = self.entry(id), self.number(id)
        if entry.unit != "days" or value != int(value):
            raise ProtocolError(f"The protocol value {id!r} is not a whole number of days.")
        return int(value)

    @property
    def ruleset_id(self) -> str:
        """The rule set that the department has switched on."""
        return str(self.value("rules.set"))

    def with_value(self, id: str, value: Decimal | str, *, source: Source, since: date) -> Self:
        """Return a copy in which one value is the department's own, with its source."""
        old = self.entry(id)
        own = replace(
            old,
            value=in_unit(str(value), old.unit, where=id),
            source=source,
            valid_from=since,
            reviewed_on=since,
            note="",
        )
        return replace(self, values=tuple(own if v.id == id else v for v in self.values))

    def with_entries(self, entries: Iterable[ProtocolValue]) -> Self:
        """Return a copy in which these values stand in the place of those of the same id."""
        own = {entry.id: entry for entry in entries}
        return replace(self, values=tuple(own.get(v.id, v) for v in self.values)) if own else self

    def digest(self) -> str:
        """Return the SHA-256 of all values, units, sources and contacts; wording does not count."""
        content = {
            "values": [
                [
                    v.id,
                    v.unit,
                    "" if v.value is None else str(v.value),
                    v.source.key,
                    v.source.kind.value,
                ]
                for v in self.values
            ],
            "timepoints": [t.as_json() for t in self.timepoints],
        }
        return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()

    def as_json(self) -> dict[str, Any]:
        """Return a full copy as plain JSON values."""
        return {
            "day": self.day.isoformat(),
            "values": [v.as_json() for v in self.values],
            "timepoints": [t.as_json() for t in self.timepoints],
        }

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> Self:
        """Read back what `as_json` wrote."""
        return cls(
            day=date.fromisoformat(stored["day"]),
            values=tuple(ProtocolValue.from_json(v) for v in stored["values"]),
            timepoints=tuple(Timepoint.from_json(t) for t in stored["timepoints"]),
        )


def stored_value(value: object, unit: str, *, where: str) -> Decimal | str | None:
    """Return a stored value as its unit wants it; None for one that is still to be entered."""
    return None if value is None else in_unit(value, unit, where=where)


def in_unit(value: object, unit: str, *, where: str) -> Decimal | str:
    """Return a value as its unit wants it: text for a code, Decimal for everything else.

    Raises ProtocolError for a unit outside the closed list, a number that is
    not one, and true or false (which Python counts as numbers).
    """
    if unit_known(unit, where=where) == "code":
        if not isinstance(value, str) or not value:
            raise ProtocolError(f"{where}: a code is a text, not {value!r}.")
        return value
    if isinstance(value, bool) or not isinstance(value, int | Decimal | str):
        raise ProtocolError(f"{where}: {value!r} is not a number in {unit}.")
    try:
        number = Decimal(value)
    except InvalidOperation:
        raise ProtocolError(f"{where}: {value!r} is not a number in {unit}.") from None
    if not number.is_finite():
        raise ProtocolError(f"{where}: {value!r} is not a number in {unit}.")
    return number


def unit_known(unit: str, *, where: str) -> str:
    """Return a unit of the closed list. Raises ProtocolError for another."""
    if unit not in UNITS:
        raise ProtocolError(f"{where}: unit {unit!r} is not known; use one of {', '.join(UNITS)}.")
    return unit
