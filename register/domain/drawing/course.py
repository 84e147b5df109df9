"""The course of one score through time: small, to scale, with gaps where nobody asked."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from register.domain.drawing import svg
from register.domain.outline import Number, Point

WIDTH: Final = 132.0
HEIGHT: Final = 34.0
_LEFT: Final = 20.0  # room for the first value in figures, as on the right
_RIGHT: Final = 22.0  # room for the latest value in figures
_TOP: Final = 6.0
_BOTTOM: Final = 28.0


@dataclass(frozen=True, slots=True)
class CoursePoint:
    """A contact, in days from the procedure, and its score; None when it gave none."""

    day: int
    value: Number | None
    name: str


@dataclass(frozen=True, slots=True)
class Course:
    """A score's course. `low` and `high` are the ends of the instrument, so all rows compare."""

    label: str
    points: tuple[CoursePoint, ...]
    low: int = 0
    high: int = 10

    @property
    def title(self) -> str:
        """Every value in words: "Pain: 8 before, 3 at 6 weeks, not recorded at 1 year"."""
        if not self.points:
            return f"{self.label}: nothing recorded"
        told = [
            f"{'not recorded' if point.value is None else point.value} {point.name}"
            for point in self.points
        ]
        return f"{self.label}: {', '.join(told)}"


def course(shown: Course) -> str:
    """Return the drawing. Neighbouring values are joined, a missing one leaves a gap."""
    points = sorted(shown.points, key=lambda point: point.day)
    parts = [svg.line(Point(_LEFT, _BOTTOM), Point(WIDTH - _RIGHT, _BOTTOM), "hair")]
    parts += [_joined(shown, pair) for pair in itertools.pairwise(points)]
    parts += [_mark(shown, point) for point in points]
    known = [point for point in points if point.value is not None]
    if known:
        parts.append(_figure(shown, known[-1], 6, "start"))
    if len(known) > 1:
        parts.append(_figure(shown, known[0], -6, "end"))
    return svg.drawing(
        *parts,
        width=WIDTH,
        height=HEIGHT,
        title=shown.title,
        about=f"Scale {shown.low} to {shown.high}; time to scale; a gap is a missing value.",
        kind="course",
    )


def _joined(shown: Course, pair: Sequence[CoursePoint]) -> str:
    if any(point.value is None for point in pair):
        return ""
    return svg.line(_at(shown, pair[0]), _at(shown, pair[1]), "edge")


def _mark(shown: Course, point: CoursePoint) -> str:
    """Return a dot for a value, or a small cross on the base line for a missing one."""
    at = _at(shown, point)
    if point.value is not None:
        return svg.element("circle", pen="dot", cx=at.x, cy=at.y, r=2.4)
    return "".join(
        svg.line(Point(at.x - 2.5, _BOTTOM - d), Point(at.x + 2.5, _BOTTOM + d), "quiet")
        for d in (2.5, -2.5)
    )


def _figure(shown: Course, point: CoursePoint, beside: float, anchor: str) -> str:
    at = _at(shown, point)
    return svg.text(
        at.x + beside, at.y + 4.5, str(point.value), text_anchor=anchor, font_weight="600"
    )


def _at(shown: Course, point: CoursePoint) -> Point:
    days = [p.day for p in shown.points]
    first, last = min(days), max(days)
    share = (point.day - first) / (last - first) if last > first else 0.0
    value = shown.low if point.value is None else float(point.value)
    rise = (value - shown.low) / (shown.high - shown.low)
    x = _LEFT + share * (WIDTH - _LEFT - _RIGHT)
    return Point(x, _BOTTOM - rise * (_BOTTOM - _TOP))
