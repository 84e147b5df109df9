"""How far a measured number may be off, from how far a mark may be off.

Each mark misses its place by the same standard deviation in both directions,
independently of the others. To first order the variance of a number is then
the sum over all marks of (its change for a small move of the mark)² times the
variance of a mark. The tests confirm this against a simulation. It holds for
one reader and one picture; posture and the cut of the picture are not in it.
"""

from dataclasses import dataclass
from math import sqrt
from typing import Final

from register.domain.measuring.calibration import Spacing
from register.domain.measuring.points import Point
from register.domain.measuring.quantities import MM, Quantity
from register.domain.protocol import ProtocolError, ProtocolValues, SourceKind, shipped

# Half of the interval that holds 95 % of a normal distribution, in standard deviations.
WIDTH: Final = 1.96
_STEP: Final = 1e-4
_NO_SLOPE: Final = 1e-6  # far below 1 mm, 1 % or 1° for each mm, above what rounding leaves of 0

POINT_ERROR: Final = "measures.point_error_mm"
HEIGHT_BOUND: Final = "measures.height_error_mm"


@dataclass(frozen=True, slots=True)
class Value:
    """A number and the ± of its 95 % interval, in the same unit; None is not known."""

    value: float | None
    error: float | None = None


NOT_KNOWN: Final = Value(None)


@dataclass(frozen=True, slots=True)
class PointError:
    """By how much a mark misses its place: standard deviation in mm, each way; and who says so."""

    sd_mm: float
    sentence: str


def point_error(values: ProtocolValues) -> PointError:
    """Return the error of a mark: the department's own where it has one, else the protocol's.

    Where the bound of a height is the repeatability that the department has
    measured, the error of a mark follows from it. A protocol agreed before
    there was an error of a mark has the shipped one.
    """
    bound = values.entry(HEIGHT_BOUND)
    if bound.source.kind is SourceKind.MEASURED_HERE:
        return PointError(point_sd_of(float(values.number(HEIGHT_BOUND))), bound.source.words)
    try:
        sd_mm = values.number(POINT_ERROR)
    except ProtocolError:
        values = shipped(values.day)
        sd_mm = values.number(POINT_ERROR)
    return PointError(float(sd_mm), values.entry(POINT_ERROR).source.words)


def point_sd_of(repeatability_mm: float) -> float:
    """Return the error of a mark, from the 95 % limit of how two readings of a height differ.

    Two readings of a height are four marks, so the difference has twice the
    standard deviation of a mark.
    """
    return repeatability_mm / (WIDTH * 2)


def measured(made: Quantity | None, spacing: Spacing, point_sd_mm: float) -> Value:
    """Return a quantity with its error.

    Without calibration a length in mm is not known, and ratios and angles have
    no error, because how many pixels a mark is off depends on the scale. None
    (a mark is missing) and an undefined formula are not known either.
    """
    value = made.value if made is not None else None
    if made is None or value is None or (made.unit == MM and not spacing.has_mm):
        return NOT_KNOWN
    if not spacing.has_mm:
        return Value(value)
    slope = _slope(made)
    if slope < _NO_SLOPE:
        return Value(value)
    scale = value * _scale_sd(spacing, point_sd_mm) if made.unit == MM else 0.0
    return Value(value, WIDTH * sqrt((slope * point_sd_mm) ** 2 + scale**2))


def _slope(made: Quantity) -> float:
    """Return how much the number changes with the marks: the length of its gradient, per mm.

    0 where it has none, as for a length of 0: then the error is not known.
    """
    total = 0.0
    for place in range(len(made.points)):
        for step in (Point(_STEP, 0.0), Point(0.0, _STEP)):
            ahead, behind = _moved(made, place, step), _moved(made, place, Point(-step.x, -step.y))
            if ahead is None or behind is None:
                return 0.0
            total += ((ahead - behind) / (2 * _STEP)) ** 2
    return sqrt(total)


def _moved(made: Quantity, place: int, step: Point) -> float | None:
    points = list(made.points)
    points[place] = Point(points[place].x + step.x, points[place].y + step.y)
    return made.formula(*points)


def _scale_sd(spacing: Spacing, point_sd_mm: float) -> float:
    """Return the relative error of the scale: of a known length, that of its own two marks."""
    return sqrt(2) * point_sd_mm / spacing.known_mm if spacing.known_mm else 0.0
