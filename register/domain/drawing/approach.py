"""The planned needles of one level, to scale: seen from below and from the left side.

The axial view lies as it is read on a scan: front on top, the patient's left on the
right. The lateral view has the front on the left, like every vertebra of this register.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from math import cos, hypot, radians, sin, tan
from typing import Final, NamedTuple

from register.domain.approach.route import Place, Route, medial_clearance_mm
from register.domain.drawing import svg
from register.domain.drawing.vertebra import NOT_MEASURED
from register.domain.outline import NOMINAL_DEPTH_MM, Heights, Number, Outline, Point, outline

CAUTION: Final = ("Planning aid, not guidance;", "position is confirmed on the image intensifier")
WIDTH: Final = 340.0
# How wide a body is drawn when its width was not measured: a convention (no source).
NOMINAL_WIDTH_MM: Final = 42.0
_NOMINAL_HEIGHT_MM: Final = 24.0
_MARGIN: Final = 14.0
_HEAD: Final = 40.0  # px above the drawing for the names of its sides
_FOOT: Final = 84.0  # px under it for the scale and the caution
_LARGEST_SCALE: Final = 4.2  # px per mm
_TALLEST: Final = 300.0  # px of the drawing itself
_WORDS_PX: Final = 76.0  # about as long as side and angle are
_WALL_MM: Final = 4.0  # half the length of the line that stands for a wall of the pedicle


class _Spot(NamedTuple):
    """A place in one view, in mm: to the right, and downwards."""

    x: float
    y: float


@dataclass(frozen=True)
class Scene:
    """What both views show: the body of one level and the needles planned through it."""

    level: str
    routes: tuple[Route, ...]
    heights: Heights = NOT_MEASURED
    width_mm: Number | None = None

    @property
    def placed(self) -> tuple[Route, ...]:
        """The needles whose place is known in at least one view."""
        return tuple(r for r in self.routes if _ends(r, _from_below) or _ends(r, _from_the_side))

    @property
    def caption(self) -> str:
        """What a reader must know to read both views, in sentences."""
        told = [
            "Axial view from below: front on top, the patient’s left on the right.",
            "Lengths to scale, the same in both views; the curve of the body is not measured.",
        ]
        lacking = None in (self.heights.depth_mm, self.width_mm)
        if lacking or self.body is None or not all(edge.measured for edge in self.body.edges):
            told.append("Dashed: not measured.")
        if len(self.placed) < len(self.routes):
            told.append("A needle is drawn once its entry, depth and both angles are known.")
        return " ".join(told)

    @property
    def about(self) -> str:
        """The bone in words; the needles stand as numbers beside the drawing."""
        return self.heights.in_words()

    @cached_property
    def body(self) -> Outline | None:
        """The lateral outline; None when no height was measured."""
        return outline(self.heights)

    @property
    def depth_mm(self) -> float:
        """The depth that is drawn: measured, or that of the convention."""
        measured = self.heights.depth_mm
        return NOMINAL_DEPTH_MM if measured is None else float(measured)

    @property
    def half_width_mm(self) -> float:
        """Half of the width that is drawn: measured, or that of the convention."""
        return float(NOMINAL_WIDTH_MM if self.width_mm is None else self.width_mm) / 2

    @cached_property
    def extent_below(self) -> tuple[_Spot, ...]:
        """Every place that the axial view must hold."""
        half = self.half_width_mm
        return (_Spot(-half, -self.depth_mm), _Spot(half, 8.0), *self._ends(_from_below))

    @cached_property
    def extent_side(self) -> tuple[_Spot, ...]:
        """Every place that the lateral view must hold."""
        tall = self.body.height_mm if self.body else _NOMINAL_HEIGHT_MM
        corners = _Spot(-self.depth_mm, -tall / 2), _Spot(8.0, tall / 2)
        return (*corners, *self._ends(_from_the_side))

    @cached_property
    def scale(self) -> float:
        """Px per mm, so that both views fit in one scale."""
        spans = [
            (max(s.x for s in extent) - min(s.x for s in extent),
             max(s.y for s in extent) - min(s.y for s in extent))
            for extent in (self.extent_below, self.extent_side)
        ]  # fmt: skip
        room = WIDTH - 4 * _MARGIN
        return min(_LARGEST_SCALE, *(min(room / wide, _TALLEST / tall) for wide, tall in spans))

    def _ends(self, seen: "_View") -> tuple[_Spot, ...]:
        return tuple(spot for route in self.routes for spot in _ends(route, seen) or ())


def axial_view(scene: Scene) -> str:
    """Return the view from below: medial angles, inner walls of the pedicles, midline."""
    sheet = _Sheet(scene, scene.extent_below)
    parts = [_body_from_below(scene, sheet), _midline(scene, sheet)]
    parts += [_needle(route, sheet, _from_below) for route in scene.placed]
    parts += [_words_below(route, sheet) for route in scene.placed]
    parts += [_walls(route, sheet) for route in scene.routes]
    return sheet.finished("axial view", ("patient’s right", "patient’s left"), parts)


def lateral_view(scene: Scene) -> str:
    """Return the view from the left side: cranial angles, depth and balance of both tips."""
    sheet = _Sheet(scene, scene.extent_side)
    upper = max((r for r in scene.placed), key=lambda r: r.entry.z_mm or 0, default=None)
    parts = [_body_from_the_side(scene, sheet)]
    parts += [_needle(route, sheet, _from_the_side) for route in scene.placed]
    parts += [_words_beside(route, sheet, is_above=route is upper) for route in scene.placed]
    return sheet.finished("lateral view", ("front", "back"), parts)


_View = Callable[[Place], _Spot | None]


def _from_below(place: Place) -> _Spot | None:
    if place.x_mm is None or place.y_mm is None:
        return None
    return _Spot(place.x_mm, place.y_mm)


def _from_the_side(place: Place) -> _Spot | None:
    if place.y_mm is None or place.z_mm is None:
        return None
    return _Spot(place.y_mm, -place.z_mm)


def _ends(route: Route, seen: _View) -> tuple[_Spot, _Spot] | None:
    """Return entry and tip of a needle as one view shows them; None where it is not known."""
    entry, target = seen(route.entry), seen(route.target)
    return (entry, target) if entry and target else None


class _Sheet:
    """The paper of one view: from millimetres to px, and the words around the drawing."""

    def __init__(self, scene: Scene, extent: Sequence[_Spot]) -> None:
        xs, ys = [spot.x for spot in extent], [spot.y for spot in extent]
        self._scene, self.scale = scene, scene.scale
        self._left = WIDTH / 2 - self.scale * (max(xs) + min(xs)) / 2
        self._top = _HEAD - self.scale * min(ys)
        self._bottom = self._top + self.scale * max(ys)

    def at(self, x: float, y: float) -> Point:
        """Return a place in px."""
        return Point(self._left + self.scale * x, self._top + self.scale * y)

    def finished(self, view: str, sides: tuple[str, str], parts: Sequence[str]) -> str:
        """Return the drawing with the names of its sides, its scale and the caution."""
        y = self._bottom + 34
        return svg.drawing(
            svg.text(_MARGIN, 18, sides[0], "word-quiet"),
            svg.text(WIDTH - _MARGIN, 18, sides[1], "word-quiet", text_anchor="end"),
            *parts,
            self._ruler(y),
            _caution(y + 22),
            width=WIDTH,
            height=self._bottom + _FOOT,
            title=f"{self._scene.level}, planned needles, {view}",
            about=self._scene.about,
            kind="approach",
        )

    def _ruler(self, y: float) -> str:
        start, end = _MARGIN, _MARGIN + 10 * self.scale
        ticks = [svg.line(Point(x, y - 4), Point(x, y + 4), "measure") for x in (start, end)]
        bar = svg.line(Point(start, y), Point(end, y), "measure")
        return "".join((bar, *ticks, svg.text(end + 8, y + 4, "10 mm", "word-quiet")))


def _caution(y: float) -> str:
    """Return the two lines that stand in every drawing of a planned needle."""
    first, second = CAUTION
    lines = (
        svg.element("tspan", f"{first} ", x=_MARGIN, y=y),
        svg.element("tspan", second, x=_MARGIN, y=y + 16),
    )
    return svg.element("text", *lines, pen="word")


def _body_from_below(scene: Scene, sheet: _Sheet) -> str:
    """Return the body: the posterior wall as a line, the front as a curve."""
    half, depth = scene.half_width_mm, scene.depth_mm
    left, right, front = sheet.at(-half, 0), sheet.at(half, 0), sheet.at(0, -depth)
    path = (
        f"M{_xy(left)}L{_xy(right)}"
        f"C{_xy(sheet.at(half * 1.16, -depth * 0.72))} {_xy(sheet.at(half * 0.62, -depth))} "
        f"{_xy(front)}"
        f"C{_xy(sheet.at(-half * 0.62, -depth))} {_xy(sheet.at(-half * 1.16, -depth * 0.72))} "
        f"{_xy(left)}Z"
    )
    is_measured = None not in (scene.heights.depth_mm, scene.width_mm)
    pen = "edge" if is_measured else "edge-guess"
    return svg.element("path", pen="body", d=path) + svg.element("path", pen=pen, d=path)


def _body_from_the_side(scene: Scene, sheet: _Sheet) -> str:
    """Return the measured outline, its back on the posterior wall; a dashed box without heights."""
    if scene.body is None:
        half = _NOMINAL_HEIGHT_MM / 2
        corner, size = sheet.at(-scene.depth_mm, -half), sheet.scale
        return svg.element(
            "rect", pen="edge-guess", x=corner.x, y=corner.y,
            width=scene.depth_mm * size, height=_NOMINAL_HEIGHT_MM * size,
        )  # fmt: skip
    wall = scene.body.height("posterior")
    back = _midpoint(*wall) if wall else Point(scene.depth_mm / 2, 0)
    middle = sheet.at(-back.x, -back.y)
    drawn = svg.placed(scene.body, x=middle.x, y=middle.y, scale=sheet.scale)
    fill = svg.ring_path(drawn.ring, "body") if drawn.ring else ""
    return fill + svg.stroke_path(drawn.edges, "edge")


def _midpoint(one: Point, other: Point) -> Point:
    return Point((one.x + other.x) / 2, (one.y + other.y) / 2)


def _midline(scene: Scene, sheet: _Sheet) -> str:
    return svg.line(sheet.at(0, -scene.depth_mm - 3), sheet.at(0, 8), "expected")


def _needle(route: Route, sheet: _Sheet, seen: _View) -> str:
    """Return one needle: as thick as the device, its axis and the tip; the right one dashed."""
    ends = _ends(route, seen)
    if ends is None:
        return ""
    entry, tip = (sheet.at(*spot) for spot in ends)
    dashes = "7 3" if route.side == "right" else None
    axis = svg.element(
        "line", pen="run", x1=entry.x, y1=entry.y, x2=tip.x, y2=tip.y, stroke_dasharray=dashes
    )
    mark = svg.element("circle", pen="knob", cx=tip.x, cy=tip.y, r=4)
    return _thick(entry, tip, route.device_mm, sheet.scale) + axis + mark


def _words_below(route: Route, sheet: _Sheet) -> str:
    """Return side and medial angle under the entry."""
    ends = _ends(route, _from_below)
    if ends is None:
        return ""
    entry = sheet.at(*ends[0])
    words = f"{route.side} {route.medial_angle_deg:.1f}°"
    return svg.text(entry.x, entry.y + 20, words, text_anchor="middle")


def _words_beside(route: Route, sheet: _Sheet, *, is_above: bool) -> str:
    """Return side and cranial angle over or under the needle, clear of it along their length."""
    ends = _ends(route, _from_the_side)
    if ends is None:
        return ""
    entry, angle = sheet.at(*ends[0]), route.cranial_angle_deg or 0
    rise = _WORDS_PX * tan(radians(angle if is_above else -angle))
    clear = (route.device_mm or 0) * sheet.scale / 2 + 6 + max(rise, 0)
    y = entry.y - clear if is_above else entry.y + clear + 10
    return svg.text(entry.x, y, f"{route.side} {angle:.1f}°", text_anchor="end")


def _thick(entry: Point, tip: Point, device_mm: float | None, scale: float) -> str:
    """Return the outline of the device itself; nothing while its diameter is not known."""
    long = hypot(tip.x - entry.x, tip.y - entry.y)
    if device_mm is None or long == 0:
        return ""
    half = device_mm * scale / 2
    across = Point(-(tip.y - entry.y) / long * half, (tip.x - entry.x) / long * half)
    corners = [
        Point(end.x + sign * across.x, end.y + sign * across.y)
        for end, sign in ((entry, 1), (tip, 1), (tip, -1), (entry, -1))
    ]
    return svg.element("polygon", pen="quiet", points=" ".join(_xy(p, ",") for p in corners))


def _walls(route: Route, sheet: _Sheet) -> str:
    """Return the inner wall of the pedicle and, dashed, the outer one by the width."""
    wall = route.medial_wall
    if wall.x_mm is None or wall.y_mm is None:
        return ""
    turn = radians(route.medial_angle_deg or 0)
    ahead = Point(-route.outwards * sin(turn), -cos(turn))
    outwards = Point(route.outwards * cos(turn), -sin(turn))
    room = medial_clearance_mm(route)
    pens = ["hot" if room is not None and room < 0 else "edge", "edge-guess"]
    drawn = []
    for pen, aside in zip(pens, (0.0, route.pedicle_width_mm), strict=True):
        if aside is not None:
            x, y = wall.x_mm + aside * outwards.x, wall.y_mm + aside * outwards.y
            ends = [
                sheet.at(x + sign * _WALL_MM * ahead.x, y + sign * _WALL_MM * ahead.y)
                for sign in (-1, 1)
            ]
            drawn += [svg.line(one, other, pen) for one, other in pairwise(ends)]
    return "".join(drawn)


def _xy(point: Point, between: str = " ") -> str:
    return f"{svg.number(point.x)}{between}{svg.number(point.y)}"
