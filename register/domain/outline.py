"""The outline of a vertebral body, made of nothing but its own measurements.

Six points: the upper and lower ends of the anterior, middle and posterior
height. Anterior is on the left, as on a lateral film of a patient who looks
left. Millimetres; x grows to the back, y grows downwards; the origin is the
centre of the body.

What is drawn when something was not measured:

===========================  =====================================================
known                        drawn
===========================  =====================================================
no height                    nothing: `outline` returns None, the caller draws a tick
one height                   that height as a line; both end plates break off after
                             a quarter of the depth
anterior and middle          the front half; behind the middle the end plates break off
middle and posterior         the back half, likewise
anterior and posterior       both edges; the end plates are straight and dashed
all three                    the closed shape, its end plates curved through the middle
                             points (straight from point to point where a curve would
                             cross the other end plate)
depth missing, any of these  the same, `NOMINAL_DEPTH_MM` deep, both end plates dashed
===========================  =====================================================

Heights say how far apart two points are, not where they lie. So each height is
centred on the axis of the body, and the loss in the middle is put on the end
plate that gave way; when both did, when neither did, or when nobody recorded
it, half on each. Where the points themselves were marked on an image, those are
drawn instead.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from itertools import pairwise
from math import cos, isfinite, radians, sin
from typing import Final, NamedTuple

Number = Decimal | float | int

# How deep a body is drawn when its depth was not measured: a convention of this
# drawing (no source), the same at every level so that nobody reads a size off it.
NOMINAL_DEPTH_MM: Final = 32.0
STUB_SHARE: Final = 0.25

PLATES: Final = ("upper", "lower")
PLACES: Final = ("anterior", "middle", "posterior")
ENDS: Final = ("anterior", "posterior")
NAMES: Final = tuple(f"{plate}_{place}" for place in PLACES for plate in PLATES)

# How much of the loss in the middle the upper end plate carries.
_UPPER_SHARE: Final = {"superior": 1.0, "inferior": 0.0}


class Point(NamedTuple):
    """A place on the lateral view, in mm."""

    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Heights:
    """What was measured at one level, in mm; None is "not measured".

    `marked` is the stored shape where the points were marked on an image,
    {name: (x mm, y mm)}, upright, the front on the left, its centre at 0; None
    where heights were typed. `plus_minus` is the ± of each length in mm by its
    place (anterior, middle, posterior, depth), where it is known. Raises
    ValueError for a length that is not a finite number above 0.
    """

    anterior_mm: Number | None = None
    middle_mm: Number | None = None
    posterior_mm: Number | None = None
    depth_mm: Number | None = None
    marked: Mapping[str, Sequence[float]] | None = None
    plus_minus: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for name, value in self._named():
            if value is not None and not (isfinite(value) and value > 0):
                raise ValueError(f"The {name} must be above 0 mm, got {value}.")

    def _named(self) -> tuple[tuple[str, Number | None], ...]:
        return (
            ("anterior height", self.anterior_mm),
            ("middle height", self.middle_mm),
            ("posterior height", self.posterior_mm),
            ("depth", self.depth_mm),
        )

    @property
    def any_height(self) -> bool:
        """Whether at least one of the three heights was measured."""
        return any(value is not None for _, value in self._named()[:3])

    def in_words(self) -> str:
        """Return the four lengths as a sentence, the missing ones named as such."""
        if not self.any_height:
            return "Heights not measured."
        words = [f"{name} {length(value)}" for name, value in self._named()]
        sentence = ", ".join(words)
        shape = " Shape as marked on the image." if self.marked else ""
        return f"{sentence[0].upper()}{sentence[1:]}. Anterior on the left.{shape}"


@dataclass(frozen=True, slots=True)
class Edge:
    """A line of the outline: straight from point to point, or one curve through three.

    `measured` is False where the position of the line was not measured.
    """

    points: tuple[Point, ...]
    measured: bool
    curved: bool = False


@dataclass(frozen=True, slots=True)
class Outline:
    """The lines of one vertebral body and the points that were measured, by name.

    A name is the end plate and the place, "upper_anterior". `ring` is the closed
    shape, clockwise from the upper anterior corner: the upper end plate, then the
    lower one backwards. It is None when the anterior or the posterior height is
    missing, because then there is no shape to fill.
    """

    edges: tuple[Edge, ...]
    named: Mapping[str, Point]
    ring: tuple[Edge, Edge] | None

    @property
    def marks(self) -> tuple[Point, ...]:
        """The points that were measured, front to back, the upper one of each height first."""
        return tuple(self.named.values())

    def height(self, place: str) -> tuple[Point, Point] | None:
        """Return the ends of the anterior, middle or posterior height; None if not measured."""
        ends = [self.named.get(f"{plate}_{place}") for plate in PLATES]
        return (ends[0], ends[1]) if ends[0] and ends[1] else None

    def moved(self, move: Callable[[Point], Point]) -> "Outline":
        """Return the outline with every point at another place."""

        def move_edge(edge: Edge) -> Edge:
            return replace(edge, points=tuple(move(p) for p in edge.points))

        return Outline(
            edges=tuple(move_edge(edge) for edge in self.edges),
            named={name: move(point) for name, point in self.named.items()},
            ring=self.ring and (move_edge(self.ring[0]), move_edge(self.ring[1])),
        )

    @property
    def points(self) -> tuple[Point, ...]:
        """Every point of every edge."""
        return tuple(point for edge in self.edges for point in edge.points)

    @property
    def width_mm(self) -> float:
        """How wide the drawing is."""
        return max(p.x for p in self.points) - min(p.x for p in self.points)

    @property
    def height_mm(self) -> float:
        """How tall the drawing is."""
        return max(p.y for p in self.points) - min(p.y for p in self.points)


def length(value: Number | None) -> str:
    """Return a length as it was recorded, "16.4 mm", or "not measured"."""
    return "not measured" if value is None else f"{value} mm"


def outline(
    heights: Heights, *, gave_way: str = "", tilt_deg: Number | None = None
) -> Outline | None:
    """Return the outline of a vertebral body; None when no height was measured.

    Parameters
    ----------
    heights
        The measured heights and depth, in mm.
    gave_way
        The end plate that gave way: superior, inferior, both, none, or blank
        for not recorded.
    tilt_deg
        How far the body leans forwards (its front down) in degrees; None draws
        it level.
    """
    if not heights.any_height:
        return None
    drawn = heights.marked and _marked_outline(heights.marked)
    drawn = drawn or _level_outline(heights, gave_way)
    # Front down, with the front on the left and y downwards, is anticlockwise.
    return _turned(drawn, -float(tilt_deg)) if tilt_deg else drawn


def _marked_outline(marked: Mapping[str, Sequence[float]]) -> Outline | None:
    """Return the outline through the points that were marked; None without all four corners.

    An end plate without its middle point is a straight dashed line, because
    nobody marked where it runs.
    """
    named = {name: Point(*marked[name]) for name in NAMES if name in marked}
    if not all(f"{plate}_{place}" in named for plate in PLATES for place in ENDS):
        return None
    columns = {place: tuple(named.get(f"{plate}_{place}") for plate in PLATES) for place in PLACES}
    gaps = [lower.y - upper.y for upper, lower in columns.values() if upper and lower]
    curved = len(gaps) == len(PLACES) and _stays_open(*gaps)
    upper, lower = (
        Edge(tuple(p for p in plate if p), measured=None not in plate, curved=curved)
        for plate in zip(*columns.values(), strict=True)
    )
    sides = [Edge((named[f"upper_{place}"], named[f"lower_{place}"]), True) for place in ENDS]
    ring = (upper, replace(lower, points=lower.points[::-1]))
    return Outline(edges=(upper, lower, *sides), named=named, ring=ring)


def _level_outline(heights: Heights, gave_way: str) -> Outline:
    depth = float(heights.depth_mm) if heights.depth_mm is not None else NOMINAL_DEPTH_MM
    columns = _columns(heights, gave_way, depth)
    plates = _plates(columns, depth, measured=heights.depth_mm is not None)
    uprights = [Edge(columns[place], True) for place in _uprights(columns)]
    named = {
        f"{plate}_{place}": point
        for place, column in columns.items()
        for plate, point in zip(PLATES, column, strict=True)
    }
    whole = "anterior" in columns and "posterior" in columns
    ring = (plates[0], replace(plates[1], points=plates[1].points[::-1])) if whole else None
    return Outline(edges=(*plates, *uprights), named=named, ring=ring)


def _columns(heights: Heights, gave_way: str, depth: float) -> dict[str, tuple[Point, Point]]:
    """Return the upper and lower point of every measured height, front to back."""
    found: dict[str, tuple[Point, Point]] = {}
    front, middle, back = (
        None if value is None else float(value)
        for value in (heights.anterior_mm, heights.middle_mm, heights.posterior_mm)
    )
    if front is not None:
        found["anterior"] = _column(-depth / 2, front)
    if middle is not None:
        found["middle"] = _column(0.0, middle, _shift(front, middle, back, gave_way))
    if back is not None:
        found["posterior"] = _column(depth / 2, back)
    return found


def _column(x: float, height: float, shift: float = 0.0) -> tuple[Point, Point]:
    return Point(x, shift - height / 2), Point(x, shift + height / 2)


def _shift(front: float | None, middle: float, back: float | None, gave_way: str) -> float:
    """Return how far the middle sits below the axis, in mm.

    The loss is counted from the straight line between both outer heights. It
    is unknown when one of them is, and a middle that bulges has no loss.
    """
    if front is None or back is None:
        return 0.0
    loss = max((front + back) / 2 - middle, 0.0)
    return loss * (_UPPER_SHARE.get(gave_way, 0.5) - 0.5)


def _plates(columns: dict[str, tuple[Point, Point]], depth: float, *, measured: bool) -> list[Edge]:
    """Return the upper and lower end plates, whole or broken off."""
    if "anterior" not in columns or "posterior" not in columns:
        return _broken_plates(columns, depth, measured=measured)
    if "middle" not in columns:
        return [Edge((columns["anterior"][i], columns["posterior"][i]), False) for i in (0, 1)]
    front, middle, back = (columns[place] for place in ("anterior", "middle", "posterior"))
    curved = _stays_open(*(lower.y - upper.y for upper, lower in (front, middle, back)))
    return [Edge((front[i], middle[i], back[i]), measured, curved) for i in (0, 1)]


def _broken_plates(
    columns: dict[str, tuple[Point, Point]], depth: float, *, measured: bool
) -> list[Edge]:
    """Return what is known of the end plates when a corner is missing."""
    ordered = list(columns.values())
    stub = depth * STUB_SHARE
    edges = [Edge((one[i], other[i]), measured) for one, other in pairwise(ordered) for i in (0, 1)]
    if "anterior" not in columns:
        edges += [Edge((Point(p.x - stub, p.y), p), False) for p in ordered[0]]
    if "posterior" not in columns:
        edges += [Edge((p, Point(p.x + stub, p.y)), False) for p in ordered[-1]]
    return edges


def _uprights(columns: Iterable[str]) -> list[str]:
    """Return the heights drawn as lines: front and back, and the middle when it is alone."""
    places = list(columns)
    return places if len(places) == 1 else [place for place in places if place != "middle"]


def _stays_open(front: float, middle: float, back: float) -> bool:
    """Return whether a parabola through the three heights stays above 0 between them."""
    bend = 2 * (front - 2 * middle + back)
    slope = 4 * middle - 3 * front - back
    if bend <= 0 or not 0 < -slope < 2 * bend:
        return True
    return 4 * bend * front > slope**2


def _turned(drawn: Outline, degrees: float) -> Outline:
    """Return the outline turned clockwise about its centre."""
    c, s = cos(radians(degrees)), sin(radians(degrees))
    return drawn.moved(lambda p: Point(p.x * c - p.y * s, p.x * s + p.y * c))
