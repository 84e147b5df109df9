"""How a needle is planned through one pedicle."""

from typing import ClassVar, Final

from django.db import models
from django.db.models import Q

from register.domain.vocabulary import SIDE
from register.models.base import Record, choice, known, link, number, voiding, within

SIDES: Final = SIDE[:2]


class PlannedApproach(Record):
    """One side's needle of a planned level, in mm and degrees.

    Lengths from the midline count outwards on the own side; "behind" and "above"
    count from the middle of the posterior wall. The medial angle is positive when
    the needle converges towards the midline in front, the cranial angle when the tip
    lies nearer to the head. `from_marks` says that the numbers were measured on the
    image; typed ones say the same in another way.
    """

    level = link("planning.PlannedLevel", related_name="approaches")
    side = choice(SIDES, blank=False)
    from_marks = models.BooleanField(default=False)
    medial_angle_deg = number(3, 1)
    cranial_angle_deg = number(3, 1)
    depth_mm = number(4, 1)
    pedicle_width_mm = number(3, 1)
    device_mm = number(3, 1)
    entry_lateral_mm = number(3, 1)
    entry_behind_mm = number(3, 1)
    entry_above_mm = number(3, 1)
    wall_lateral_mm = number(3, 1)
    wall_behind_mm = number(3, 1)

    class Meta:
        ordering: ClassVar = ["level", "side", "pk"]
        # Possible ranges are wide on purpose: common practice, no source.
        constraints: ClassVar = [
            known("approach", "side", SIDES, blank=False),
            within("approach", "medial_angle_deg", -40, 60, "The medial angle in degrees"),
            within("approach", "cranial_angle_deg", -45, 45, "The cranial angle in degrees"),
            within("approach", "depth_mm", 5, 120, "The depth in mm"),
            within("approach", "pedicle_width_mm", 1, 30, "Pedicle width in mm"),
            within("approach", "device_mm", 1, 12, "The diameter of the device in mm"),
            within("approach", "entry_lateral_mm", 0, 70, "Entry from the midline in mm"),
            within("approach", "entry_behind_mm", -50, 90, "Entry behind the posterior wall in mm"),
            within("approach", "entry_above_mm", -40, 40, "Entry above the middle in mm"),
            within("approach", "wall_lateral_mm", 2, 40, "Pedicle wall from the midline in mm"),
            within("approach", "wall_behind_mm", -10, 50, "Pedicle wall behind the body in mm"),
            models.UniqueConstraint(
                fields=["level", "side"],
                condition=Q(voided_at=None),
                name="approach_once_per_side",
                violation_error_message=(
                    "This side was planned already, perhaps in another window. Load the page again."
                ),
            ),
            voiding("approach"),
        ]

    def __str__(self) -> str:
        return f"{self.get_side_display()} needle"
