"""Widths of the pedicle in published series on one scale, with those of the plan."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Final

from register.domain.approach.widths import Width
from register.domain.drawing import svg
from register.domain.outline import Point

WIDTH: Final = 324.0  # px: whole on the screen of a telephone
_EDGE: Final = 14.0
_ROW: Final = 36.0  # the name of a series stands above its bar
_TOP: Final = 34.0
_ENDS: Final = (0, 26)  # mm; the widest band of the shipped series ends at 26.2
_STEP: Final = 5


def width_strip(level: str, series: Sequence[Width], measured: Mapping[str, Decimal]) -> str:
    """Return the strip of one level.

    A bar is mean ± 2 SD and stands only where the series gives an SD of the outer
    width; elsewhere the mean alone is a small ring. `measured` maps left and right
    to the width planned with, in mm, drawn as a line through all rows.
    """
    bottom = _TOP + _ROW * len(series)
    parts = [_scale(bottom)]
    parts += [_row(width, _TOP + _ROW * n + 24) for n, width in enumerate(series)]
    lowest = min(measured, key=lambda side: measured[side], default="")
    parts += [_measured(side, mm, bottom, side == lowest) for side, mm in measured.items()]
    return svg.drawing(
        *parts,
        width=WIDTH,
        height=bottom + 26,
        title=f"Width of the pedicle at {level} in published series",
        about="Every number stands in the table below.",
        kind="widths",
    )


def _x(mm: Decimal | int) -> float:
    low, high = _ENDS
    inside = min(max(float(mm), low), high)
    return _EDGE + (WIDTH - 2 * _EDGE) * (inside - low) / (high - low)


def _scale(bottom: float) -> str:
    parts = []
    for mm in range(_ENDS[0], _ENDS[1] + 1, _STEP):
        parts.append(svg.line(Point(_x(mm), _TOP), Point(_x(mm), bottom), "hair"))
        words = f"{mm} mm" if mm == _STEP * (_ENDS[1] // _STEP) else f"{mm}"
        parts.append(svg.text(_x(mm), bottom + 18, words, "word-quiet", text_anchor="middle"))
    return "".join(parts)


def _row(width: Width, y: float) -> str:
    name = svg.text(0, y - 10, width.name, "word-quiet")
    band = width.band_mm
    mean = Point(_x(width.mean_mm), y)
    if band is None:
        return name + svg.element("circle", pen="ring", cx=mean.x, cy=mean.y, r=3.5)
    left, right = (_x(end) for end in band)
    bar = svg.element("rect", pen="band", x=left, y=y - 7, width=right - left, height=14.0)
    return name + bar + svg.line(Point(mean.x, y - 7), Point(mean.x, y + 7), "measure")


def _measured(side: str, mm: Decimal, bottom: float, is_lowest: bool) -> str:
    """Return a width of the plan as a line; the lower one has its words on the left."""
    at = _x(mm)
    line = svg.line(Point(at, _TOP - 4), Point(at, bottom), "run")
    words = f"{side} {mm} mm"
    if is_lowest:
        return line + svg.text(at - 4, 20, words, "word", text_anchor="end")
    return line + svg.text(at + 4, 20, words, "word")
