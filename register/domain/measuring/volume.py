"""The volume of a vertebral body as an elliptical cylinder."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, pi

from register.domain.calculations import calculation
from register.domain.measuring.error import Value


@dataclass(frozen=True, slots=True)
class Volume:
    """A volume in ml, the three lengths in mm that it was made of, and its ±; None is not known."""

    volume_ml: float
    width_mm: float
    depth_mm: float
    height_mm: float
    error_ml: float | None = None


@calculation("body_volume")
def body_volume(width_mm: float, depth_mm: float, height_mm: float) -> Volume:
    """Return π/4 · width · depth · height, in ml.

    A solid elliptical cylinder (common practice, no source): it overstates the
    body by an unknown factor, so it compares bodies and never says how much
    cement fits. Raises ValueError for a length that is not above 0.
    """
    for name, length in (("width", width_mm), ("depth", depth_mm), ("height", height_mm)):
        if not length > 0:
            raise ValueError(f"The {name} must be above 0 mm, not {length}.")
    return Volume(pi / 4 * width_mm * depth_mm * height_mm / 1000, width_mm, depth_mm, height_mm)


def marked_volume(width: Value, depth: Value, heights: Sequence[Value]) -> Volume | None:
    """Return the volume of a marked body of the mean of its three heights; None without one.

    The ± takes width, depth and heights as independent.
    """
    lengths = (width.value, depth.value, *(height.value for height in heights))
    if not all(length is not None and length > 0 for length in lengths):
        return None
    across, deep, *tall = (length for length in lengths if length is not None)
    found = body_volume(across, deep, sum(tall) / len(tall))
    errors = [one.error for one in (width, depth, *heights)]
    known = [error for error in errors if error is not None]
    if len(known) < len(errors):
        return found
    height_error = hypot(*known[2:]) / len(tall)
    share = hypot(known[0] / across, known[1] / deep, height_error / found.height_mm)
    return Volume(found.volume_ml, across, deep, found.height_mm, found.volume_ml * share)
