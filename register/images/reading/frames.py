"""Where each picture of a file lies, how large its points are and what its values mean.

In a file with many pictures these stand in groups: one shared by all pictures, one for
each, and in older files at the top. The nearest one counts (DICOM PS3.3 C.7.6.16).
"""

from collections.abc import Iterator
from typing import Any, Final

from register.images.reading.plain import CannotRead, lengths, number, numbers, text

_FUNCTIONS: Final = ("LINEAR", "LINEAR_EXACT", "SIGMOID")


class Groups:
    """Looks a value up for one picture: in its own group, in the shared one, at the top."""

    def __init__(self, header: Any, frame: int) -> None:
        own = header.get("PerFrameFunctionalGroupsSequence") or []
        shared = header.get("SharedFunctionalGroupsSequence") or []
        self.places = [*own[frame : frame + 1], *shared[:1]]
        self.header = header

    def get(self, group: str, name: str) -> Any:
        """Return the value called `name`, in the sequence called `group` or at the top."""
        for place in self.places:
            for item in (place.get(group) or [])[:1]:
                if (found := item.get(name)) is not None:
                    return found
        return self.header.get(name)


def frames_of(header: Any, count: int) -> Iterator[dict[str, Any]]:
    """Yield the facts of each picture, by the names of FrameFacts."""
    own = header.get("PerFrameFunctionalGroupsSequence") or []
    if own and len(own) != count:
        raise CannotRead("damaged")
    for frame in range(count):
        groups = Groups(header, frame)
        yield {
            "number": frame,
            **_points(groups),
            "position": numbers(groups.get("PlanePositionSequence", "ImagePositionPatient"), 3),
            "orientation": _orientation(groups),
            **meaning(groups),
        }


def _points(groups: Groups) -> dict[str, Any]:
    """Return the sizes of a point, as they are told."""
    header = groups.header
    ratio = numbers(header.get("PixelAspectRatio"), 2)
    magnification = number(header.get("EstimatedRadiographicMagnificationFactor"))
    return {
        "pixel_spacing": lengths(groups.get("PixelMeasuresSequence", "PixelSpacing")),
        "calibration_type": text(header.get("PixelSpacingCalibrationType"), 16).upper(),
        "imager_spacing": lengths(header.get("ImagerPixelSpacing")),
        "magnification": magnification if magnification and magnification > 0 else None,
        "aspect": ratio[0] / ratio[1] if ratio and min(ratio) > 0 else None,
        "thickness": number(groups.get("PixelMeasuresSequence", "SliceThickness")),
    }


def _orientation(groups: Groups) -> list[float]:
    return numbers(groups.get("PlaneOrientationSequence", "ImageOrientationPatient"), 6)


def meaning(groups: Groups) -> dict[str, Any]:
    """Return slope, intercept and first window of one picture.

    A slope without an intercept, or of 0, cannot be applied; both are then left at 1 and 0.
    """
    slope = number(groups.get("PixelValueTransformationSequence", "RescaleSlope"))
    intercept = number(groups.get("PixelValueTransformationSequence", "RescaleIntercept"))
    if not slope or intercept is None:
        slope, intercept = 1.0, 0.0
    centre = number(groups.get("FrameVOILUTSequence", "WindowCenter"))
    width = number(groups.get("FrameVOILUTSequence", "WindowWidth"))
    function = text(groups.get("FrameVOILUTSequence", "VOILUTFunction"), 16).upper()
    function = function if function in _FUNCTIONS else "LINEAR"
    if centre is None or width is None or width < (1 if function == "LINEAR" else 1e-9):
        centre = width = None
    return {
        "slope": slope, "intercept": intercept,
        "centre": centre, "width": width, "function": function,
    }  # fmt: skip
