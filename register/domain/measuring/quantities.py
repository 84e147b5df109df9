"""A number made of marks: its formula and the places it is applied to.

Kept apart from its value, so that the error of a mark can be carried to it by
moving each place a little (`error`). A formula takes places in mm (or, without
calibration, in widths of a pixel) and answers None where it is not defined.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import atan2, degrees
from typing import Final

from register.domain.measuring.points import Body, Point, arrow, cross, distance, dot, midpoint

MM: Final = "mm"
PERCENT: Final = "%"
DEGREES: Final = "°"

Formula = Callable[..., float | None]


@dataclass(frozen=True, slots=True)
class Quantity:
    """A formula over places. No place stands twice. Lengths in mm need a calibrated image."""

    formula: Formula
    points: tuple[Point, ...]
    unit: str

    @property
    def value(self) -> float | None:
        """The number; None where the formula is not defined."""
        return self.formula(*self.points)


def quantity(formula: Formula, body: Body, names: Sequence[str], unit: str) -> Quantity | None:
    """Return the formula over these marks of a body; None when one of them is not marked."""
    if not all(name in body for name in names):
        return None
    return Quantity(formula, tuple(body[name] for name in names), unit)


# --- formulas --------------------------------------------------------------------


def mean_length(*ends: Point) -> float:
    """Return the mean length of lines given by both their ends, one line after the other."""
    lengths = [distance(*line) for line in zip(ends[::2], ends[1::2], strict=True)]
    return sum(lengths) / len(lengths)


def share_percent(start: Point, end: Point, *ends: Point) -> float | None:
    """Return the length of a line in percent of the mean of others; None when that is 0."""
    whole = mean_length(*ends)
    return distance(start, end) / whole * 100 if whole else None


def loss_percent(start: Point, end: Point, *ends: Point) -> float | None:
    """Return by how many percent a line is shorter than the mean of others; below 0 when longer."""
    share = share_percent(start, end, *ends)
    return None if share is None else 100 - share


def shortfall(start: Point, end: Point, *ends: Point) -> float:
    """Return how much shorter a line is than the mean of others."""
    return mean_length(*ends) - distance(start, end)


def opening_deg(
    upper_front: Point, upper_back: Point, lower_front: Point, lower_back: Point
) -> float | None:
    """Return the angle between two end plates in degrees, positive when they close to the front.

    Which way up and which way round comes from the marks alone: from the upper
    to the lower end plate is down, from the back to the front corner is
    forwards. So turning or mirroring the picture changes nothing. None when the
    marks have no direction.
    """
    upper, lower = arrow(upper_back, upper_front), arrow(lower_back, lower_front)
    down = arrow(midpoint(upper_front, upper_back), midpoint(lower_front, lower_back))
    forwards = Point(upper.x + lower.x, upper.y + lower.y)
    hand = cross(forwards, down)
    if not hand or upper == (0, 0) or lower == (0, 0):
        return None
    turn = degrees(atan2(cross(lower, upper), dot(lower, upper)))
    return turn if hand > 0 else -turn


def fall_deg(low_side: Point, high_side: Point) -> float | None:
    """Return how steeply a line falls towards its first end, against the rows of the picture.

    From -90 to 90°; mirroring changes nothing, turning the picture does. None
    for a line without length.
    """
    if low_side == high_side:
        return None
    return degrees(atan2(low_side.y - high_side.y, abs(low_side.x - high_side.x)))
