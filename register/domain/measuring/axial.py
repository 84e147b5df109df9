"""Canal, pedicles and body on an axial slice.

The back wall is drawn as the line where it would be; what lies behind it is in
the canal. The canal is taken in the midline at the level itself; papers also
take the mean of both neighbours (from memory), which a slice alone cannot show.
"""

from typing import Final

from register.domain.measuring.points import Body, Point, arrow, cross, distance
from register.domain.measuring.quantities import (
    MM,
    PERCENT,
    Formula,
    Quantity,
    mean_length,
    quantity,
)

_WALL: Final = ("wall_left", "wall_right")


def own_quantities(body: Body) -> dict[str, Quantity]:
    """Return what the marks of one slice say; without its marks a number is left out.

    A fragment in front of the wall has a retropulsion and an encroachment below
    0; nothing is clipped.
    """
    found = {
        "retropulsion_mm": quantity(_behind_wall, body, (*_WALL, "canal_back", "fragment"), MM),
        "canal_encroachment_percent": quantity(
            _encroachment, body, (*_WALL, "canal_back", "fragment"), PERCENT
        ),
    }
    for name, (formula, marks) in _LENGTHS.items():
        found[name] = quantity(formula, body, marks, MM)
    return {name: made for name, made in found.items() if made is not None}


def _from_wall(left: Point, right: Point, place: Point) -> float | None:
    """Return how far a place lies from the line of the wall; None when that is no line."""
    side = _side(left, right, place)
    return None if side is None else abs(side)


def _behind_wall(left: Point, right: Point, back: Point, place: Point) -> float | None:
    """Return how far a place lies behind the wall, on the side of the lamina; below 0 in front."""
    canal, found = _side(left, right, back), _side(left, right, place)
    if not canal or found is None:
        return None
    return found if canal > 0 else -found


def _encroachment(left: Point, right: Point, back: Point, place: Point) -> float | None:
    """Return how much of the depth of the canal the fragment takes, in percent."""
    deep, taken = _from_wall(left, right, back), _behind_wall(left, right, back, place)
    return None if not deep or taken is None else taken / deep * 100


def _side(left: Point, right: Point, place: Point) -> float | None:
    wall = distance(left, right)
    return cross(arrow(left, right), arrow(left, place)) / wall if wall else None


_LENGTHS: Final[dict[str, tuple[Formula, tuple[str, ...]]]] = {
    "canal_depth_mm": (_from_wall, (*_WALL, "canal_back")),
    "canal_width_mm": (mean_length, ("canal_left", "canal_right")),
    "pedicle_left_width_mm": (mean_length, ("pedicle_left_medial", "pedicle_left_lateral")),
    "pedicle_right_width_mm": (mean_length, ("pedicle_right_medial", "pedicle_right_lateral")),
    "body_depth_mm": (_from_wall, (*_WALL, "body_front")),
    "body_width_mm": (mean_length, ("body_left", "body_right")),
}
