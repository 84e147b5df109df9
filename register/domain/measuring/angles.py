"""Angles between end plates, each with its two end plates by name.

The names of the angles differ among papers, so the end plates are what counts
(definitions from memory). Every angle is taken from corner to corner, is
positive for kyphosis and negative for lordosis, whichever way the film faces.
"""

from dataclasses import dataclass
from typing import Final

from register.domain.levels import above, below, order
from register.domain.measuring.points import Marks
from register.domain.measuring.quantities import DEGREES, Quantity, opening_deg


@dataclass(frozen=True, slots=True)
class EndPlate:
    """The upper or the lower end plate of a level."""

    side: str
    level: str

    @property
    def words(self) -> str:
        """The end plate as it is stored beside an angle: "upper T12"."""
        return f"{self.side} {self.level}"


@dataclass(frozen=True, slots=True)
class Angle:
    """An angle by its name and its two end plates, the one nearer the head first."""

    name: str
    head: EndPlate
    tail: EndPlate

    @property
    def field(self) -> str:
        """The field of a measurement that holds it."""
        return f"{self.name}_angle_deg"

    @property
    def words(self) -> str:
        """Both end plates: "upper T12 to lower L1"."""
        return f"{self.head.words} to {self.tail.words}"

    def quantity(self, marks: Marks) -> Quantity | None:
        """Return the angle over its four corners; None when one of them is not marked."""
        corners = [
            marks.at(plate.level).get(f"{plate.side}_{corner}")
            for plate in (self.head, self.tail)
            for corner in ("anterior", "posterior")
        ]
        points = tuple(corner for corner in corners if corner is not None)
        return Quantity(opening_deg, points, DEGREES) if len(points) == len(corners) else None


# Head and tail of the regions of the spine, as commonly taken (from memory).
REGIONS: Final = {
    "thoracolumbar": (EndPlate("upper", "T10"), EndPlate("lower", "L2")),
    "thoracic": (EndPlate("upper", "T4"), EndPlate("lower", "T12")),
    "lumbar": (EndPlate("upper", "L1"), EndPlate("upper", "S1")),
}


def angles_at(level: str) -> tuple[Angle, ...]:
    """Return the angles that describe a level, without those that reach beyond the spine.

    Vertebral: its own end plates. Local: upper end plate of the level above to
    its own lower one. Segmental: upper end plate of the level above to the lower
    one of the level below. Regional: the first of REGIONS that holds the level.
    """
    upper, lower = EndPlate("upper", level), EndPlate("lower", level)
    head, tail = above(level), below(level)
    found = [Angle("vertebral", upper, lower)]
    if head:
        found.append(Angle("local", EndPlate("upper", head), lower))
    if head and tail:
        found.append(Angle("segmental", EndPlate("upper", head), EndPlate("lower", tail)))
    return (*found, *_regional(level))


def _regional(level: str) -> list[Angle]:
    place = order(level)
    return [
        Angle("regional", head, tail)
        for head, tail in REGIONS.values()
        if order(head.level) <= place <= order(tail.level)
    ][:1]
