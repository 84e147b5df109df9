"""How wide pedicles were in published series, by level. Data to look at, never a rule.

The series disagree: at L5 their means run from below 9 to above 21 mm. So each keeps
its plane, its edge and the kind of its dispersion, and only a standard deviation of
an outer width makes a range.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any, Final

from register.domain.levels import TREATABLE_CODES

FILE: Final = Path(__file__).with_name("widths.toml")
PLANES: Final = {
    "axial": "axial plane",
    "perpendicular": "perpendicular to the pedicle’s axis",
    "not_stated": "plane not stated",
}
EDGES: Final = {
    "outer": "outer cortex",
    "endosteal": "inner edge of the cortex",
    "not_stated": "edge not stated",
}
STATUSES: Final = {
    "second_hand": "second-hand: confirm locally",
    "published": "published, abstract read",
    "memory": "from memory: confirm locally",
}
# How many numbers belong to a level, by the kind of dispersion.
_PARTS: Final = {"sd": 2, "sem": 2, "range": 3, "none": 1}
_KEYS: Final = {"name", "citation", "cohort", "plane", "edge", "dispersion", "status", "widths"}


@dataclass(frozen=True, slots=True)
class Width:
    """The width of one series at one level, in mm. `numbers` are the mean and its dispersion."""

    name: str
    citation: str
    cohort: str
    plane: str
    edge: str
    dispersion: str
    status: str
    numbers: tuple[Decimal, ...]

    @property
    def mean_mm(self) -> Decimal:
        """The mean."""
        return self.numbers[0]

    @property
    def band_mm(self) -> tuple[Decimal, Decimal] | None:
        """Mean ± 2 SD, which holds about 95 % of people if widths are spread normally.

        None unless the series gives a standard deviation of the outer width.
        """
        if self.dispersion != "sd" or self.edge != "outer":
            return None
        return self.mean_mm - 2 * self.numbers[1], self.mean_mm + 2 * self.numbers[1]

    @property
    def words(self) -> str:
        """The numbers with the kind of their dispersion, for example "8.7 mm, SD 2.3"."""
        told = f"{self.mean_mm} mm"
        if self.dispersion == "range":
            return f"{told}, {self.numbers[1]} to {self.numbers[2]}"
        if self.dispersion == "none":
            return f"{told}, no dispersion given"
        kind = "SD" if self.dispersion == "sd" else "standard error"
        return f"{told}, {kind} {self.numbers[1]}"

    @property
    def status_words(self) -> str:
        """How far the numbers can be trusted."""
        return STATUSES[self.status]

    @property
    def method(self) -> str:
        """Plane and edge in words."""
        return f"{PLANES[self.plane]}, {EDGES[self.edge]}"


def widths_at(level: str) -> tuple[Width, ...]:
    """Return the series that have this level: those that make a band first, then by mean."""
    found = [width for at, width in _all() if at == level]
    return tuple(sorted(found, key=lambda w: (w.band_mm is None, w.mean_mm)))


@cache
def _all() -> tuple[tuple[str, Width], ...]:
    stored = tomllib.loads(FILE.read_text(encoding="utf-8"), parse_float=Decimal)
    return tuple(one for table in stored["series"] for one in _read(table))


def _read(table: Mapping[str, Any]) -> list[tuple[str, Width]]:
    """Return a series by level. Raises ValueError that names the series and what is wrong."""
    where = str(table.get("name", "a series without a name"))
    if set(table) != _KEYS:
        raise ValueError(f"{where}: the keys must be {', '.join(sorted(_KEYS))}.")
    for key, known in (("plane", PLANES), ("edge", EDGES), ("status", STATUSES)):
        if table[key] not in known:
            raise ValueError(f"{where}: {key} must be one of {', '.join(known)}.")
    found = []
    for level, numbers in table["widths"].items():
        if level not in TREATABLE_CODES or len(numbers) != _PARTS[table["dispersion"]]:
            raise ValueError(f"{where}, {level}: {numbers} does not fit {table['dispersion']}.")
        own = {key: table[key] for key in _KEYS - {"widths"}}
        found.append((level, Width(**own, numbers=tuple(Decimal(n) for n in numbers))))
    return found
