"""Read the shipped parameters and sources from TOML, strictly.

Every mistake in a file is an error that names the file and the key: an unknown
or missing key, a unit outside the closed list, a parameter or source given
twice, a source that does not exist, dates out of order.
"""

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any, Final

from register.domain.days import day_words
from register.domain.protocol.values import (
    ProtocolError,
    ProtocolValue,
    ProtocolValues,
    Source,
    SourceKind,
    stored_value,
    unit_known,
)
from register.domain.timepoints import Timepoint
from register.domain.vocabulary import INSTRUMENT, codes

FOLDER: Final = Path(__file__).parent

_SOURCE_KEYS: Final = ({"citation", "kind", "checked_on"}, {"doi", "page"})
_PARAMETER_KEYS: Final = ({"id", "description", "unit", "reviewed_on", "values"}, {"note"})
# A value that each department enters for itself says `to_enter = true` in place of a value.
_DATED_KEYS: Final = ({"from", "source"}, {"value", "to_enter", "note"})
_TIMEPOINT_KEYS: Final = (
    {"code", "title", "target_days", "opens_days", "closes_days", "asked", "instruments", "source"},
    set[str](),
)


@dataclass(frozen=True, slots=True)
class Parameter:
    """One parameter with all its dated values, oldest first."""

    id: str
    history: tuple[ProtocolValue, ...]

    def at(self, day: date) -> ProtocolValue:
        """Return the value in force on a day. Raises ProtocolError before its first day."""
        in_force = [value for value in self.history if value.valid_from <= day]
        if not in_force:
            raise ProtocolError(
                f"{self.id} has no value on {day_words(day)}; it begins on "
                f"{day_words(self.history[0].valid_from)}."
            )
        return in_force[-1]


def shipped(day: date) -> ProtocolValues:
    """Return the shipped protocol as in force on a day; the same object content every time."""
    parameters, timepoints = _shipped_files()
    return ProtocolValues(
        day=day, values=tuple(p.at(day) for p in parameters.values()), timepoints=timepoints
    )


@cache
def shipped_sources() -> Mapping[str, Source]:
    """Return the shipped sources by key."""
    return read_sources(FOLDER / "sources.toml")


@cache
def _shipped_files() -> tuple[dict[str, Parameter], tuple[Timepoint, ...]]:
    files = sorted((FOLDER / "parameters").glob("*.toml"))
    return read_parameters(files, shipped_sources())


def read_sources(path: Path) -> dict[str, Source]:
    """Read a file of sources: a table per key with citation, kind, checked_on, doi or page."""
    sources = {}
    for key, table in _read(path).items():
        where = f"{path.name}, {key}"
        _only(table, *_SOURCE_KEYS, where=where)
        kind = _kind(table["kind"], where)
        place = str(table.get("doi") or table.get("page") or "")
        if kind is not SourceKind.COMMON_PRACTICE and not place:
            raise ProtocolError(f"{where}: give doi or page, or say kind = 'common_practice'.")
        sources[key] = Source(
            key=key,
            citation=_text(table["citation"], where, "citation"),
            kind=kind,
            checked_on=_day(table["checked_on"], where, "checked_on"),
            place=place,
        )
    return sources


def read_parameters(
    paths: Iterable[Path], sources: Mapping[str, Source]
) -> tuple[dict[str, Parameter], tuple[Timepoint, ...]]:
    """Read parameter files; return parameters sorted by id, contacts in order of their target."""
    parameters: dict[str, Parameter] = {}
    timepoints: dict[str, Timepoint] = {}
    for path in paths:
        content = _read(path)
        _only(content, set(), {"parameter", "timepoint"}, where=path.name)
        for table in content.get("parameter", []):
            parameter = _parameter(table, sources, path.name)
            _once(parameter.id, parameters, path.name)
            parameters[parameter.id] = parameter
        for table in content.get("timepoint", []):
            timepoint = _timepoint(table, sources, path.name)
            _once(timepoint.code, timepoints, path.name)
            timepoints[timepoint.code] = timepoint
    in_time = sorted(timepoints.values(), key=lambda t: t.target_days)
    return dict(sorted(parameters.items())), tuple(in_time)


def _parameter(table: dict[str, Any], sources: Mapping[str, Source], file: str) -> Parameter:
    where = f"{file}, {table.get('id', 'a parameter without id')}"
    _only(table, *_PARAMETER_KEYS, where=where)
    history = tuple(_dated(table, entry, sources, where) for entry in table["values"])
    days = [value.valid_from for value in history]
    if not history or days != sorted(set(days)):
        raise ProtocolError(f"{where}: give at least one value, each from a later day.")
    return Parameter(id=table["id"], history=history)


def _dated(
    table: dict[str, Any], entry: dict[str, Any], sources: Mapping[str, Source], where: str
) -> ProtocolValue:
    _only(entry, *_DATED_KEYS, where=f"{where}, values")
    return ProtocolValue(
        id=table["id"],
        description=_text(table["description"], where, "description"),
        unit=table["unit"],
        value=_value(entry, table["unit"], where),
        source=_source(entry["source"], sources, where),
        valid_from=_day(entry["from"], where, "from"),
        reviewed_on=_day(table["reviewed_on"], where, "reviewed_on"),
        note=str(entry.get("note", table.get("note", ""))),
    )


def _value(entry: dict[str, Any], unit: str, where: str) -> Decimal | str | None:
    """Return the value; None where it is left to the department. The unit is checked either way."""
    if ("value" in entry) == ("to_enter" in entry) or entry.get("to_enter", True) is not True:
        raise ProtocolError(f"{where}, values: give either a value or to_enter = true.")
    return stored_value(entry.get("value"), unit_known(unit, where=where), where=where)


def _timepoint(table: dict[str, Any], sources: Mapping[str, Source], file: str) -> Timepoint:
    where = f"{file}, {table.get('code', 'a timepoint without code')}"
    _only(table, *_TIMEPOINT_KEYS, where=where)
    _source(table["source"], sources, where)
    unknown = set(table["instruments"]) - set(codes(INSTRUMENT))
    if unknown:
        raise ProtocolError(f"{where}: instruments has unknown {', '.join(sorted(unknown))}.")
    try:
        return Timepoint(**table | {"instruments": tuple(table["instruments"])})
    except (TypeError, ValueError) as wrong:
        raise ProtocolError(f"{where}: {wrong}") from None


def _read(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"), parse_float=Decimal)
    except tomllib.TOMLDecodeError as wrong:
        raise ProtocolError(f"{path.name}: {wrong}") from None


def _only(table: object, required: set[str], allowed: set[str], *, where: str) -> None:
    if not isinstance(table, dict):
        raise ProtocolError(f"{where}: expected a table.")
    if missing := required - set(table):
        raise ProtocolError(f"{where}: {', '.join(sorted(missing))} is missing.")
    if unknown := set(table) - required - allowed:
        raise ProtocolError(f"{where}: {', '.join(sorted(unknown))} is not a known key.")


def _once(key: str, seen: Mapping[str, object], file: str) -> None:
    if key in seen:
        raise ProtocolError(f"{file}, {key}: given twice.")


def _kind(value: object, where: str) -> SourceKind:
    try:
        return SourceKind(str(value))
    except ValueError:
        raise ProtocolError(
            f"{where}: kind {value!r} is not known; use {', '.join(SourceKind)}."
        ) from None


def _source(key: object, sources: Mapping[str, Source], where: str) -> Source:
    try:
        return sources[str(key)]
    except KeyError:
        raise ProtocolError(f"{where}: source {key!r} is not in sources.toml.") from None


def _day(value: object, where: str, key: str) -> date:
    if type(value) is not date:
        raise ProtocolError(f"{where}: {key} {value!r} is not a day such as 2027-03-07.")
    return value


def _text(value: object, where: str, key: str) -> str:
    if not isinstance(value, str) or not value.strip():
        raise ProtocolError(f"{where}: {key} must be a text.")
    return value
