"""A vertebra drawn from its own measurements: small for tables, large between its neighbours."""

from dataclasses import dataclass
from typing import Final

from register.domain.drawing import svg
from register.domain.outline import Heights, Number, Outline, Point, outline

STATES: Final = {
    "": "",
    "fracture": "fracture",
    "treated": "treated",
    "old": "old fracture",
}

NOT_MEASURED: Final = Heights()

GLYPH_SCALE: Final = 0.95  # px per mm, the same in every row
GLYPH_WIDTH: Final = 44.0
GLYPH_HEIGHT: Final = 34.0
_MARGIN: Final = 2.0


@dataclass(frozen=True, slots=True)
class Body:
    """One vertebra to draw.

    `gave_way` is an end plate code (superior, inferior, both, none, '' for not
    recorded); `state` one of STATES. Raises ValueError for an unknown state.
    """

    level: str
    heights: Heights = NOT_MEASURED
    gave_way: str = ""
    state: str = ""
    tilt_deg: Number | None = None

    def __post_init__(self) -> None:
        if self.state not in STATES:
            raise ValueError(f"{self.state!r} is not a state; use one of {', '.join(STATES)}.")

    @property
    def title(self) -> str:
        """The accessible name: level and state in words."""
        return ", ".join(word for word in (self.level, STATES[self.state]) if word)

    def drawn(self, tilt_deg: Number | None = None) -> Outline | None:
        """Return the outline; None when no height was measured."""
        return outline(self.heights, gave_way=self.gave_way, tilt_deg=tilt_deg)


def pen_for(state: str) -> str:
    """Return the pen of a state."""
    return {"fracture": "hot", "old": "quiet"}.get(state, "edge")


def shapes(drawn: Outline, state: str) -> str:
    """Return fill, lines and state mark of an outline that is already in px.

    The state is told by shape as well as by colour: a fracture has a filled body
    and a heavier line, a treated one a dark core, an old one two strokes across.
    """
    parts = []
    if drawn.ring:
        parts.append(svg.ring_path(drawn.ring, "body-hot" if state == "fracture" else "body"))
    parts.append(svg.stroke_path(drawn.edges, pen_for(state)))
    parts.append(_state_mark(drawn, state))
    return "".join(parts)


def tick(x: float, y: float, half: float = 9.0) -> str:
    """Return the plain tick that stands for a vertebra nobody measured."""
    return svg.line(Point(x - half, y), Point(x + half, y), "tick")


def glyph(body: Body) -> str:
    """Return the drawing for a table cell, at one scale for all rows.

    A body too large for the cell is drawn smaller, and the description says so.
    """
    drawn = body.drawn()
    x, y = GLYPH_WIDTH / 2, GLYPH_HEIGHT / 2
    if drawn is None:
        return _glyph(tick(x, y), body)
    scale = min(
        GLYPH_SCALE,
        (GLYPH_WIDTH - 2 * _MARGIN) / drawn.width_mm if drawn.width_mm else GLYPH_SCALE,
        (GLYPH_HEIGHT - 2 * _MARGIN) / drawn.height_mm,
    )
    note = " Drawn smaller than the others to fit." if scale < GLYPH_SCALE else ""
    return _glyph(shapes(_centred(drawn, x, y, scale), body.state), body, note)


def _glyph(inside: str, body: Body, note: str = "") -> str:
    return svg.drawing(
        inside,
        width=GLYPH_WIDTH,
        height=GLYPH_HEIGHT,
        title=body.title,
        about=body.heights.in_words() + note,
        kind="glyph",
    )


def _centred(drawn: Outline, x: float, y: float, scale: float) -> Outline:
    """Return the outline in px with the middle of its box at x, y."""
    xs, ys = ([p[i] for p in drawn.points] for i in (0, 1))
    off_x, off_y = (max(xs) + min(xs)) / 2, (max(ys) + min(ys)) / 2
    return svg.placed(drawn, x=x - scale * off_x, y=y - scale * off_y, scale=scale)


def _state_mark(drawn: Outline, state: str) -> str:
    if state not in ("treated", "old"):
        return ""
    xs, ys = ([p[i] for p in drawn.points] for i in (0, 1))
    x, y = (max(xs) + min(xs)) / 2, (max(ys) + min(ys)) / 2
    wide, tall = max(xs) - min(xs), max(ys) - min(ys)
    if state == "treated":
        return svg.element("ellipse", pen="cement", cx=x, cy=y, rx=wide * 0.22, ry=tall * 0.18)
    return "".join(
        svg.line(Point(x + off - 2, y + tall * 0.2), Point(x + off + 2, y - tall * 0.2), "quiet")
        for off in (-2.5, 2.5)
    )
