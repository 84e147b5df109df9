"""Heights, depth, ratios and losses of the bodies on a lateral image.

The names are those of the fields of a measurement. Depth is the mean length of
both end plates, corner to corner: common practice (no source); papers also use
one end plate, or the middle of the body.
"""

from collections.abc import Collection, Mapping
from dataclasses import astuple, dataclass
from decimal import Decimal
from itertools import pairwise
from typing import Final

from register.domain import levels, measures
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
from register.domain.measuring.quantities import (
    DEGREES,
    MM,
    PERCENT,
    Quantity,
    fall_deg,
    loss_percent,
    mean_length,
    quantity,
    share_percent,
    shortfall,
)

HEIGHTS: Final = {place: (f"upper_{place}", f"lower_{place}") for place in measures.PLACES}
_END_PLATES: Final = ("upper_anterior", "upper_posterior", "lower_anterior", "lower_posterior")
_CORNERS: Final = frozenset(_END_PLATES)


def own_quantities(body: Body) -> dict[str, Quantity]:
    """Return what the marks of one body say of it alone; without its marks a number is left out.

    Wedge ratio is anterior over posterior, biconcavity ratio middle over
    posterior height (definitions: `measures`). The tilt is that of the upper
    end plate against the rows of the picture, positive with the front down.
    """
    found = {
        f"{place}_height_mm": quantity(mean_length, body, ends, MM)
        for place, ends in HEIGHTS.items()
    }
    posterior = HEIGHTS["posterior"]
    found |= {
        "depth_mm": quantity(mean_length, body, _END_PLATES, MM),
        "wedge_percent": quantity(share_percent, body, HEIGHTS["anterior"] + posterior, PERCENT),
        "biconcave_percent": quantity(share_percent, body, HEIGHTS["middle"] + posterior, PERCENT),
        "tilt_angle_deg": quantity(fall_deg, body, _END_PLATES[:2], DEGREES),
    }
    return {name: made for name, made in found.items() if made is not None}


def crush_quantities(marks: Marks, level: str) -> dict[str, Quantity]:
    """Return the posterior height in percent of that of the level above, and of the one below."""
    own = marks.at(level)
    found = {}
    for side, beside in (("above", levels.above(level)), ("below", levels.below(level))):
        if beside and (ends := _ends("posterior", own, marks.at(beside))):
            found[f"crush_{side}_percent"] = Quantity(share_percent, ends, PERCENT)
    return found


@dataclass(frozen=True, slots=True)
class Loss:
    """What a level has lost against its reference, which height most, and the numbers as made.

    `largest` and `reference` are those of `measures`; without calibration the
    reference heights are in widths of a pixel and only their levels mean something.
    """

    largest: measures.HeightLoss
    reference: measures.Reference
    quantities: Mapping[str, Quantity]

    @property
    def grade(self) -> int | None:
        """The semiquantitative grade, 0 to 3; None for a loss above 100 %, which no height has."""
        return measures.genant_grade(self.largest.percent) if self.largest.percent <= 100 else None


def loss_of(marks: Marks, level: str, not_intact: Collection[str] = ()) -> Loss | None:
    """Return the loss of a level against its nearest intact marked neighbours.

    `not_intact` are the levels that do not count as a reference: fractured or
    cemented. None when there is nothing to compare with.
    """
    heights = {at: h for at, body in marks.levels.items() if any(astuple(h := heights_of(body)))}
    reference = measures.reference_heights(level, heights, not_intact)
    own = heights.get(level)
    largest = measures.height_loss(own, reference.heights) if own and reference else None
    if reference is None or largest is None:
        return None
    found = {}
    for place in largest.all_percent:
        bodies = [marks.at(at) for at in reference.levels if heights[at].at(place) is not None]
        ends = _ends(place, marks.at(level), *bodies)
        found[f"{place}_loss_percent"] = Quantity(loss_percent, ends, PERCENT)
        found[f"{place}_loss_mm"] = Quantity(shortfall, ends, MM)
    return Loss(largest, reference, found)


def heights_of(body: Body) -> measures.Heights:
    """Return the three heights of a body; None where a mark is missing or there is no height."""
    return measures.Heights(**{place: _height(body, place) for place in measures.PLACES})


def doubts(marks: Marks) -> tuple[str, ...]:
    """Return what in the marks contradicts itself, in sentences; empty when nothing does.

    The order of the levels along the image and the side of the front have to be
    the same for all bodies. A mistake here exchanges levels or turns the sign
    of an angle, so it is said before anything is saved.
    """
    whole = {at: body for at, body in marks.levels.items() if body.keys() >= _CORNERS}
    hands = {at: _hand(body) for at, body in whole.items()}
    found = [
        f"{at}: the four corners enclose nothing; mark them again."
        for at, hand in hands.items()
        if not hand
    ]
    if len({hand > 0 for hand in hands.values() if hand}) > 1:
        found.append(
            "The front is not on the same side at all levels: "
            f"{_sides(hands)}. Compare front and back corners."
        )
    found += [
        f"{one} lies below {other} on the image. Compare the names of the levels."
        for one, other in pairwise(whole)
        if _falls(whole[one], whole[other]) < 0
    ]
    return tuple(found)


def _height(body: Body, place: str) -> Decimal | None:
    ends = _ends(place, body)
    length = distance(*ends) if ends else 0.0
    return Decimal(str(length)) if length else None


def _ends(place: str, *bodies: Body) -> tuple[Point, ...]:
    """Return the ends of one height of each body, one after the other; () when one is missing."""
    if not all(name in body for body in bodies for name in HEIGHTS[place]):
        return ()
    return tuple(body[name] for body in bodies for name in HEIGHTS[place])


def _hand(body: Body) -> float:
    """Return below 0 when the front is on the left as one looks down the spine, above 0 right."""
    front = midpoint(body["upper_anterior"], body["lower_anterior"])
    back = midpoint(body["upper_posterior"], body["lower_posterior"])
    return cross(arrow(back, front), _down(body))


def _down(body: Body) -> Point:
    upper = midpoint(body["upper_anterior"], body["upper_posterior"])
    return arrow(upper, midpoint(body["lower_anterior"], body["lower_posterior"]))


def _falls(one: Body, other: Body) -> float:
    """Return above 0 when the second body lies further down, as the first one's marks say."""
    way = arrow(_middle(one), _middle(other))
    down, below = _down(one), _down(other)
    return dot(way, Point(down.x + below.x, down.y + below.y))


def _middle(body: Body) -> Point:
    return midpoint(
        midpoint(body["upper_anterior"], body["lower_posterior"]),
        midpoint(body["upper_posterior"], body["lower_anterior"]),
    )


def _sides(hands: Mapping[str, float]) -> str:
    left = [at for at, hand in hands.items() if hand < 0]
    right = [at for at, hand in hands.items() if hand > 0]
    return f"left at {', '.join(left)}, right at {', '.join(right)}"
