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


@dataclass(frozen=True, slots=True)
class Room:
    """What the bone offers: the narrower isthmus, the lowest height and the depth of the body."""

    isthmus_mm: Decimal | None = None
    height_mm: Decimal | None = None
    depth_mm: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """Whether one measure suffices. `words` carry value and bound, `basis` where the bound is from.

    `fits` is None when the value or the bound is not recorded.
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
    part = "isthmus"
    if size.isthmus_from_mm is not None:
        return _at_least(part, width, size.isthmus_from_mm, SUPPLIER)
    if size.diameter_mm is None or clearance is None:
        return Answer(part, None, _no_bound(width), ARITHMETIC)
    if width is None:
        need = size.diameter_mm + clearance
        return Answer(part, None, f"not recorded; {need} mm needed", ARITHMETIC)
    return Answer(
        part,
        isthmus_fit(width, size.diameter_mm, clearance),
        f"{width} mm; {size.diameter_mm} mm and {clearance} mm clearance needed",
        ARITHMETIC,
    )


def _height(size: Size, height: Decimal | None) -> Answer:
    if size.height_from_mm is not None:
        return _at_least("height", height, size.height_from_mm, SUPPLIER)
    return _at_least("height", height, size.diameter_mm, ARITHMETIC)


def _depth(size: Size, depth: Decimal | None) -> Answer:
    low, high = size.depth_from_mm, size.depth_to_mm
    if low is None and high is None:
        return _at_least("depth", depth, size.length_mm, ARITHMETIC)
    bound = " to ".join(f"{end}" for end in (low, high) if end is not None)
    bound = f"up to {bound}" if low is None else bound if high is not None else f"{bound} or more"
    if depth is None:
        return Answer("depth", None, f"not recorded; {bound} mm needed", SUPPLIER)
    inside = (low is None or depth >= low) and (high is None or depth <= high)
    return Answer("depth", inside, f"{depth} mm; {bound} mm needed", SUPPLIER)


def _at_least(part: str, value: Decimal | None, least: Decimal | None, basis: str) -> Answer:
    if least is None:
        return Answer(part, None, _no_bound(value), basis)
    if value is None:
        return Answer(part, None, f"not recorded; {least} mm needed", basis)
    return Answer(part, value >= least, f"{value} mm; {least} mm needed", basis)


def _no_bound(value: Decimal | None) -> str:
    recorded = "not recorded" if value is None else f"{value} mm"
    return f"{recorded}; the catalogue does not say what is needed"
