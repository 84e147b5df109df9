"""The marks that a reader sets on an image: their names, their order, and reading them strictly.

A place is x (column, to the right) and y (row, downwards), in image pixels; the
centre of the first pixel is (0, 0). A mark that is not there was not set. All
marks of one image are stored as one JSON object:

    {"L1": {"upper_anterior": [212.4, 318.0], ...}, "T12": {...},
     "known": {"start": [10, 20], "end": [110, 20], "mm": "25.4"}}
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import hypot, isfinite
from typing import Any, Final, NamedTuple

from register.domain.levels import LEVEL_CODES

# Names in the order in which they are marked, with the words for people.
LATERAL: Final = {
    "upper_anterior": "upper end plate, front corner",
    "upper_middle": "upper end plate, middle",
    "upper_posterior": "upper end plate, back corner",
    "lower_posterior": "lower end plate, back corner",
    "lower_middle": "lower end plate, middle",
    "lower_anterior": "lower end plate, front corner",
}
FRONTAL: Final = {
    "upper_right": "upper end plate, corner on the patient's right",
    "upper_left": "upper end plate, corner on the patient's left",
    "lower_left": "lower end plate, corner on the patient's left",
    "lower_right": "lower end plate, corner on the patient's right",
}
AXIAL: Final = {
    "wall_right": "line of the unbroken back wall, patient's right",
    "wall_left": "line of the unbroken back wall, patient's left",
    "fragment": "fragment, the point farthest back",
    "canal_back": "inner edge of the lamina in the midline",
    "canal_right": "edge of the canal, patient's right",
    "canal_left": "edge of the canal, patient's left",
    "pedicle_right_medial": "right pedicle, inner edge",
    "pedicle_right_lateral": "right pedicle, outer edge",
    "pedicle_left_medial": "left pedicle, inner edge",
    "pedicle_left_lateral": "left pedicle, outer edge",
    "body_front": "front of the body in the midline",
    "body_right": "edge of the body, patient's right",
    "body_left": "edge of the body, patient's left",
    "entry_right": "right needle, where it goes in",
    "target_right": "right needle, where its tip is to lie",
    "entry_left": "left needle, where it goes in",
    "target_left": "left needle, where its tip is to lie",
}
# A body from the side with the needles that are planned for it.
NEEDLES: Final = {
    "upper_anterior": LATERAL["upper_anterior"],
    "upper_posterior": LATERAL["upper_posterior"],
    "lower_posterior": LATERAL["lower_posterior"],
    "lower_anterior": LATERAL["lower_anterior"],
} | {name: AXIAL[name] for name in ("entry_right", "target_right", "entry_left", "target_left")}
VIEWS: Final[Mapping[str, Mapping[str, str]]] = {
    "lateral": LATERAL,
    "frontal": FRONTAL,
    "axial": AXIAL,
    "needles": NEEDLES,
}
KNOWN: Final = "known"

# A length that a reader knows on an image, from a marker ball to a whole plate.
# Chosen by this project (no source), to catch a slipped decimal point.
LONGEST_KNOWN_MM: Final = 1000.0


class Point(NamedTuple):
    """A place: in image pixels as marked, in mm once it is on the plane."""

    x: float
    y: float


Body = Mapping[str, Point]


@dataclass(frozen=True, slots=True)
class Known:
    """A line on the image whose true length in mm the reader knows."""

    start: Point
    end: Point
    mm: float


@dataclass(frozen=True, slots=True)
class Marks:
    """All marks of one image: per level, head to tail, those that were set."""

    view: str
    levels: Mapping[str, Body]
    known: Known | None = None

    def at(self, level: str) -> Body:
        """Return the marks of one level; empty where nothing was marked."""
        return self.levels.get(level, {})

    def moved(self, move: Callable[[Point], Point]) -> "Marks":
        """Return the marks of the levels, each at another place; the known length stays behind."""
        levels = {
            level: {name: move(point) for name, point in body.items()}
            for level, body in self.levels.items()
        }
        return Marks(self.view, levels)


def marks_of(
    stored: object, view: str, *, rows: int | None = None, columns: int | None = None
) -> Marks:
    """Return the marks of a stored or sent JSON object.

    With `rows` and `columns` of the image a mark has to lie on it. Raises
    ValueError, in words for the reader, for an unknown view, level or name, a
    place that is not two finite numbers or lies outside, and a known length
    that is none.
    """
    if view not in VIEWS:
        raise ValueError(f"{view!r} is not a view; use one of {', '.join(VIEWS)}.")
    given = _object(stored, "The marks")
    if strange := [key for key in given if key not in LEVEL_CODES and key != KNOWN]:
        raise ValueError(f"{strange[0]!r} is not a spinal level; use C1 to S5, for example L1.")
    size = (columns, rows)
    levels = {
        level: _body(given[level], level, view, size) for level in LEVEL_CODES if given.get(level)
    }
    known = _known(given[KNOWN], size) if given.get(KNOWN) else None
    return Marks(view, levels, known)


def as_json(marks: Marks) -> dict[str, Any]:
    """Return the marks as `marks_of` reads them."""
    stored: dict[str, Any] = {
        level: {name: list(point) for name, point in body.items()}
        for level, body in marks.levels.items()
    }
    if marks.known is not None:
        known = marks.known
        stored[KNOWN] = {
            "start": list(known.start), "end": list(known.end), "mm": f"{known.mm:.15g}"
        }  # fmt: skip
    return stored


def middle_proposal(body: Body) -> dict[str, Point]:
    """Return a proposal for each middle point: halfway between the corners of its end plate.

    Only where both corners are marked. The reader moves it onto the end plate;
    it is a help for the hand and never a measurement.
    """
    return {
        f"{plate}_middle": midpoint(body[f"{plate}_anterior"], body[f"{plate}_posterior"])
        for plate in ("upper", "lower")
        if f"{plate}_anterior" in body and f"{plate}_posterior" in body
    }


# --- arithmetic of places ------------------------------------------------------


def midpoint(one: Point, other: Point) -> Point:
    """Return the place halfway between two."""
    return Point((one.x + other.x) / 2, (one.y + other.y) / 2)


def arrow(start: Point, end: Point) -> Point:
    """Return the way from one place to another."""
    return Point(end.x - start.x, end.y - start.y)


def cross(one: Point, other: Point) -> float:
    """Return the area that two arrows span; above 0 when the second turns right on the screen."""
    return one.x * other.y - one.y * other.x


def dot(one: Point, other: Point) -> float:
    """Return the inner product of two arrows."""
    return one.x * other.x + one.y * other.y


def distance(one: Point, other: Point) -> float:
    """Return how far apart two places are."""
    return hypot(other.x - one.x, other.y - one.y)


# --- reading ---------------------------------------------------------------------


def _body(stored: object, level: str, view: str, size: tuple[int | None, int | None]) -> Body:
    given, names = _object(stored, f"The marks of {level}"), VIEWS[view]
    if strange := [name for name in given if name not in names]:
        raise ValueError(f"{level}: {strange[0]!r} is not a mark of the {view} view.")
    return {
        name: _place(given[name], f"{level}, {words}", size)
        for name, words in names.items()
        if given.get(name) is not None
    }


def _known(stored: object, size: tuple[int | None, int | None]) -> Known:
    given = _object(stored, "The known length")
    if set(given) != {"start", "end", "mm"}:
        raise ValueError("The known length needs its two ends and how many mm it is long.")
    start, end = (_place(given[key], "The known length", size) for key in ("start", "end"))
    try:
        mm = float(given["mm"])
    except (TypeError, ValueError):
        raise ValueError(f"The known length must be a number of mm, not {given['mm']!r}.") from None
    if isinstance(given["mm"], bool) or not 0 < mm <= LONGEST_KNOWN_MM:
        raise ValueError(
            f"The known length must be above 0 and at most {LONGEST_KNOWN_MM:g} mm, "
            f"not {given['mm']}."
        )
    if start == end:
        raise ValueError("The known length needs two ends that lie apart.")
    return Known(start, end, mm)


def _place(stored: object, words: str, size: tuple[int | None, int | None]) -> Point:
    if not isinstance(stored, list | tuple) or len(stored) != 2:
        raise ValueError(f"{words}: a place is two numbers, across and down.")
    for value, length in zip(stored, size, strict=True):
        if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
            raise ValueError(f"{words}: {value!r} is not a number; mark the point again.")
        if length is not None and not -0.5 <= value <= length - 0.5:
            raise ValueError(f"{words}: the point lies outside the picture; mark it again.")
    return Point(float(stored[0]), float(stored[1]))


def _object(stored: object, words: str) -> Mapping[str, Any]:
    if not isinstance(stored, Mapping):
        raise ValueError(f"{words} could not be read; mark the points again.")
    return stored
