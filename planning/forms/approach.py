"""The form of one side's needle."""

from typing import Any, ClassVar, Final

from crispy_forms.layout import Row
from django.core.exceptions import ValidationError

from planning.models import PlannedApproach
from register.forms.base import StrictMeta
from register.forms.editing import EditForm, questions

ANGLES: Final = ("medial_angle_deg", "cranial_angle_deg")
ENTRY: Final = ("entry_lateral_mm", "entry_behind_mm", "entry_above_mm")
WALL: Final = ("wall_lateral_mm", "wall_behind_mm")
NUMBERS: Final = (*ANGLES, "depth_mm", "pedicle_width_mm", "device_mm", *ENTRY, *WALL)


class ApproachForm(EditForm):
    """One side: angles, depth and widths; where the needle goes in; where the inner wall lies."""

    class Meta(StrictMeta):
        model = PlannedApproach
        fields: ClassVar = list(NUMBERS)
        labels: ClassVar = {
            "medial_angle_deg": "Medial angle",
            "cranial_angle_deg": "Angle to the head",
            "depth_mm": "Depth, entry to tip",
            "pedicle_width_mm": "Width of the pedicle",
            "device_mm": "Diameter of the device",
            "entry_lateral_mm": "Entry from the midline",
            "entry_behind_mm": "Entry behind the wall",
            "entry_above_mm": "Entry above the middle",
            "wall_lateral_mm": "Pedicle wall from the midline",
            "wall_behind_mm": "Pedicle wall behind the body",
        }

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.helper = questions(
            self.key,
            Row(*ANGLES, "depth_mm"),
            Row("pedicle_width_mm", "device_mm"),
            Row(*ENTRY),
            Row(*WALL),
        )

    def clean(self) -> dict[str, Any]:
        """A side without any number says nothing."""
        cleaned = super().clean()
        if not self.errors and all(cleaned.get(name) is None for name in NUMBERS):
            raise ValidationError("Enter at least one number of this side, or leave it unsaved.")
        return cleaned

    def values(self) -> dict[str, Any]:
        """Return what the service wants; numbers that were changed by hand are no longer marked."""
        typed = any(name in NUMBERS for name in self.changed_data)
        return super().values() | {"from_marks": self.instance.from_marks and not typed}
