"""One vertebra between its neighbours, to scale, with dimension lines."""

from dataclasses import dataclass
from math import atan2, degrees
from typing import Final

from register.domain.drawing import svg
from register.domain.drawing.vertebra import STATES, Body, pen_for, shapes, tick
from register.domain.outline import (
    ENDS,
    NOMINAL_DEPTH_MM,
    PLACES,
    Heights,
    Number,
    Outline,
    Point,
    outline,
)

WIDTH: Final = 420.0
_CENTRE: Final = WIDTH / 2
_LARGEST_SCALE: Final = 5.6  # px per mm
_BODY_WIDTH: Final = 176.0  # px that the widest body may take between both dimension lines
_GAP: Final = 30.0  # px between the bodies; discs are not measured, so not to scale
_BESIDE: Final = 20.0  # px from a height to its dimension line
_DEPTH_ROOM: Final = 26.0
_TICK_ROOM: Final = 26.0


@dataclass(frozen=True, slots=True)
class Closeup:
    """What the large drawing shows.

    `error_mm` is the measurement error printed after each height that has no ±
    of its own; None prints none. `expected` are heights that the body would be
    expected to have, with `expected_from` saying in words where they come from
    ("T12 and L2").
    """

    body: Body
    above: Body | None = None
    below: Body | None = None
    error_mm: Number | None = None
    expected: Heights | None = None
    expected_from: str = ""

    @property
    def caption(self) -> str:
        """What a reader must know to read the drawing, in sentences."""
        told = ["Anterior on the left. Bodies to scale, the spaces between them not."]
        if any(body.heights.any_height and _guesses(body) for body in self._bodies()):
            told.append("Dashed: not measured.")
        shown = [b for b in self._bodies() if b.heights.any_height]
        if any(body.heights.depth_mm is None for body in shown):
            told.append(f"A depth that was not measured is drawn as {NOMINAL_DEPTH_MM:g} mm.")
        if marked := [b.level for b in self._bodies() if b.heights.marked]:
            told.append(f"Shape as marked on the image: {', '.join(marked)}.")
        if self.expected is not None and self.expected.any_height:
            source = f" from {self.expected_from}" if self.expected_from else ""
            told.append(f"Dash and dot: height expected{source}.")
        return " ".join(told)

    @property
    def about(self) -> str:
        """Every measured length of every body drawn, in words."""
        return " ".join(f"{body.level}: {body.heights.in_words()}" for body in self._bodies())

    def _bodies(self) -> list[Body]:
        return [body for body in (self.above, self.body, self.below) if body is not None]


def closeup(shown: Closeup) -> str:
    """Return the large drawing.

    The body itself lies level; its neighbours are turned against it as their
    upper end plates are, where both tilts were measured.
    """
    bodies = shown._bodies()
    outlines = [body.drawn(_turn(body, shown.body)) for body in bodies]
    scale = _scale(outlines)
    parts, y = [], 12.0
    for body, drawn in zip(bodies, outlines, strict=True):
        room = drawn.height_mm * scale if drawn else _TICK_ROOM
        parts.append(_row(shown, body, drawn, y + room / 2, scale))
        y += room + _GAP + (_DEPTH_ROOM if body is shown.body else 0)
    return svg.drawing(
        *parts,
        width=WIDTH,
        height=y - _GAP + 12,
        title=f"{shown.body.title}, lateral view, drawn from its measurements",
        about=shown.about,
        kind="closeup",
    )


def _row(shown: Closeup, body: Body, drawn: Outline | None, y: float, scale: float) -> str:
    if drawn is None:
        words = f"{body.level}, not measured"
        return tick(_CENTRE, y, 26) + svg.text(_CENTRE + 36, y + 4, words, "word-quiet")
    if body is shown.body:
        return _main(shown, drawn, y, scale)
    at = svg.placed(drawn, x=_CENTRE, y=y, scale=scale)
    neighbour = shapes(at, body.state) if body.state else _quiet(at)
    return neighbour + svg.text(_CENTRE, y + 4, _label(body), "word-quiet", text_anchor="middle")


def _quiet(drawn: Outline) -> str:
    fill = svg.ring_path(drawn.ring, "body") if drawn.ring else ""
    return fill + svg.stroke_path(drawn.edges, "quiet")


def _label(body: Body) -> str:
    return f"{body.level} {STATES[body.state]}".strip()


def _main(shown: Closeup, drawn: Outline, y: float, scale: float) -> str:
    body = shown.body
    at = svg.placed(drawn, x=_CENTRE, y=y, scale=scale)
    parts = [_expected(shown, y, scale), shapes(at, body.state if body.state != "treated" else "")]
    parts += [
        svg.element(
            "circle", pen="mark" if body.state == "fracture" else "knob", cx=p.x, cy=p.y, r=3
        )
        for p in at.marks
    ]
    half = scale * _depth(body) / 2
    pen = "word-hot" if pen_for(body.state) == "hot" else "word"
    parts.append(
        svg.text(_CENTRE - half / 2, y + 6, body.level, pen, text_anchor="middle", font_size="19")
    )
    parts += _dimensions(shown, at, y, half)
    return "".join(parts)


def _expected(shown: Closeup, y: float, scale: float) -> str:
    if shown.expected is None:
        return ""
    depth = shown.body.heights.depth_mm
    wanted = Heights(
        shown.expected.anterior_mm, shown.expected.middle_mm, shown.expected.posterior_mm, depth
    )
    drawn = outline(wanted, gave_way="")
    if drawn is None:
        return ""
    at = svg.placed(drawn, x=_CENTRE, y=y, scale=scale)
    return "".join(
        svg.stroke_path([type(edge)(edge.points, True, edge.curved)], "expected")
        for edge in at.edges
    )


def _dimensions(shown: Closeup, at: Outline, y: float, half: float) -> list[str]:
    heights = shown.body.heights
    errors = dict.fromkeys(PLACES, shown.error_mm) | dict(heights.plus_minus)
    left, right = _CENTRE - half - _BESIDE, _CENTRE + half + _BESIDE
    parts = [
        _upright(at, "anterior", Point(left, y), heights.anterior_mm, errors["anterior"]),
        _upright(at, "posterior", Point(right, y), heights.posterior_mm, errors["posterior"]),
    ]
    if heights.middle_mm is not None and (middle := at.height("middle")):
        upper, lower = middle
        parts.append(svg.line(upper, lower, "measure"))
        label = _measured(heights.middle_mm, errors["middle"]).removesuffix(" mm")
        parts.append(svg.text(_CENTRE + 6, (upper.y + lower.y) / 2 + 4, label, font_size="12"))
    return [*parts, _depth_line(heights, max(p.y for p in at.points) + 15, half)]


def _upright(
    at: Outline, place: str, beside: Point, value: Number | None, error: Number | str | None
) -> str:
    """Return the dimension line of the anterior or posterior height, its value and its name."""
    front = place == "anterior"
    anchor, x = ("end", beside.x - 8) if front else ("start", beside.x + 8)
    ends = at.height(place)
    away = -_BESIDE if front else _BESIDE
    line = _caliper(*(Point(p.x + away, p.y) for p in ends), upright=True) if ends else ""
    return (
        line
        + svg.text(x, beside.y, _measured(value, error), text_anchor=anchor)
        + svg.text(x, beside.y + 15, place, "word-quiet", text_anchor=anchor)
    )


def _depth_line(heights: Heights, y: float, half: float) -> str:
    if heights.depth_mm is None:
        return svg.text(_CENTRE, y + 4, "depth not measured", "word-quiet", text_anchor="middle")
    line = _caliper(Point(_CENTRE - half, y), Point(_CENTRE + half, y), upright=False)
    label = f"{heights.depth_mm} mm deep"
    return line + svg.text(_CENTRE, y + 15, label, "word-quiet", text_anchor="middle")


def _caliper(one: Point, other: Point, *, upright: bool) -> str:
    dx, dy = (4, 0) if upright else (0, 4)
    ends = "".join(
        svg.line(Point(p.x - dx, p.y - dy), Point(p.x + dx, p.y + dy), "measure")
        for p in (one, other)
    )
    return svg.line(one, other, "measure") + ends


def _measured(value: Number | None, error: Number | str | None) -> str:
    if value is None:
        return "not measured"
    return f"{value} ±{error} mm" if error is not None else f"{value} mm"


def _turn(body: Body, main: Body) -> Number | None:
    """Return by how much a neighbour leans further forwards than the body itself, as drawn.

    A tilt is that of the upper end plate, so how far that leans in a level drawing is taken off.
    """
    if body is main or body.tilt_deg is None or main.tilt_deg is None:
        return None
    return (float(body.tilt_deg) - _lean(body)) - (float(main.tilt_deg) - _lean(main))


def _lean(body: Body) -> float:
    """Return how far the upper end plate leans forwards in the level drawing, in degrees."""
    drawn = body.drawn()
    front, back = (drawn.named.get(f"upper_{end}") if drawn else None for end in ENDS)
    return degrees(atan2(front.y - back.y, back.x - front.x)) if front and back else 0.0


def _scale(outlines: list[Outline | None]) -> float:
    widest = max((drawn.width_mm for drawn in outlines if drawn), default=0.0)
    return min(_LARGEST_SCALE, _BODY_WIDTH / widest) if widest else _LARGEST_SCALE


def _depth(body: Body) -> float:
    depth = body.heights.depth_mm
    return NOMINAL_DEPTH_MM if depth is None else float(depth)


def _guesses(body: Body) -> bool:
    drawn = body.drawn()
    return drawn is not None and not all(edge.measured for edge in drawn.edges)
