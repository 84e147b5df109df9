"""One needle: where it goes in, where its tip ends, and what lies beside it."""

import math
from dataclasses import dataclass
from typing import Final

SIDES: Final = ("left", "right")
# How far a planned needle may turn from straight forward, in degrees; beyond, points were
# mixed up. A convention of this register, no source.
STEEPEST_DEG: Final = 85.0

Length = float | None


@dataclass(frozen=True, slots=True)
class Place:
    """A point of the body frame in mm; each coordinate may be unknown."""

    x_mm: Length = None
    y_mm: Length = None
    z_mm: Length = None


@dataclass(frozen=True, slots=True)
class Route:
    """One side's needle as far as it is known.

    `medial_wall` is the inner wall of the pedicle where it is narrowest (x and y
    only), `pedicle_width_mm` the outer width there, `device_mm` the outer diameter
    of what goes through, `body_depth_mm` the depth of the body from the posterior
    to the anterior wall. Raises ValueError for another side, for a length of 0 or
    less, and for an angle so steep that two points must have been mixed up.
    """

    side: str
    medial_angle_deg: float | None = None
    cranial_angle_deg: float | None = None
    depth_mm: Length = None
    entry: Place = Place()
    medial_wall: Place = Place()
    pedicle_width_mm: Length = None
    device_mm: Length = None
    body_depth_mm: Length = None

    def __post_init__(self) -> None:
        if self.side not in SIDES:
            raise ValueError(f"The side is left or right, not {self.side!r}.")
        for name in ("depth_mm", "pedicle_width_mm", "device_mm", "body_depth_mm"):
            value = getattr(self, name)
            if value is not None and not (math.isfinite(value) and value > 0):
                words = name.removesuffix("_mm").replace("_", " ")
                raise ValueError(f"The {words} must be above 0 mm, not {value}.")
        for words, angle in (
            ("medial", self.medial_angle_deg),
            ("cranial", self.cranial_angle_deg),
        ):
            if angle is not None and not abs(angle) <= STEEPEST_DEG:
                raise ValueError(
                    f"The {words} angle must be between -{STEEPEST_DEG:g}° and "
                    f"{STEEPEST_DEG:g}°, not {angle:.1f}°: the target has to lie in front of "
                    "the entry."
                )

    @property
    def outwards(self) -> int:
        """The sign of x on this side: 1 on the patient's left, -1 on the right."""
        return 1 if self.side == "left" else -1

    @property
    def target(self) -> Place:
        """The tip; a coordinate is None where the entry or the way to it is not known."""
        if self.medial_angle_deg is None or self.cranial_angle_deg is None or self.depth_mm is None:
            return Place()
        across = math.tan(math.radians(self.medial_angle_deg))
        up = math.tan(math.radians(self.cranial_angle_deg))
        forward = self.depth_mm / math.hypot(1, across, up)
        return Place(
            _moved(self.entry.x_mm, -self.outwards * across * forward),
            _moved(self.entry.y_mm, -forward),
            _moved(self.entry.z_mm, up * forward),
        )


@dataclass(frozen=True, slots=True)
class Findings:
    """What follows from one route, in mm and percent; None where it is not defined.

    `medial_clearance_mm` is the room between the surface of the device and the
    inner wall of the pedicle; negative when the device would lie in the wall or
    in the canal. `lateral_clearance_mm` is what the width of the pedicle leaves on
    the outer side; negative when the device would leave the pedicle there.
    `tip_to_midline_mm` is negative when the tip has crossed it. `tip_to_front_mm`
    is measured in the lateral view, to the foremost point of the body: beside the
    midline the curved front comes earlier.
    """

    medial_clearance_mm: Length
    lateral_clearance_mm: Length
    tip_to_midline_mm: Length
    tip_to_front_mm: Length
    depth_share_percent: float | None


def findings(route: Route) -> Findings:
    """Return what follows from a route."""
    tip, room = route.target, medial_clearance_mm(route)
    width, device = route.pedicle_width_mm, route.device_mm
    reached = None if tip.y_mm is None else -tip.y_mm
    body = route.body_depth_mm
    return Findings(
        medial_clearance_mm=room,
        lateral_clearance_mm=(
            None if room is None or width is None or device is None else width - device - room
        ),
        tip_to_midline_mm=None if tip.x_mm is None else route.outwards * tip.x_mm,
        tip_to_front_mm=None if reached is None or body is None else body - reached,
        depth_share_percent=None if reached is None or body is None else reached * 100 / body,
    )


def medial_clearance_mm(route: Route) -> Length:
    """Return the room between device and medial pedicle wall.

    That is the shortest distance of the needle's axis from the wall, minus half of
    the device's diameter; negative on the side of the canal. The wall counts as
    upright, so the distance is the one in the axial view. With a known tip the axis
    ends there.
    """
    entry, wall = route.entry, route.medial_wall
    if entry.x_mm is None or entry.y_mm is None or wall.x_mm is None or wall.y_mm is None:
        return None
    if route.medial_angle_deg is None or route.device_mm is None:
        return None
    turn = math.radians(route.medial_angle_deg)
    across, ahead = route.outwards * (wall.x_mm - entry.x_mm), entry.y_mm - wall.y_mm
    along = ahead * math.cos(turn) - across * math.sin(turn)
    beside = -(across * math.cos(turn) + ahead * math.sin(turn))
    short = _beyond_the_axis(route, along)
    return math.copysign(math.hypot(beside, short), beside) - route.device_mm / 2


def _beyond_the_axis(route: Route, along: float) -> float:
    """Return how far the wall lies before the entry or, where the tip is known, beyond it."""
    tip, entry = route.target, route.entry
    if along < 0:
        return -along
    if None in (tip.x_mm, tip.y_mm):
        return 0.0
    length = math.hypot(tip.x_mm - entry.x_mm, tip.y_mm - entry.y_mm)  # type: ignore[operator]
    return max(0.0, along - length)


@dataclass(frozen=True, slots=True)
class Balance:
    """How far apart both tips lie in the lateral view, in mm; None where one is not known."""

    height_mm: Length
    depth_mm: Length

    @property
    def largest_mm(self) -> Length:
        """The larger of both; None unless both are known."""
        if self.height_mm is None or self.depth_mm is None:
            return None
        return max(self.height_mm, self.depth_mm)


def balance(left: Route, right: Route) -> Balance:
    """Return the difference of both tips in height and in depth, as the lateral view shows them."""
    one, other = left.target, right.target
    height, depth = _between(one.z_mm, other.z_mm), _between(one.y_mm, other.y_mm)
    return Balance(
        height_mm=None if height is None else abs(height),
        depth_mm=None if depth is None else abs(depth),
    )


def _moved(start: Length, by: float) -> Length:
    return None if start is None else start + by


def _between(one: Length, other: Length) -> Length:
    return None if one is None or other is None else other - one
