"""What a figure shows, without saying how it is drawn: two drawers and a table read it.

A value of None is a gap: no drawer joins the points on either side of it, and
the table prints a dash. Places (`at`) and values are numbers in the units that
the axes name; labels are plain text.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from reports.wording import INTERVAL, NONE, fixed, span


class Shape(StrEnum):
    """How the points of a series are shown. An interval is drawn wherever a point has one."""

    LINE = "line"
    POINTS = "points"
    BARS = "bars"


@dataclass(frozen=True, slots=True)
class Tick:
    """A labelled place on an axis."""

    at: float
    label: str


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis: title with its unit, a range that is fixed and shown, and its ticks."""

    title: str
    low: float
    high: float
    ticks: tuple[Tick, ...]
    digits: int = 0
    unit: str = ""

    def __post_init__(self) -> None:
        """Refuse an axis without range or ticks."""
        if not self.low < self.high or not self.ticks:
            raise ValueError(f"The axis {self.title!r} needs a range and at least one tick.")


@dataclass(frozen=True, slots=True)
class Point:
    """One value at one place, with its limits and the number of cases behind it."""

    at: float
    place: str
    value: float | None
    lower: float | None = None
    upper: float | None = None
    n: int | None = None

    def __post_init__(self) -> None:
        """Refuse NaN and infinity; a missing value is None."""
        for number in (self.at, self.value, self.lower, self.upper):
            if number is not None and not math.isfinite(number):
                raise ValueError(f"{self.place}: {number} is not a value; use None for a gap.")


@dataclass(frozen=True, slots=True)
class Series:
    """Points of one kind, in order of their place."""

    name: str
    shape: Shape
    points: tuple[Point, ...]

    @property
    def latest(self) -> Point | None:
        """The last point that has a value."""
        known = [point for point in self.points if point.value is not None]
        return known[-1] if known else None


@dataclass(frozen=True, slots=True)
class Reference:
    """A value that the eye should compare with: a dashed line, explained under the title."""

    value: float
    label: str


@dataclass(frozen=True, slots=True)
class Figure:
    """A whole figure. `lying` puts the places on the upright axis, first place on top.

    `lines` are further dashed lines of an upright figure, each named at its right end.
    """

    id: str
    title: str
    places: Axis
    values: Axis
    series: tuple[Series, ...]
    method: str
    reference: Reference | None = None
    lying: bool = False
    spread: float = 0.0
    lines: tuple[Reference, ...] = ()

    @property
    def explained(self) -> str:
        """What the marks mean and how they were computed, in words."""
        if not self.dashed:
            return self.method
        lines = "; ".join(line.label for line in self.dashed)
        return f"{self.method} Dashed line{'s' if len(self.dashed) > 1 else ''}: {lines}."

    @property
    def dashed(self) -> tuple[Reference, ...]:
        """Every dashed line."""
        return (*([self.reference] if self.reference else []), *self.lines)

    def shift(self, index: int) -> float:
        """How far series `index` stands beside its place, so that intervals do not overlap."""
        return (index - (len(self.series) - 1) / 2) * self.spread

    @property
    def is_empty(self) -> bool:
        """Whether there is no value at all; such a figure is not drawn."""
        return all(series.latest is None for series in self.series)


@dataclass(frozen=True, slots=True)
class FigureTable:
    """The numbers of a figure as text."""

    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def even_ticks(low: int, high: int, step: int) -> tuple[Tick, ...]:
    """Return ticks at whole numbers, labelled with themselves."""
    return tuple(Tick(at, fixed(at)) for at in range(low, high + 1, step))


def as_table(figure: Figure) -> FigureTable:
    """Return the figure's numbers: one row for each place, columns for each series."""
    header: list[str] = [""]
    columns: list[list[str]] = [_places(figure)]
    for series in figure.series:
        name = series.name if len(figure.series) > 1 else figure.values.title
        limits = any(point.lower is not None for point in series.points)
        name = f"{name}, {figure.values.unit}" if figure.values.unit else name
        header.append(f"{name} ({INTERVAL})" if limits else name)
        columns.append(_column(figure, series, lambda p: _value(p, figure.values.digits)))
        if any(point.n is not None for point in series.points):
            header.append("n")
            columns.append(_column(figure, series, lambda p: fixed(p.n)))
    return FigureTable(tuple(header), tuple(zip(*columns, strict=True)))


def _value(point: Point, digits: int) -> str:
    if point.lower is None:
        return fixed(point.value, digits)
    return f"{fixed(point.value, digits)} ({span(point.lower, point.upper, digits)})"


def _places(figure: Figure) -> list[str]:
    """All places in order, each once; a place belongs to the table also when it is a gap."""
    seen: dict[float, str] = {}
    for series in figure.series:
        for point in series.points:
            seen.setdefault(point.at, point.place)
    return [seen[at] for at in sorted(seen)]


def _column(figure: Figure, series: Series, cell: Callable[[Point], str]) -> list[str]:
    cells = {point.place: cell(point) for point in series.points}
    return [cells.get(place, NONE) for place in _places(figure)]
