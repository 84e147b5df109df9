"""Where the points of an invented vertebra lie, in mm. Nothing here uses the code under test."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from math import cos, radians, sin, tau

Place = tuple[float, float]
Spacing = tuple[float, float]

BONE, CANAL = 0.75, 0.3


@dataclass(frozen=True)
class Phantom:
    """Marks per level and filled shapes (brightness 0 to 1, later ones on top), all in mm."""

    levels: Mapping[str, Mapping[str, Place]]
    shapes: tuple[tuple[float, tuple[Place, ...]], ...] = field(default=())

    def moved(self, move: Callable[[Place], Place]) -> "Phantom":
        levels = {at: {n: move(p) for n, p in body.items()} for at, body in self.levels.items()}
        return Phantom(
            levels, tuple((grey, tuple(map(move, shape))) for grey, shape in self.shapes)
        )

    def turned(self, degrees: float) -> "Phantom":
        """Turned clockwise on the screen about 0, 0 mm."""
        c, s = cos(radians(degrees)), sin(radians(degrees))
        return self.moved(lambda p: (p[0] * c - p[1] * s, p[0] * s + p[1] * c))

    def shifted(self, x: float, y: float) -> "Phantom":
        return self.moved(lambda p: (p[0] + x, p[1] + y))

    def mirrored(self) -> "Phantom":
        """As on a reversed film: left and right of the picture are exchanged, names are not."""
        return self.moved(lambda p: (-p[0], p[1]))

    def centred(self, *, rows: int, columns: int, spacing: Spacing) -> "Phantom":
        """Moved to the middle of a picture."""
        points = [p for _, shape in self.shapes for p in shape]
        x, y = ((min(p[i] for p in points) + max(p[i] for p in points)) / 2 for i in (0, 1))
        row_mm, column_mm = spacing
        return self.shifted((columns - 1) / 2 * column_mm - x, (rows - 1) / 2 * row_mm - y)

    def marks(self, spacing: Spacing = (1.0, 1.0)) -> dict[str, dict[str, list[float]]]:
        """The marks in pixels, as a marking stores them."""
        row_mm, column_mm = spacing
        return {
            level: {name: [x / column_mm, y / row_mm] for name, (x, y) in body.items()}
            for level, body in self.levels.items()
        }


@dataclass(frozen=True)
class LateralBody:
    """A body seen from the side: three parallel heights, and the depth between front and back.

    `tilt_deg` leans it forwards. The angle between its end plates is
    2·atan((posterior − anterior) / (2·depth)). `upper_share` of what is lost in
    the middle lies on the upper end plate.
    """

    level: str
    anterior_mm: float = 25.0
    middle_mm: float = 24.0
    posterior_mm: float = 26.0
    depth_mm: float = 34.0
    tilt_deg: float = 0.0
    upper_share: float = 1.0

    def points(self) -> Mapping[str, Place]:
        front, back = -self.depth_mm / 2, self.depth_mm / 2
        lost = (self.anterior_mm + self.posterior_mm) / 2 - self.middle_mm
        low = lost * (self.upper_share - 0.5)
        level = {
            "upper_anterior": (front, -self.anterior_mm / 2),
            "upper_middle": (0.0, low - self.middle_mm / 2),
            "upper_posterior": (back, -self.posterior_mm / 2),
            "lower_posterior": (back, self.posterior_mm / 2),
            "lower_middle": (0.0, low + self.middle_mm / 2),
            "lower_anterior": (front, self.anterior_mm / 2),
        }
        # Front down, with the front on the left, is anticlockwise.
        return Phantom({self.level: level}).turned(-self.tilt_deg).levels[self.level]


@dataclass(frozen=True)
class FrontalBody:
    """A body seen from the front; `tilt_deg` lowers the patient's left side."""

    level: str
    left_mm: float = 25.0
    right_mm: float = 25.0
    width_mm: float = 42.0
    tilt_deg: float = 0.0

    def points(self) -> Mapping[str, Place]:
        half = self.width_mm / 2
        level = {
            "upper_right": (-half, -self.right_mm / 2),
            "upper_left": (half, -self.left_mm / 2),
            "lower_left": (half, self.left_mm / 2),
            "lower_right": (-half, self.right_mm / 2),
        }
        # The patient's left is on the right of the picture, so its fall is clockwise.
        return Phantom({self.level: level}).turned(self.tilt_deg).levels[self.level]


@dataclass(frozen=True)
class AxialSlice:
    """A vertebra seen from below, front upwards: body, canal, and one fragment in it."""

    level: str = "L1"
    retropulsion_mm: float = 0.0
    canal_depth_mm: float = 16.0
    canal_width_mm: float = 22.0
    pedicle_left_mm: float = 8.0
    pedicle_right_mm: float = 8.0
    body_depth_mm: float = 34.0
    body_width_mm: float = 42.0

    def points(self) -> Mapping[str, Place]:
        half, pedicle = self.canal_width_mm / 2, self.canal_depth_mm / 3
        return {
            "wall_right": (-half * 0.8, 0.0),
            "wall_left": (half * 0.8, 0.0),
            "fragment": (1.5, self.retropulsion_mm),
            "canal_back": (0.0, self.canal_depth_mm),
            "canal_right": (-half, self.canal_depth_mm / 2),
            "canal_left": (half, self.canal_depth_mm / 2),
            "pedicle_right_medial": (-half, pedicle),
            "pedicle_right_lateral": (-half - self.pedicle_right_mm, pedicle),
            "pedicle_left_medial": (half, pedicle),
            "pedicle_left_lateral": (half + self.pedicle_left_mm, pedicle),
            "body_front": (0.0, -self.body_depth_mm),
            "body_right": (-self.body_width_mm / 2, -self.body_depth_mm / 2),
            "body_left": (self.body_width_mm / 2, -self.body_depth_mm / 2),
        }


def lateral(*bodies: LateralBody, gap_mm: float = 8.0) -> Phantom:
    """A column of bodies, head to tail, with a gap between their middles' ends."""
    levels, y = {}, 0.0
    for body in bodies:
        tall = max(body.anterior_mm, body.posterior_mm)
        levels[body.level] = Phantom({"": body.points()}).shifted(0, y + tall / 2).levels[""]
        y += tall + gap_mm
    return _filled(levels)


def frontal(*bodies: FrontalBody, gap_mm: float = 8.0) -> Phantom:
    """A column of bodies seen from the front, head to tail."""
    levels, y = {}, 0.0
    for body in bodies:
        tall = max(body.left_mm, body.right_mm)
        levels[body.level] = Phantom({"": body.points()}).shifted(0, y + tall / 2).levels[""]
        y += tall + gap_mm
    return _filled(levels)


def axial(cut: AxialSlice) -> Phantom:
    """One slice through the pedicles."""
    points = cut.points()
    half, back = cut.canal_width_mm / 2, cut.canal_depth_mm
    ring = _ellipse((0.0, back / 2), half + 8, back / 2 + 6)
    canal = _ellipse((0.0, back / 2), half, back / 2)
    body = _ellipse((0.0, -cut.body_depth_mm / 2), cut.body_width_mm / 2, cut.body_depth_mm / 2)
    x, y = points["fragment"]
    fragment = ((x - 5, -2.0), (x, y), (x + 5, -2.0))
    shapes = ((BONE, ring), (CANAL, canal), (BONE, body), (BONE, fragment))
    return replace(Phantom({cut.level: points}), shapes=shapes)


def _filled(levels: Mapping[str, Mapping[str, Place]]) -> Phantom:
    return Phantom(levels, tuple((BONE, tuple(body.values())) for body in levels.values()))


def _ellipse(centre: Place, half_width: float, half_height: float) -> tuple[Place, ...]:
    x, y = centre
    return tuple(
        (x + half_width * cos(turn), y + half_height * sin(turn))
        for turn in (tau * step / 72 for step in range(72))
    )
