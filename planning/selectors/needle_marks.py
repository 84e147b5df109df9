"""Marks of planned needles on the images of a fracture's level."""

from dataclasses import dataclass

from register.domain.approach.marks import Approach, View, approach_from_marks
from register.domain.measuring.calibration import spacing_for
from register.domain.measuring.points import marks_of
from register.models import Fracture, Marking
from register.selectors.images import spacing_of_frame


@dataclass(frozen=True, slots=True)
class NeedleMarks:
    """The newest marks with needles in either view; None where a view has none."""

    axial: Marking | None
    sagittal: Marking | None

    def __bool__(self) -> bool:
        return self.axial is not None or self.sagittal is not None

    def approach(self, level: str) -> Approach:
        """Return both needles as far as they were marked. Raises ValueError in words."""
        return approach_from_marks(
            axial=_view(self.axial, level) if self.axial else None,
            sagittal=_view(self.sagittal, level) if self.sagittal else None,
        )


def needle_marks(fracture: Fracture) -> NeedleMarks:
    """Return the newest marks of needles at a fracture's level. One query."""
    rows = (
        Marking.objects.live()
        .filter(
            reading__study__patient=fracture.patient_id,
            reading__level=fracture.level,
            reading__voided_at=None,
            view__in=("axial", "needles"),
            repeats=None,
        )
        .select_related("frame__series", "observer")
        .order_by("-marked_on", "-pk")
    )
    newest: dict[str, Marking] = {}
    for row in rows:
        if any(name.startswith("entry_") for name in row.marks.get(fracture.level, {})):
            newest.setdefault(row.view, row)
    return NeedleMarks(newest.get("axial"), newest.get("needles"))


def _view(marking: Marking, level: str) -> View:
    marks = marks_of(marking.marks, marking.view)
    return View(marks.at(level), spacing_for(marks, spacing_of_frame(marking.frame)))
