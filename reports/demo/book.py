"""The book of invented rows, and the few ways of drawing a number.

A row names its kind (a model in small letters) and its fields; a field that
points at another row holds that row. Nothing here knows a database.
"""

import hashlib
import json
import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from random import Random
from typing import Any


@dataclass(eq=False, slots=True)
class Row:
    """One invented row. `number` counts from 1 within its kind."""

    kind: str
    number: int
    fields: dict[str, Any]

    def __getitem__(self, name: str) -> Any:
        return self.fields[name]

    def get(self, name: str) -> Any:
        """Return a field, or None when the row has none of that name."""
        return self.fields.get(name)


@dataclass
class Book:
    """All rows by kind, in the order in which they were made."""

    rows: dict[str, list[Row]] = field(default_factory=dict)

    def add(self, kind: str, /, **fields: Any) -> Row:
        """Write one row and return it."""
        of_kind = self.rows.setdefault(kind, [])
        row = Row(kind, len(of_kind) + 1, fields)
        of_kind.append(row)
        return row

    def of(self, kind: str) -> list[Row]:
        """Return the rows of a kind; an empty list when there is none."""
        return self.rows.get(kind, [])

    def counts(self) -> dict[str, int]:
        """Return how many rows there are of each kind, sorted by kind."""
        return dict(sorted(Counter({kind: len(rows) for kind, rows in self.rows.items()}).items()))

    def digest(self) -> str:
        """Return the SHA-256 of everything in the book."""
        content = {kind: [row.fields for row in rows] for kind, rows in self.rows.items()}
        written = json.dumps(content, sort_keys=True, default=_plain)
        return hashlib.sha256(written.encode()).hexdigest()


def _plain(value: Any) -> str:
    if isinstance(value, Row):
        return f"{value.kind} {value.number}"
    if isinstance(value, date | datetime | time | Decimal):
        return str(value)
    raise TypeError(f"{value!r} has no place in a book.")


def pick(rng: Random, weights: Mapping[str, float]) -> str:
    """Draw one key by weight."""
    return rng.choices(list(weights), list(weights.values()))[0]


def between(rng: Random, mean: float, sd: float, low: float, high: float) -> float:
    """Draw from a normal distribution cut off at both ends."""
    return min(max(rng.gauss(mean, sd), low), high)


def log_normal(rng: Random, median: float, log_sd: float) -> float:
    """Draw from a log-normal distribution."""
    return median * math.exp(rng.gauss(0, log_sd))


def days(number: float) -> timedelta:
    """Return a whole number of days, rounded."""
    return timedelta(days=round(number))


def tenth(value: float) -> Decimal:
    """Return a number with one decimal."""
    return Decimal(f"{value:.1f}")


def hundredth(value: float) -> Decimal:
    """Return a number with two decimals."""
    return Decimal(f"{value:.2f}")


def leave_out(
    rng: Random,
    fields: dict[str, Any],
    shares: Mapping[str, float],
    *,
    reasons: tuple[str, ...] = ("not_known", "not_done"),
) -> dict[str, Any]:
    """Empty some fields: half of them with a reason in `absent`, half simply not recorded.

    Texts become '', lists [], everything else None.
    """
    thinned, absent = dict(fields), dict(fields.get("absent", {}))
    for name, share in shares.items():
        if rng.random() >= share or name not in fields or name in absent:
            continue
        empty = _empty(fields[name])
        if fields[name] != empty:
            thinned[name] = empty
            if rng.random() < 0.5:
                absent[name] = rng.choice(reasons)
    return thinned | {"absent": absent}


def _empty(value: Any) -> Any:
    """Return what stands in an empty column of a value's kind."""
    if isinstance(value, str):
        return ""
    return [] if isinstance(value, list) else None
