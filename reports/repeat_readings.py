"""Repeat readings of a department: how well readings agree, in figures, tables and words."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from register.domain.own_error import BOUNDS, blinded_pairs, bounds_from, pairs_needed
from register.domain.protocol import ProtocolValue, ProtocolValues
from register.domain.repeats import MEASURES, Kind, Measure, Measured, Pairs, pairs_of
from register.models import Site
from register.selectors.repeat_readings import measured_again
from reports.stats.repeats import Repeated, repeated

# Fewest pairs of which anything is said: common practice, no source.
FEWEST_PAIRS: Final = 10
# From here on limits of agreement are commonly called precise enough: common practice, no source.
PREFERRED_PAIRS: Final = 50
_BOUND_OF: Final = {"measures.height_error_mm": "height", "measures.angle_error_deg": "angle"}


@dataclass(frozen=True, slots=True)
class Compared:
    """One measure read again by one kind of observer; `found` is None with too few pairs."""

    pairs: Pairs
    found: Repeated | None

    @property
    def measure(self) -> Measure:
        """What was measured."""
        return self.pairs.measure

    @property
    def kind(self) -> Kind:
        """Who read again."""
        return self.pairs.kind

    @property
    def n(self) -> int:
        """How many pairs there are."""
        return len(self.pairs.pairs)

    @property
    def query(self) -> str:
        """The comparison in an address."""
        return f"measure={self.measure.field}&kind={self.kind.value}"


@dataclass(frozen=True, slots=True)
class Bound:
    """A bound of measurement error in use, and how far the own figure is."""

    of: str
    value: ProtocolValue
    blinded: int
    needed: int

    @property
    def words(self) -> str:
        """Where the bound comes from, and how many pairs are missing until the own one."""
        text = f"{self.value.source.words}."
        if self.blinded >= self.needed:
            return text
        return (
            f"{text} The department’s own figure takes its place from {self.needed} blinded pairs "
            f"of one measure on; the most there are is {self.blinded}."
        )


@dataclass(frozen=True, slots=True)
class RepeatReadings:
    """The whole page before it becomes words."""

    all: tuple[Compared, ...]
    chosen: Compared | None
    bounds: tuple[Bound, ...]
    blinded_only: bool

    @property
    def is_empty(self) -> bool:
        """Whether nobody ever read anything twice."""
        return not any(one.n or one.pairs.left_out for one in self.all)


def repeat_readings(
    site: Site,
    values: ProtocolValues,
    *,
    until: date,
    measure: str = "",
    kind: str = "",
    blinded_only: bool = False,
) -> RepeatReadings:
    """Compare everything that was read twice; `measure` and `kind` choose what is drawn.

    Without a choice, or with one that does not exist, the most pairs are drawn. One query.
    """
    readings = measured_again(site, until=until)
    compared = tuple(
        compare(readings, one, of, blinded_only=blinded_only) for of in Kind for one in MEASURES
    )
    return RepeatReadings(
        all=compared,
        chosen=_chosen(compared, measure, kind),
        bounds=_bounds(readings, values, until),
        blinded_only=blinded_only,
    )


def compare(
    readings: Sequence[Measured], measure: Measure, kind: Kind, *, blinded_only: bool = False
) -> Compared:
    """Pair readings up and compare them; too few pairs stay uncompared."""
    pairs = pairs_of(readings, measure, kind, blinded_only=blinded_only)
    enough = len(pairs.pairs) >= FEWEST_PAIRS
    return Compared(pairs, repeated(pairs.first, pairs.second) if enough else None)


def _chosen(compared: Sequence[Compared], measure: str, kind: str) -> Compared | None:
    wanted = [one for one in compared if (one.measure.field, one.kind.value) == (measure, kind)]
    if wanted:
        return wanted[0]
    most = max(compared, key=lambda one: one.n)
    return most if most.n else None


def _bounds(readings: Sequence[Measured], values: ProtocolValues, until: date) -> tuple[Bound, ...]:
    in_use = values.with_entries(bounds_from(readings, values, until=until))
    return tuple(
        Bound(
            _BOUND_OF[id], in_use.entry(id), _most_blinded(readings, measures), pairs_needed(values)
        )
        for id, measures in BOUNDS.items()
    )


def _most_blinded(readings: Sequence[Measured], measures: Sequence[Measure]) -> int:
    found = [blinded_pairs(readings, one, of) for one in measures for of in Kind]
    return max(len(pairs.pairs) for pairs in found)
