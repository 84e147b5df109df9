"""Heights of both sides, width and tilt of the bodies on a frontal image.

Left and right are the patient's, whichever way the film faces. Width is the
mean length of both end plates, corner to corner: common practice (no source).
"""

from typing import Final

from register.domain.measuring.points import Body
from register.domain.measuring.quantities import (
    DEGREES,
    MM,
    Quantity,
    fall_deg,
    mean_length,
    opening_deg,
    quantity,
)

_END_PLATES: Final = ("upper_left", "upper_right", "lower_left", "lower_right")


def own_quantities(body: Body) -> dict[str, Quantity]:
    """Return what the marks of one body say; without its marks a number is left out.

    `frontal_angle_deg` lies between both end plates, positive when they close to
    the patient's left. `frontal_tilt_deg` is that of the upper end plate against
    the rows of the picture, positive when the left side lies lower.
    """
    found = {
        "left_height_mm": quantity(mean_length, body, ("upper_left", "lower_left"), MM),
        "right_height_mm": quantity(mean_length, body, ("upper_right", "lower_right"), MM),
        "width_mm": quantity(mean_length, body, _END_PLATES, MM),
        "frontal_angle_deg": quantity(opening_deg, body, _END_PLATES, DEGREES),
        "frontal_tilt_deg": quantity(fall_deg, body, _END_PLATES[:2], DEGREES),
    }
    return {name: made for name, made in found.items() if made is not None}
