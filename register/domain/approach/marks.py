"""Both needles from points that were marked on an axial and a sagittal image.

Marks are image pixels: x to the right along a row, y downwards. They are named
for the patient's side, so an image that is shown mirrored or turned gives the
same answer: the frame of the body is built from the marks themselves.

Axial:     wall_left, wall_right (ends of the posterior wall); for each side entry_left,
           target_left, pedicle_left_medial, pedicle_left_lateral; body_front and
           canal_back say where front and back are.
Sagittal:  upper_posterior, lower_posterior (corners of the posterior wall), the anterior
           corners; for each side entry_left, target_left.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from register.domain.approach.route import SIDES, Length, Place, Route
from register.domain.measuring.calibration import Spacing
from register.domain.measuring.points import Point, midpoint


@dataclass(frozen=True, slots=True)
class View:
    """The marks of one image with the scale of that image."""

    marks: Mapping[str, Point]
    spacing: Spacing


@dataclass(frozen=True, slots=True)
class Approach:
    """Both routes. `mismatch_mm` maps a side to the difference of its two views.

    How far the needle goes forward is seen in both images; a large difference means
    that a point was marked on another slice or level. None where a view lacks it.
    """

    left: Route
    right: Route
    mismatch_mm: Mapping[str, Length]


def approach_from_marks(
    *, axial: View | None = None, sagittal: View | None = None, device_mm: Length = None
) -> Approach:
    """Return both routes as far as the marks tell them.

    A view that is missing or not calibrated leaves lengths None; angles stand. The
    way forward is taken from the axial view, from the sagittal one where that has no
    scale. Raises ValueError when a target does not lie in front of its entry, or
    when both ends of the posterior wall are one point.
    """
    needles = [(f"target_{side}", f"entry_{side}") for side in SIDES]
    across = _Frame(axial, "wall_right", "wall_left") if axial else None
    upright = _Frame(sagittal, "lower_posterior", "upper_posterior") if sagittal else None
    if across:
        across.look_back(
            ("body_front", "canal_back"), ("body_front", ""), ("", "canal_back"), *needles
        )
    if upright:
        upright.look_back(("upper_anterior", ""), ("lower_anterior", ""), *needles)
    one, other = (_Side(side, across, upright) for side in SIDES)
    return Approach(
        one.route(device_mm), other.route(device_mm), {s.side: s.mismatch_mm for s in (one, other)}
    )


class _Spot(NamedTuple):
    """A mark in the frame of the body: along the posterior wall, and to the back of it."""

    along: float
    back: float


class _Frame:
    """The axes of the body inside one image: along the posterior wall, and away from its front."""

    def __init__(self, view: View, start: str, end: str) -> None:
        """Lay the first axis from one mark to another and the origin half-way between them."""
        self._view = view
        self.is_scaled = view.spacing.has_mm
        self._axis: tuple[float, float] | None = None
        self._backwards = 0
        ends = self._at(start), self._at(end)
        if ends[0] is None or ends[1] is None:
            return
        length = math.dist(ends[0], ends[1])
        if length == 0:
            raise ValueError("Both ends of the posterior wall lie on one point: mark them again.")
        self._origin = midpoint(ends[0], ends[1])
        self._axis = (ends[1][0] - ends[0][0]) / length, (ends[1][1] - ends[0][1]) / length

    def look_back(self, *pairs: tuple[str, str]) -> None:
        """Find the side of the back by the first pair (in front, behind) that was marked.

        An empty name stands for the posterior wall itself.
        """
        for front, behind in pairs:
            ends = [self._turned(name, 1) if name else _Spot(0, 0) for name in (front, behind)]
            if ends[0] is not None and ends[1] is not None and ends[0].back != ends[1].back:
                self._backwards = 1 if ends[1].back > ends[0].back else -1
                return

    def spot(self, name: str) -> _Spot | None:
        """Return a mark; None when it was not set or the frame is not known."""
        return self._turned(name, self._backwards) if self._backwards else None

    def _turned(self, name: str, sign: int) -> _Spot | None:
        at = self._at(name)
        if at is None or self._axis is None:
            return None
        x, y = at[0] - self._origin[0], at[1] - self._origin[1]
        ahead, aside = self._axis
        return _Spot(x * ahead + y * aside, sign * (y * ahead - x * aside))

    def _at(self, name: str) -> Point | None:
        mark = self._view.marks.get(name)
        return None if mark is None else self._view.spacing.place(mark)


class _Side:
    """One side's marks in both frames."""

    def __init__(self, side: str, across: _Frame | None, upright: _Frame | None) -> None:
        self.side, self._across, self._upright = side, across, upright
        self._entry = _seen(across, f"entry_{side}"), _seen(upright, f"entry_{side}")
        self._target = _seen(across, f"target_{side}"), _seen(upright, f"target_{side}")

    def route(self, device_mm: Length) -> Route:
        """Return the route of this side."""
        medial, cranial = self._medial_deg, self._turn_deg(1)
        return Route(
            side=self.side,
            medial_angle_deg=medial,
            cranial_angle_deg=cranial,
            depth_mm=_along_the_needle(self._forward_mm, medial, cranial),
            entry=self._entry_place,
            medial_wall=self._wall,
            pedicle_width_mm=self._pedicle_width_mm,
            device_mm=device_mm,
            body_depth_mm=_body_depth_mm(self._across, self._upright),
        )

    @property
    def mismatch_mm(self) -> Length:
        """By how much both views differ in how far the needle goes forward."""
        one, other = self._forward(0), self._forward(1)
        return None if one is None or other is None else abs(one - other)

    @property
    def _medial_deg(self) -> float | None:
        """The needle turns inwards when its tip lies nearer to the other side than its entry."""
        turn = self._turn_deg(0)
        return None if turn is None else turn * (-1 if self.side == "left" else 1)

    def _turn_deg(self, view: int) -> float | None:
        entry, target = self._entry[view], self._target[view]
        if entry is None or target is None:
            return None
        return math.degrees(math.atan2(target.along - entry.along, entry.back - target.back))

    def _forward(self, view: int) -> Length:
        entry, target = self._entry[view], self._target[view]
        frame = (self._across, self._upright)[view]
        if frame is None or not frame.is_scaled or entry is None or target is None:
            return None
        return entry.back - target.back

    @property
    def _forward_mm(self) -> Length:
        axial = self._forward(0)
        return self._forward(1) if axial is None else axial

    @property
    def _entry_place(self) -> Place:
        axial, sagittal = (
            _scaled(frame, spot)
            for frame, spot in zip((self._across, self._upright), self._entry, strict=True)
        )
        back = axial or sagittal
        return Place(
            x_mm=axial.along if axial else None,
            y_mm=back.back if back else None,
            z_mm=sagittal.along if sagittal else None,
        )

    @property
    def _wall(self) -> Place:
        spot = _scaled(self._across, _seen(self._across, f"pedicle_{self.side}_medial"))
        return Place(spot.along, spot.back) if spot else Place()

    @property
    def _pedicle_width_mm(self) -> Length:
        inner, outer = (
            _scaled(self._across, _seen(self._across, f"pedicle_{self.side}_{wall}"))
            for wall in ("medial", "lateral")
        )
        return math.dist(inner, outer) if inner and outer else None


def _seen(frame: _Frame | None, name: str) -> _Spot | None:
    return frame.spot(name) if frame else None


def _scaled(frame: _Frame | None, spot: _Spot | None) -> _Spot | None:
    return spot if frame and frame.is_scaled else None


def _along_the_needle(forward: Length, medial: Length, cranial: Length) -> Length:
    """Return the way along the needle from the way forward and both angles."""
    if forward is None or medial is None or cranial is None:
        return None
    return forward * math.hypot(1, math.tan(math.radians(medial)), math.tan(math.radians(cranial)))


def _body_depth_mm(across: _Frame | None, upright: _Frame | None) -> Length:
    """Return how far the front lies before the posterior wall: axial, else the mean of corners."""
    front = _scaled(across, _seen(across, "body_front"))
    if front:
        return -front.back
    corners = [_scaled(upright, _seen(upright, f"{at}_anterior")) for at in ("upper", "lower")]
    known = [-corner.back for corner in corners if corner]
    return sum(known) / len(known) if len(known) == len(corners) else None
