"""Check an installation against published values. Pure: no Django, no database.

A pack is a JSON list of cases. Each names a calculation, its inputs, the
expected outputs and the absolute tolerance of its numbers, the source of the
expected values and the status of that source. Every expected key must be in
the answer; extra keys are allowed; null means "not defined"; lists are
compared item by item; {"error": true} means that the inputs must be refused
with a clear message. An unknown calculation is a failure, not a skip.
"""

import importlib
import json
import math
import pkgutil
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from register.domain.calculations import UnknownCalculation, calculate

PURE_PACKAGES: Final = ("register.domain", "planning.rules", "reports.stats")
CASE_KEYS: Final = frozenset(
    ("id", "calculation", "inputs", "expected", "tolerance", "source", "status")
)
REFUSED: Final[Mapping[str, Any]] = {"error": True}


class PackError(ValueError):
    """A pack that cannot be read; the message names the file, the case and what to do."""


@dataclass(frozen=True, slots=True)
class Case:
    """One check value: what goes in, what must come out, and who says so."""

    pack: str
    id: str
    calculation: str
    inputs: Mapping[str, Any]
    expected: Mapping[str, Any]
    tolerance: float
    source: str
    status: str

    @property
    def must_be_refused(self) -> bool:
        """Whether the inputs are wrong on purpose."""
        return dict(self.expected) == dict(REFUSED)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one case gave. `problems` are sentences; none of them means that it passed."""

    case: Case
    got: Mapping[str, Any] | None
    problems: tuple[str, ...]

    @property
    def passed(self) -> bool:
        """Whether the answer agrees with every expected value."""
        return not self.problems


def load_calculations() -> None:
    """Import every module of the pure packages, so that all calculations are registered."""
    for name in PURE_PACKAGES:
        package = importlib.import_module(name)
        for module in pkgutil.walk_packages(package.__path__, f"{name}."):
            importlib.import_module(module.name)


def read_pack(path: Path) -> list[Case]:
    """Read one file of cases. Raises PackError for anything that is not in the form above."""
    try:
        rows = json.loads(
            path.read_text(encoding="utf-8"),
            object_pairs_hook=_no_repeated_key,
            parse_constant=_no_constant,
        )
    except (OSError, UnicodeDecodeError) as problem:
        raise PackError(f"{path}: cannot be read ({problem}); check the name.") from problem
    except (ValueError, RecursionError) as problem:
        raise PackError(f"{path}: is not JSON as expected ({problem}); correct it.") from problem
    if not isinstance(rows, list) or not rows:
        raise PackError(f"{path}: holds no list of cases; put them between [ and ].")
    cases = [_case(str(path), place, row) for place, row in enumerate(rows, 1)]
    _check_ids(path, cases)
    return cases


def run(cases: Iterable[Case]) -> list[Outcome]:
    """Run cases in order. A calculation that stops with an error of its own is a failure."""
    return [run_case(case) for case in cases]


def run_case(case: Case) -> Outcome:
    """Run one case and compare its answer."""
    try:
        got = calculate(case.calculation, case.inputs)
    except UnknownCalculation as unknown:
        return Outcome(case, None, (str(unknown),))
    except ValueError as refusal:
        return Outcome(case, None, _refusal_problems(case, str(refusal)))
    except Exception as crash:
        return Outcome(case, None, (f"stopped with {type(crash).__name__}: {crash}",))
    if case.must_be_refused:
        return Outcome(case, got, ("was accepted, but must be refused with a clear message",))
    return Outcome(case, got, tuple(_differences("", case.expected, got, case.tolerance)))


def _refusal_problems(case: Case, message: str) -> tuple[str, ...]:
    if not case.must_be_refused:
        return (f"was refused: {message}",)
    return () if message.strip() else ("was refused, but without a message",)


def _differences(place: str, expected: Any, got: Any, tolerance: float) -> Iterable[str]:
    """Yield one sentence for each value that disagrees, with its place in the answer."""
    if isinstance(expected, Mapping) and isinstance(got, Mapping):
        for key, value in expected.items():
            inside = f"{place}.{key}" if place else key
            if key not in got:
                yield f"{inside}: missing from the answer"
            else:
                yield from _differences(inside, value, got[key], tolerance)
    elif isinstance(expected, list) and isinstance(got, list):
        if len(expected) != len(got):
            yield f"{place}: expected {len(expected)} items, got {len(got)}"
        for index, (one, other) in enumerate(zip(expected, got, strict=False)):
            yield from _differences(f"{place}[{index}]", one, other, tolerance)
    elif not _agree(expected, got, tolerance):
        within = f" within {tolerance:g}" if _is_number(expected) and tolerance else ""
        yield f"{place}: expected {json.dumps(expected)}{within}, got {json.dumps(got)}"


def _agree(expected: Any, got: Any, tolerance: float) -> bool:
    if _is_number(expected) and _is_number(got):
        return bool(abs(expected - got) <= tolerance)
    return type(expected) is type(got) and bool(expected == got)


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _case(pack: str, place: int, row: Any) -> Case:
    name = f"{pack}: case {place}"
    if not isinstance(row, dict):
        raise PackError(f"{name} is not an object; write it between {{ and }}.")
    if isinstance(row.get("id"), str):
        name = f"{name} ({row['id']})"
    missing, extra = CASE_KEYS - row.keys(), row.keys() - CASE_KEYS
    if missing:
        raise PackError(f"{name} lacks {', '.join(sorted(missing))}; add it.")
    if extra:
        raise PackError(f"{name} has {', '.join(sorted(extra))}, which has no meaning; remove it.")
    _check_values(name, row)
    return Case(pack=pack, **row)


def _check_values(name: str, row: Mapping[str, Any]) -> None:
    for key in ("id", "calculation", "source", "status"):
        if not isinstance(row[key], str) or not row[key].strip():
            raise PackError(f"{name}: {key} must be a text that is not empty; fill it in.")
    for key in ("inputs", "expected"):
        if not isinstance(row[key], dict):
            raise PackError(f"{name}: {key} must be an object of names and values; correct it.")
    if not row["expected"]:
        raise PackError(f"{name}: expected is empty and would prove nothing; add a value.")
    tolerance = row["tolerance"]
    if not _is_number(tolerance) or not 0 <= tolerance < math.inf:
        raise PackError(f"{name}: tolerance must be a number from 0 upwards; correct it.")


def _check_ids(path: Path, cases: list[Case]) -> None:
    ids = [case.id for case in cases]
    for place, name in enumerate(ids, 1):
        if name in ids[: place - 1]:
            raise PackError(f"{path}: case {place} repeats the id {name}; give it its own.")


def _no_repeated_key(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    names = [name for name, _ in pairs]
    repeated = sorted({name for name in names if names.count(name) > 1})
    if repeated:
        raise ValueError(f"{', '.join(repeated)} stands twice in one object")
    return dict(pairs)


def _no_constant(name: str) -> Any:
    raise ValueError(f"{name} is not a number; write null for not defined")
