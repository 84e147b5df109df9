"""Which way the pictures of a series lie, and in which order they come. Pure numbers.

Positions are those of DICOM (PS3.3 C.7.6.2.1.1): mm in the patient, x to the patient's
left, y to the back, z to the head; an orientation holds the directions of rows and columns.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import cos, radians, sqrt
from statistics import median
from typing import Final

Vector = tuple[float, float, float]

# A picture counts for the plane that it lies nearest to, within this angle. Common
# practice, without a source: 45° is the middle between two planes, and a scan along a
# kyphotic segment is tilted by up to about 30°.
_NEAREST_DEG: Final = 35
_PARALLEL_DEG: Final = 2  # pictures of one stack; scanners round the directions
_SAME_MM: Final = 0.01
_GAP: Final = 1.5  # of the usual step
_MOST_GAPS: Final = 3  # told one by one

# The plane across each axis, and which way its pictures are leafed through: from the
# patient's right to the left, from front to back, from head to feet.
_PLANES: Final = (("sagittal", 1.0), ("coronal", 1.0), ("axial", -1.0))
# View positions of films (DICOM PS3.3 C.7.3.1 and C.8.11.5, from memory). A patient lying
# on the side (RLD, LLD) is seen either way, an oblique view (RLO, LLO) is neither.
_VIEWS: Final = {"AP": "frontal", "PA": "frontal", "LL": "lateral", "RL": "lateral"}
_AXES: Final = {"L": 0, "R": 0, "A": 1, "P": 1, "H": 2, "F": 2}
_SEEN_ALONG: Final = {0: "lateral", 1: "frontal"}


@dataclass(frozen=True, slots=True)
class Slice:
    """Where one picture lies. Empty position or orientation, or no number: not told."""

    position: tuple[float, ...] = ()
    orientation: tuple[float, ...] = ()
    number: int | None = None


@dataclass(frozen=True, slots=True)
class Order:
    """The order of a series: places in the list that was given, and what is odd about it."""

    order: tuple[int, ...]
    by: str  # "position" or "number"
    step_mm: float | None  # usual distance between neighbours; None: not told, or one picture
    notes: tuple[str, ...]


def plane_of(orientation: Sequence[float], *, view: str = "", patient: Sequence[str] = ()) -> str:
    """Return sagittal, coronal or axial for a slice, lateral or frontal for a film, else other.

    A slice tells it by its directions. A film is judged by the view and by the directions
    of its rows and columns, (“P”, “F”) for example, where it tells them and they agree.
    """
    if (across := normal(orientation)) is not None:
        for axis, (plane, _) in enumerate(_PLANES):
            if abs(across[axis]) >= cos(radians(_NEAREST_DEG)):
                return plane
        return "other"
    told = {_VIEWS[view]} if view in _VIEWS else set()
    if len(patient) == 2 and all(word[:1] in _AXES for word in patient):
        axes = {_AXES[word[0]] for word in patient}
        told |= {_SEEN_ALONG.get(axis, "other") for axis in {0, 1, 2} - axes}
    return told.pop() if len(told) == 1 else "other"


def normal(orientation: Sequence[float]) -> Vector | None:
    """Return the direction across a slice, of length 1; None for no proper orientation."""
    if len(orientation) != 6:
        return None
    (a, b, c), (d, e, f) = orientation[:3], orientation[3:]
    x, y, z = b * f - c * e, c * d - a * f, a * e - b * d
    length = sqrt(x * x + y * y + z * z)
    # Rows and columns of length 1 that stand at right angles; rounded ones are not refused.
    return (x / length, y / length, z / length) if 0.9 < length < 1.1 else None


def order_of(slices: Sequence[Slice]) -> Order:
    """Order slices by their position across the stack; by number where that is not told.

    Slices at the same place are ordered by number, then as they came. Those without a
    position stand at the end.
    """
    across = _direction(slices)
    placed = [i for i, one in enumerate(slices) if len(one.position) == 3]
    if across is None or not placed:
        odd = (_SEVERAL_WAYS,) if placed and across is None else ()
        return Order(_by_number(slices, range(len(slices))), "number", None, odd)
    depth = {i: _along(across, slices[i].position) for i in placed}
    order = sorted(placed, key=lambda i: (round(depth[i] / _SAME_MM), _rank(slices, i)))
    rest = _by_number(slices, [i for i in range(len(slices)) if i not in depth])
    steps = [depth[after] - depth[before] for before, after in pairwise(order)]
    apart = [step for step in steps if step > _SAME_MM]
    usual = median(apart) if apart else None
    notes = (*_same(len(steps) - len(apart)), *_gaps(steps, usual), *_unplaced(len(rest)))
    return Order((*order, *rest), "position", usual, notes)


_SEVERAL_WAYS: Final = "The pictures lie in different directions, so they are shown by number."


def _direction(slices: Sequence[Slice]) -> Vector | None:
    """Return the direction in which a stack is leafed through; None when it has several."""
    found = [across for one in slices if (across := normal(one.orientation)) is not None]
    if not found or len(found) < sum(len(one.position) == 3 for one in slices):
        return None
    first = found[0]
    if any(abs(_along(first, other)) < cos(radians(_PARALLEL_DEG)) for other in found):
        return None
    axis = max(range(3), key=lambda i: abs(first[i]))
    sign = 1.0 if first[axis] * _PLANES[axis][1] > 0 else -1.0
    return (first[0] * sign, first[1] * sign, first[2] * sign)


def _along(direction: Vector, position: Sequence[float]) -> float:
    return sum(one * other for one, other in zip(direction, position, strict=True))


def _rank(slices: Sequence[Slice], i: int) -> tuple[bool, int, int]:
    number = slices[i].number
    return number is None, number or 0, i


def _by_number(slices: Sequence[Slice], places: Sequence[int]) -> tuple[int, ...]:
    return tuple(sorted(places, key=lambda i: _rank(slices, i)))


def _same(count: int) -> tuple[str, ...]:
    match count:
        case 0:
            return ()
        case 1:
            return ("One picture lies at the same place as the one before it.",)
    return (f"{count} pictures lie at the same place as the one before.",)


def _gaps(steps: Sequence[float], usual: float | None) -> tuple[str, ...]:
    """Name where slices seem to be missing."""
    found = [
        f"Between pictures {i + 1} and {i + 2} there are {step:.1f} mm instead of {usual:.1f} mm; "
        "one may be missing."
        for i, step in enumerate(steps)
        if usual is not None and step > usual * _GAP
    ]
    more = len(found) - _MOST_GAPS
    return (*found[:_MOST_GAPS], *([f"There are {more} more such gaps."] if more > 0 else []))


def _unplaced(count: int) -> tuple[str, ...]:
    match count:
        case 0:
            return ()
        case 1:
            return ("One picture does not say where it lies; it stands at the end.",)
    return (f"{count} pictures do not say where they lie; they stand at the end.",)
