"""A patient's course through time: one panel per measure, on one axis of days.

Time is to scale. Neighbouring values are joined; a contact that was due and
gave no value is a cross on the base line, and the line is broken there, so that
silence never looks like a result. The ends of each panel are fixed by what is
measured, so that patients can be compared.
"""

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from register.domain.drawing import svg
from register.domain.outline import Number, Point

WIDTH: Final = 680.0
_PANEL: Final = 104.0
_GAP: Final = 34.0
_LEFT: Final = 40.0
_RIGHT: Final = 52.0
_TOP: Final = 26.0
_AXIS: Final = 34.0
_MONTH: Final = 365.25 / 12
_MONTHS: Final = (0, 1, 2, 3, 6, 9, 12, 18, 24, 36, 48, 60)


@dataclass(frozen=True, slots=True)
class Dot:
    """A value on a day counted from the anchor; None where it was due and not given.

    Only dots of the same `line` are joined. `mark` is full, open or diamond.
    """

    day: int
    value: Number | None
    name: str
    mark: str = "full"
    line: str = ""


@dataclass(frozen=True, slots=True)
class Panel:
    """One measure with its fixed ends. `has_figures` prints every value, not only the last."""

    label: str
    unit: str
    low: int
    high: int
    dots: tuple[Dot, ...]
    has_figures: bool = False

    @property
    def words(self) -> str:
        """Every value in words."""
        told = [
            f"{'not given' if dot.value is None else dot.value} {dot.name}"
            for dot in sorted(self.dots, key=lambda dot: dot.day)
        ]
        return f"{self.label}, {self.unit}: {', '.join(told) or 'nothing recorded'}"


@dataclass(frozen=True, slots=True)
class Band:
    """The window of a contact, in days from the anchor; both ends belong to it."""

    opens: int
    closes: int


@dataclass(frozen=True, slots=True)
class Timeline:
    """The whole figure. `today` is a day from the anchor, drawn as a line; None leaves it out."""

    title: str
    panels: tuple[Panel, ...]
    bands: tuple[Band, ...]
    anchor_name: str
    today: int | None = None

    @property
    def days(self) -> tuple[int, int]:
        """First and last day of the axis: everything that is drawn, and at least a year."""
        dots = [dot.day for panel in self.panels for dot in panel.dots]
        ends = [day for band in self.bands for day in (band.opens, band.closes)]
        return min(-30, *dots, *ends, 0), max(365, *dots, *ends, 0)


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where the values of one panel lie, in px."""

    first: int
    last: int
    top: float
    low: int
    high: int

    def x(self, day: float) -> float:
        return _LEFT + (day - self.first) / (self.last - self.first) * (WIDTH - _LEFT - _RIGHT)

    def at(self, dot: Dot) -> Point:
        value = self.low if dot.value is None else float(dot.value)
        share = (value - self.low) / (self.high - self.low)
        return Point(self.x(dot.day), self.top + _PANEL * (1 - min(max(share, 0.0), 1.0)))

    @property
    def base(self) -> float:
        return self.top + _PANEL


def timeline(shown: Timeline) -> str:
    """Return the figure as SVG."""
    first, last = shown.days
    parts: list[str] = []
    top = _TOP
    for panel in shown.panels:
        frame = _Frame(first, last, top, panel.low, panel.high)
        parts += _panel(panel, shown, frame)
        top += _PANEL + _GAP
    bottom = top - _GAP
    parts += _months(_Frame(first, last, bottom, 0, 1), shown.anchor_name)
    return svg.drawing(
        *parts,
        width=WIDTH,
        height=bottom + _AXIS,
        title=shown.title,
        about=". ".join(panel.words for panel in shown.panels),
        kind="timeline",
    )


def _panel(panel: Panel, shown: Timeline, frame: _Frame) -> Iterable[str]:
    left, right = frame.x(frame.first), frame.x(frame.last)
    yield from (_band(band, frame) for band in shown.bands)
    yield svg.text(0.0, frame.top - 9, f"{panel.label}, {panel.unit}", font_weight="600")
    for value in (panel.low, (panel.low + panel.high) / 2, panel.high):
        y = frame.at(Dot(0, value, "")).y
        yield svg.line(Point(left, y), Point(right, y), "hair")
        yield svg.text(_LEFT - 6, y + 4.5, f"{value:g}", "word-quiet", text_anchor="end")
    yield svg.line(Point(frame.x(0), frame.top), Point(frame.x(0), frame.base), "quiet")
    if shown.today is not None and frame.first < shown.today < frame.last:
        x = frame.x(shown.today)
        yield svg.line(Point(x, frame.top), Point(x, frame.base), "quiet-guess")
    yield from _dots(panel, frame)


def _band(band: Band, frame: _Frame) -> str:
    x = frame.x(band.opens)
    width = max(frame.x(band.closes) - x, 2.0)
    return svg.element("rect", pen="band", x=x, y=frame.top, width=width, height=_PANEL)


def _dots(panel: Panel, frame: _Frame) -> Iterable[str]:
    dots = sorted(panel.dots, key=lambda dot: (dot.line, dot.day))
    for _, same in itertools.groupby(dots, key=lambda dot: dot.line):
        line = list(same)
        yield from (_joined(frame, pair) for pair in itertools.pairwise(line))
        yield from (_mark(dot, frame) for dot in line)
    known = [dot for dot in sorted(dots, key=lambda dot: dot.day) if dot.value is not None]
    for dot in known if panel.has_figures else known[-1:]:
        at = frame.at(dot)
        yield svg.text(
            at.x + 8,
            at.y + 4.5,
            str(dot.value),
            font_weight="600",
            paint_order="stroke",
            stroke=svg.SHEET,
            stroke_width=3,
        )


def _joined(frame: _Frame, pair: Sequence[Dot]) -> str:
    if any(dot.value is None for dot in pair):
        return ""
    return svg.line(frame.at(pair[0]), frame.at(pair[1]), "edge")


def _mark(dot: Dot, frame: _Frame) -> str:
    at = frame.at(dot)
    if dot.value is None:
        return "".join(
            svg.line(Point(at.x - 4, frame.base - d), Point(at.x + 4, frame.base + d), "quiet")
            for d in (4, -4)
        )
    if dot.mark == "diamond":
        corners = f"{at.x:g},{at.y - 5:g} {at.x + 5:g},{at.y:g} {at.x:g},{at.y + 5:g} "
        return svg.element("polygon", pen="ring", points=f"{corners}{at.x - 5:g},{at.y:g}")
    return svg.element("circle", pen="dot" if dot.mark == "full" else "ring", cx=at.x, cy=at.y, r=4)


def _months(frame: _Frame, anchor_name: str) -> Iterable[str]:
    """Return the axis: months from the anchor."""
    yield svg.line(
        Point(frame.x(frame.first), frame.top), Point(frame.x(frame.last), frame.top), "measure"
    )
    for months in _MONTHS:
        if months * _MONTH > frame.last:
            break
        x = frame.x(months * _MONTH)
        yield svg.line(Point(x, frame.top), Point(x, frame.top + 5), "measure")
        yield svg.text(x, frame.top + 18, str(months), "word-quiet", text_anchor="middle")
    yield svg.text(WIDTH - _RIGHT + 8, frame.top + 18, "months", "word-quiet")
    yield svg.text(frame.x(0), frame.top + 32, anchor_name, "word-quiet", text_anchor="middle")
