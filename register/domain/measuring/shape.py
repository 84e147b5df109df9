"""The marked shape of a body, laid upright, as it is stored and drawn."""

from typing import Final

from register.domain.measuring.calibration import Spacing, on_plane, spacing_for
from register.domain.measuring.points import (
    Body,
    Marks,
    Point,
    arrow,
    cross,
    distance,
    dot,
    midpoint,
)

Shape = dict[str, list[float]]

_CORNERS: Final = ("upper_anterior", "upper_posterior", "lower_anterior", "lower_posterior")


def outlines_of_marks(marks: Marks, spacing: Spacing) -> dict[str, Shape]:
    """Return the shape of each body of a lateral image, {level: {name: [x mm, y mm]}}.

    Upright: the front on the left, x from the middle of the front edge to the
    middle of the back edge, y downwards, the origin halfway between them. To
    0.01 mm. A level without all four corners is left out; without mm there is
    no shape at all.
    """
    scale = spacing_for(marks, spacing)
    if marks.view != "lateral" or not scale.has_mm:
        return {}
    plane = on_plane(marks, scale)
    shapes = {level: _upright(body) for level, body in plane.levels.items()}
    return {level: shape for level, shape in shapes.items() if shape}


def _upright(body: Body) -> Shape | None:
    """Return one body laid upright; None without corners, or when its corners enclose nothing."""
    if not all(corner in body for corner in _CORNERS):
        return None
    front = midpoint(body["upper_anterior"], body["lower_anterior"])
    back = midpoint(body["upper_posterior"], body["lower_posterior"])
    centre, depth = midpoint(front, back), distance(front, back)
    upper = midpoint(body["upper_anterior"], body["upper_posterior"])
    lower = midpoint(body["lower_anterior"], body["lower_posterior"])
    if not depth or not cross(arrow(front, back), arrow(upper, lower)):
        return None
    across = Point((back.x - front.x) / depth, (back.y - front.y) / depth)
    down = Point(-across.y, across.x)
    if dot(down, arrow(upper, lower)) < 0:
        down = Point(-down.x, -down.y)
    return {
        name: [round(dot(arrow(centre, point), way), 2) for way in (across, down)]
        for name, point in body.items()
    }
