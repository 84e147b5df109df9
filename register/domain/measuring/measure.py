"""Everything that the marks of one image say, level by level, with its error."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import Any

from register.domain.calculations import calculation
from register.domain.measures import SHAPE_OF
from register.domain.measuring import axial, frontal, lateral
from register.domain.measuring.angles import angles_at
from register.domain.measuring.calibration import Spacing, on_plane, spacing_for, uncalibrated
from register.domain.measuring.error import Value, measured
from register.domain.measuring.points import Marks, marks_of
from register.domain.measuring.quantities import Quantity


@dataclass(frozen=True, slots=True)
class Measured:
    """The numbers of one level by name, with what has to stand beside them.

    `values` has the fields of a measurement and some more; what was not marked
    is not in it, what is marked but has no mm is in it without a value.
    `end_plates` names those of each angle. `reference_levels` are the levels
    that the losses are taken against, nearest above, nearest below; `most_lost`
    is the place of the largest loss, '' when there is none to compare.
    """

    values: Mapping[str, Value]
    end_plates: Mapping[str, str] = field(default_factory=dict)
    reference_levels: tuple[str, ...] = ()
    most_lost: str = ""
    grade: int | None = None

    @property
    def shape(self) -> str:
        """The shape word of the largest loss: wedge, biconcave, crush; '' without one."""
        return SHAPE_OF.get(self.most_lost, "")


def measure(
    marks: Marks, spacing: Spacing, point_sd_mm: float, *, not_intact: Collection[str] = ()
) -> dict[str, Measured]:
    """Return what the marks of an image say of each marked level, head to tail.

    `spacing` is that of the image; a known length among the marks is used where
    it counts. `point_sd_mm` is the error of a mark (`error.point_error`).
    `not_intact` are levels that cannot be a reference: fractured or cemented.
    """
    scale = spacing_for(marks, spacing)
    plane = on_plane(marks, scale)

    return {
        level: _with_errors(_made(plane, level, not_intact), scale, point_sd_mm)
        for level in plane.levels
    }


@dataclass(frozen=True, slots=True)
class _Made:
    """The quantities of one level, before they are worked out."""

    quantities: Mapping[str, Quantity]
    end_plates: Mapping[str, str] = field(default_factory=dict)
    loss: lateral.Loss | None = None


def _made(plane: Marks, level: str, not_intact: Collection[str]) -> _Made:
    if plane.view == "frontal":
        return _Made(frontal.own_quantities(plane.at(level)))
    if plane.view == "axial":
        return _Made(axial.own_quantities(plane.at(level)))
    if plane.view == "needles":  # what they say is worked out by `approach`
        return _Made({})
    found = lateral.own_quantities(plane.at(level)) | lateral.crush_quantities(plane, level)
    angles = {angle: made for angle in angles_at(level) if (made := angle.quantity(plane))}
    loss = lateral.loss_of(plane, level, not_intact)
    return _Made(
        found
        | {angle.field: made for angle, made in angles.items()}
        | (dict(loss.quantities) if loss else {}),
        {angle.field: angle.words for angle in angles},
        loss,
    )


def _with_errors(made: _Made, scale: Spacing, point_sd_mm: float) -> Measured:
    values = {name: measured(one, scale, point_sd_mm) for name, one in made.quantities.items()}
    loss = made.loss
    if loss is None:
        return Measured(values, made.end_plates)
    levels, place = loss.reference.levels, loss.largest.place
    return Measured(values, made.end_plates, levels, place, loss.grade)


@calculation("measure_marks")
def measure_marks(
    *,
    view: str,
    marks: Mapping[str, Any],
    level: str,
    row_mm: float | None = None,
    column_mm: float | None = None,
) -> dict[str, float | None]:
    """Return the bare numbers of one level from stored marks, to check an installation.

    Without `row_mm` and `column_mm` the image is not calibrated. Raises
    ValueError for marks or a spacing that cannot be, and a level that is not marked.
    """
    read = marks_of(marks, view)
    if level not in read.levels:
        raise ValueError(f"{level} is not marked.")
    scale = uncalibrated()
    if row_mm is not None and column_mm is not None:
        scale = Spacing(row_mm, column_mm, "calibrated")
    found = measure(read, scale, 0.0)[level]
    return {name: value.value for name, value in found.values.items()}
