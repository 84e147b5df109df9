"""Measurement error as a department found it from its own repeat readings."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_CEILING, Decimal
from typing import Final

from register.domain.days import day_words
from register.domain.protocol import (
    ProtocolError,
    ProtocolValue,
    ProtocolValues,
    Source,
    SourceKind,
    shipped,
)
from register.domain.repeats import ANGLES, HEIGHTS, Kind, Measure, Measured, Pairs, pairs_of
from reports.stats.agreement import Repeatability, repeatability

NEEDED: Final = "measures.own_repeatability_from_pairs"
BOUNDS: Final = {"measures.height_error_mm": HEIGHTS, "measures.angle_error_deg": ANGLES}


@dataclass(frozen=True, slots=True)
class OwnError:
    """The department's repeatability of one measure, from blinded pairs."""

    measure: Measure
    kind: Kind
    n: int
    found: Repeatability

    @property
    def bound(self) -> Decimal:
        """The coefficient, rounded up to a tenth: never smaller than what was found."""
        return Decimal(str(self.found.coefficient)).quantize(Decimal("0.1"), ROUND_CEILING)


def bounds_from(
    readings: Sequence[Measured], values: ProtocolValues, *, until: date
) -> tuple[ProtocolValue, ...]:
    """Return the bounds that follow from readings, as values of the protocol with their source."""
    found = []
    for bound, measures in BOUNDS.items():
        own = own_error(readings, measures, needed=pairs_needed(values))
        if own is not None:
            source = _source(own, until)
            found.append(
                values.with_value(bound, own.bound, source=source, since=until).entry(bound)
            )
    return tuple(found)


def own_error(
    readings: Sequence[Measured], measures: Iterable[Measure], *, needed: int
) -> OwnError | None:
    """Return the largest repeatability among measures and kinds with enough blinded pairs.

    The largest, so that no change is called real that another of the measures, or another
    reader, would not show. None without enough pairs, or when all readings are alike: then
    they were copied.
    """
    found = []
    for measure in measures:
        for kind in Kind:
            pairs = blinded_pairs(readings, measure, kind)
            if len(pairs.pairs) >= needed:
                coefficient = repeatability(first=pairs.first, second=pairs.second)
                found.append(OwnError(measure, kind, len(pairs.pairs), coefficient))
    largest = max(found, key=lambda own: own.found.coefficient, default=None)
    return largest if largest and largest.bound > 0 else None


def blinded_pairs(readings: Iterable[Measured], measure: Measure, kind: Kind) -> Pairs:
    """Return the blinded pairs alone; what was not marked in the register is none of them."""
    marked = [one for one in readings if one.marking is not None]
    return pairs_of(marked, measure, kind, blinded_only=True)


def pairs_needed(values: ProtocolValues) -> int:
    """From how many blinded pairs on the own figure replaces the published one.

    A protocol agreed before there was such a number has the shipped one.
    """
    try:
        return int(values.number(NEEDED))
    except ProtocolError:
        return int(shipped(values.day).number(NEEDED))


def _source(own: OwnError, until: date) -> Source:
    ends = (own.found.within_sd_lower, own.found.within_sd_upper)
    factor = own.found.coefficient / own.found.within_sd
    interval = " to ".join(f"{end * factor:.1f}" for end in ends if end is not None)
    return Source(
        key="own-repeat-readings",
        citation=(
            f"Repeatability of this department up to {day_words(until)}: {own.n} blinded pairs, "
            f"{own.measure.name.lower()}, {own.kind.words}, 95 % interval {interval} "
            f"{own.measure.unit}"
        ),
        kind=SourceKind.MEASURED_HERE,
        checked_on=until,
        place="repeat readings in this register",
    )
