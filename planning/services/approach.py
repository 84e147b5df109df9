"""Writing how a needle is planned: typed, or taken from marks on the image."""

from decimal import Decimal
from typing import Any

from planning.models import PlannedApproach, PlannedLevel
from planning.services.plans import refuse_approved
from register.domain.approach.marks import Approach
from register.domain.approach.route import Route
from register.history import acting
from register.models import User
from register.services.editing import update_row


def approach_save(
    *, approach: PlannedApproach, expected_version: int, user: User, **fields: Any
) -> PlannedApproach:
    """Save one side of a draft plan, new or changed.

    Raises PlanningError when the plan is approved, ValidationError, and EditConflict.
    """
    refuse_approved(approach.level.plan)
    with acting(user, "Approach planned"):
        for name, value in fields.items():
            setattr(approach, name, value)
        if approach.pk is None:
            approach.full_clean()
            approach.save()
        else:
            update_row(approach, expected_version=expected_version, fields=list(fields))
    return approach


def approach_take_marks(
    *, level: PlannedLevel, measured: Approach, user: User
) -> list[PlannedApproach]:
    """Write what was marked on the image for each side that has an angle or a width.

    All numbers of such a side are replaced, also by "not known", so that typed and
    measured ones never mix; only the diameter of the device stays where the marks do
    not bring one. Raises as `approach_save`.
    """
    saved = []
    for route in (measured.left, measured.right):
        fields = fields_of(route)
        if all(value is None for name, value in fields.items() if name != "device_mm"):
            continue
        stored = PlannedApproach.objects.live().filter(level=level, side=route.side).first()
        approach = stored or PlannedApproach(level=level, side=route.side)
        if fields["device_mm"] is None:
            fields["device_mm"] = approach.device_mm
        saved.append(
            approach_save(
                approach=approach,
                expected_version=approach.version,
                user=user,
                from_marks=True,
                **fields,
            )
        )
    return saved


def fields_of(route: Route) -> dict[str, Decimal | None]:
    """Return a route as the columns of a row, to 0.1 mm and 0.1°."""
    out = route.outwards
    entry, wall = route.entry, route.medial_wall
    return {
        "medial_angle_deg": _tenth(route.medial_angle_deg),
        "cranial_angle_deg": _tenth(route.cranial_angle_deg),
        "depth_mm": _tenth(route.depth_mm),
        "pedicle_width_mm": _tenth(route.pedicle_width_mm),
        "device_mm": _tenth(route.device_mm),
        "entry_lateral_mm": _tenth(entry.x_mm, out),
        "entry_behind_mm": _tenth(entry.y_mm),
        "entry_above_mm": _tenth(entry.z_mm),
        "wall_lateral_mm": _tenth(wall.x_mm, out),
        "wall_behind_mm": _tenth(wall.y_mm),
    }


def _tenth(value: float | None, sign: int = 1) -> Decimal | None:
    """Return a number to one decimal, never "-0.0"."""
    return None if value is None else Decimal(f"{sign * value:.1f}") + 0
