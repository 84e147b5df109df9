"""How long a pixel is, and why that is believed.

Millimetres come from three sources only: a spacing that is calibrated in the
patient, the spacing of the detector corrected by the recorded magnification, or
a length that the reader knows. Everything else is "none": ratios and angles
then hold, lengths in mm do not exist. What the attributes mean is written in
the DICOM standard, PS3.3, section 10.7 (basic pixel spacing calibration) and
the X-ray modules; from memory. The bounds of what is plausible are chosen by
this project (no source): they catch spacings in cm or µm and left-over zeros.
"""

from dataclasses import dataclass
from math import hypot, isfinite
from typing import Final

from register.domain.measuring.points import Marks, Point

Pair = tuple[float, float]

# Slices of the patient; every other kind of image is a projection, or not known to be a slice.
SLICES: Final = ("CT", "MR", "PT")
CALIBRATED_TYPES: Final = ("GEOMETRY", "FIDUCIAL")

LEAST_MM: Final = 0.01
MOST_MM: Final = 10.0
MOST_MAGNIFICATION: Final = 3.0
MOST_ASPECT: Final = 10.0

_SENTENCES: Final = {
    "calibrated": "Millimetres from the calibrated pixel spacing of the file.",
    "magnification": "Millimetres from the spacing of the detector, corrected by the recorded "
    "magnification.",
    "known_length": "Millimetres from a known length that was drawn on the image.",
    "none": "Not calibrated: ratios and angles only, no millimetres.",
}


@dataclass(frozen=True, slots=True)
class Spacing:
    """How long a pixel is: `row_mm` from row to row (down), `column_mm` from column to column.

    `basis` is a code of the vocabulary CALIBRATION. With "none" both hold the
    aspect only and no length in mm exists. `known_mm` is the length that the
    reader drew, where that is the basis: its own two marks add to the error.
    Raises ValueError for a length that is not a finite number above 0.
    """

    row_mm: float
    column_mm: float
    basis: str
    known_mm: float | None = None

    def __post_init__(self) -> None:
        if self.basis not in _SENTENCES:
            raise ValueError(f"{self.basis!r} is not a way to calibrate an image.")
        if not all(isfinite(mm) and mm > 0 for mm in (self.row_mm, self.column_mm)):
            raise ValueError(f"A pixel cannot be {self.row_mm} by {self.column_mm} mm.")

    @property
    def has_mm(self) -> bool:
        """Whether lengths in mm exist."""
        return self.basis != "none"

    @property
    def aspect(self) -> float:
        """How tall a pixel is for its width."""
        return self.row_mm / self.column_mm

    @property
    def sentence(self) -> str:
        """Where the millimetres come from, or that there are none."""
        return _SENTENCES[self.basis]

    def place(self, point: Point) -> Point:
        """Return an image place in mm; without calibration in widths of a pixel."""
        return Point(point.x * self.column_mm, point.y * self.row_mm)

    def pixel(self, place: Point) -> Point:
        """Return the image place of a place in mm: the way back."""
        return Point(place.x / self.column_mm, place.y / self.row_mm)


@dataclass(frozen=True, slots=True)
class ImageTells:
    """What a file says about its pixels; None and '' where it says nothing.

    Pairs are (row, column) in mm, in the order of the file. `magnification` is
    the recorded factor, or both recorded distances divided (source to detector
    by source to patient). `aspect` is height by width of a pixel. `projection`
    is for what passes for a slice and is none: the overview of a CT, a captured
    screen; their spacing need not be that of the patient.
    """

    modality: str
    pixel_spacing: Pair | None = None
    calibration_type: str = ""
    imager_spacing: Pair | None = None
    magnification: float | None = None
    aspect: float | None = None
    projection: bool = False

    @property
    def is_slice(self) -> bool:
        """Whether the pixels lie in a plane of the patient."""
        return self.modality in SLICES and not self.projection


def spacing_of(tells: ImageTells) -> Spacing:
    """Return the spacing that may be believed, and its basis.

    The pixel spacing of a slice is in the patient. On a projection it counts
    only with a calibration type; alone it may be the detector's, which is
    too large by the magnification, so it is not used. Nothing impossible is
    believed: it counts as not there.
    """
    in_patient = tells.is_slice or tells.calibration_type.strip().upper() in CALIBRATED_TYPES
    if in_patient and (pair := _plausible(tells.pixel_spacing)):
        return Spacing(*pair, "calibrated")
    detector = None if tells.is_slice else _plausible(tells.imager_spacing)
    factor = tells.magnification
    if detector and factor is not None and 1 <= factor <= MOST_MAGNIFICATION:
        return Spacing(detector[0] / factor, detector[1] / factor, "magnification")
    return uncalibrated(_aspect(tells))


def uncalibrated(aspect: float | None = None) -> Spacing:
    """Return a spacing without mm. `aspect` is height by width of a pixel; None is square."""
    return Spacing(1.0 if aspect is None else aspect, 1.0, "none")


def known_length(start: Point, end: Point, mm: float, aspect: float = 1.0) -> Spacing:
    """Return the spacing at which a drawn line has its known length.

    Raises ValueError when both ends are one place, or the length is impossible.
    """
    drawn = hypot(end.x - start.x, (end.y - start.y) * aspect)
    if not drawn:
        raise ValueError("The known length needs two ends that lie apart.")
    return Spacing(mm / drawn * aspect, mm / drawn, "known_length", known_mm=mm)


def spacing_for(marks: Marks, spacing: Spacing) -> Spacing:
    """Return the spacing that the marks are measured with.

    A known length goes before a magnification, which assumes a distance, and
    after a spacing that is calibrated in the patient.
    """
    if marks.known is None or spacing.basis == "calibrated":
        return spacing
    return known_length(marks.known.start, marks.known.end, marks.known.mm, spacing.aspect)


def on_plane(marks: Marks, spacing: Spacing) -> Marks:
    """Return the marks in mm; without calibration in widths of a pixel, with the right shape."""
    return marks.moved(spacing.place)


def _aspect(tells: ImageTells) -> float | None:
    pairs = (_plausible(tells.pixel_spacing), _plausible(tells.imager_spacing))
    found = next((row / column for row, column in (p for p in pairs if p)), tells.aspect)
    if found is None or not 1 / MOST_ASPECT <= found <= MOST_ASPECT:
        return None
    return found


def _plausible(pair: Pair | None) -> Pair | None:
    if pair is None or not all(LEAST_MM <= mm <= MOST_MM for mm in pair):
        return None
    return pair
