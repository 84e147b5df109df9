"""What fits through the pedicle and into the body: sizes of the department's catalogue.

Arithmetic of this project, where the supplier's table does not say otherwise; the
supplier's table always goes first. Lengths are mm and exact; None is "not recorded"
or, as an answer, "cannot be said".
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from register.domain.calculations import calculation
from register.domain.decimals import Number, exact, exact_positive

ARITHMETIC: Final = "arithmetic"
SUPPLIER: Final = "from the supplier's table"


@calculation("isthmus_fit", answer="fits")
def isthmus_fit(isthmus_mm: Number, device_mm: Number, clearance_mm: Number) -> bool:
    """Return whether a device passes the narrowest part of the pedicle.

    The device's outer diameter must not be above the isthmus width less the
    clearance, which is the room on both sides together. Kaur et al. 2016 (PMC4857161,
    abstract read): pedicles under 5 mm do not take a 4 mm screw; from screws to any
    device is a generalisation of this project. Raises ValueError for a width or
    diameter of 0 or less, and for a clearance below 0.
    """
    isthmus = exact_positive(isthmus_mm, "The isthmus width")
    device = exact_positive(device_mm, "The device's diameter")
    clearance = exact(clearance_mm, "The clearance")
    if clearance < 0:
        raise ValueError(f"The clearance must be 0 or above, not {clearance_mm}.")
    return device <= isthmus - clearance


@dataclass(frozen=True, slots=True)
class Size:
    """One size of the catalogue. What the supplier's table says goes before the arithmetic."""

    name: str
    diameter_mm: Decimal | None = None
    length_mm: Decimal | None = None
    isthmus_from_mm: Decimal | None = None
    height_from_mm: Decimal | None = None
    depth_from_mm: Decimal | None = None
    depth_to_mm: Decimal | None = None

    @property
    def says_something(self) -> bool:
        """Whether anything but the name is entered."""
        return any(getattr(self, name) is not None for name in self.__slots__ if name != "name")

    def is_covered_by(self, other: "Size") -> bool:
        """Whether another size of the same name says all that this one does, and more."""
        return self != other and all(
            getattr(self, name) in (None, getattr(other, name)) for name in self.__slots__
        )


def distinct(sizes: Iterable[Size]) -> list[Size]:
    """Return each size once. Lots that tell less than another of their name are left out.

    Lots of one name that contradict each other both stay: somebody has to look.
    """
    once = list(dict.fromkeys(sizes))
    return [size for size in once if not any(size.is_covered_by(other) for other in once)]


@dataclass(frozen=True, slots=True)
class Room:
    """What the bone offers: the narrower isthmus, the lowest height and the depth of the body."""

    isthmus_mm: Decimal | None = None
    height_mm: Decimal | None = None
    depth_mm: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """Whether one measure suffices: `words` say what is needed, `basis` who says so.

    `fits` is None when the bone or the bound is not recorded; without a bound `basis` is blank.
    """

    part: str
    fits: bool | None
    words: str
    basis: str


@dataclass(frozen=True, slots=True)
class Fit:
    """One size with its three answers: isthmus, height, depth."""

    size: Size
    answers: tuple[Answer, ...]

    @property
    def fits(self) -> bool | None:
        """False when one measure does not suffice; True when all do; None when one is not known."""
        told = {answer.fits for answer in self.answers}
        if False in told:
            return False
        return None if None in told else True


def fits_of(sizes: Iterable[Size], room: Room, *, clearance_mm: Decimal | None) -> tuple[Fit, ...]:
    """Return each size with its answers; without a clearance only the table says what fits.

    The arithmetic: diameter and clearance within the isthmus; diameter within the
    lowest height; length within the depth. Both latter are plain geometry without
    any reserve, and say so.
    """
    return tuple(
        Fit(
            size,
            (
                _isthmus(size, room.isthmus_mm, clearance_mm),
                _height(size, room.height_mm),
                _depth(size, room.depth_mm),
            ),
        )
        for size in sizes
    )


def _isthmus(size: Size, width: Decimal | None, clearance: Decimal | None) -> Answer:
    if size.isthmus_from_mm is not None or size.diameter_mm is None or clearance is None:
        return _at_least("isthmus", width, size.isthmus_from_mm, SUPPLIER)
    words = f"{size.diameter_mm} mm and {clearance} mm clearance"
    fits = None if width is None else isthmus_fit(width, size.diameter_mm, clearance)
    return Answer("isthmus", fits, words, ARITHMETIC)


def _height(size: Size, height: Decimal | None) -> Answer:
    if size.height_from_mm is not None:
        return _at_least("height", height, size.height_from_mm, SUPPLIER)
    return _at_least("height", height, size.diameter_mm, ARITHMETIC)


def _depth(size: Size, depth: Decimal | None) -> Answer:
    low, high = size.depth_from_mm, size.depth_to_mm
    if high is None:
        return (
            _at_least("depth", depth, size.length_mm, ARITHMETIC)
            if low is None
            else _at_least("depth", depth, low, SUPPLIER)
        )
    words = f"up to {high} mm" if low is None else f"{low} to {high} mm"
    fits = None if depth is None else (low is None or depth >= low) and depth <= high
    return Answer("depth", fits, words, SUPPLIER)


def _at_least(part: str, value: Decimal | None, least: Decimal | None, basis: str) -> Answer:
    if least is None:
        return Answer(part, None, "nothing entered", "")
    fits = None if value is None else value >= least
    return Answer(part, fits, f"{least} mm or more", basis)
