"""What follows from a planned needle, in words: number, tolerance, or what is needed for it.

A tolerance is the department's own; without one nothing is judged. Nothing here asks
the database.
"""

from dataclasses import dataclass
from typing import Final

from planning.models import PlannedApproach
from register.domain.approach.route import Route, balance, findings
from register.domain.protocol import ProtocolValues


@dataclass(frozen=True, slots=True)
class Line:
    """One result: what, its value in words, how it stands to the tolerance, and a remark.

    `state` is (word, shape, tone), None where there is no tolerance to speak of.
    """

    label: str
    value: str
    state: tuple[str, str, str] | None = None
    note: str = ""
    is_known: bool = True


_NO_TOLERANCE: Final = ("no tolerance entered", "open", "")

# What a result needs, in the words of the form.
_WAY: Final = (
    ("medial_angle_deg", "the medial angle"),
    ("cranial_angle_deg", "the angle to the head"),
    ("depth_mm", "the depth"),
)
_ENTRY: Final = {
    "x_mm": "the entry from the midline",
    "y_mm": "the entry behind the wall",
    "z_mm": "the entry above the middle",
}


def needle_words(row: PlannedApproach) -> str:
    """Return one side in a line for the theatre list; blank without angle and depth."""
    medial, cranial, depth = row.medial_angle_deg, row.cranial_angle_deg, row.depth_mm
    parts = []
    if medial is not None:
        parts.append(f"{abs(medial)}° {'inwards' if medial >= 0 else 'outwards'}")
    if cranial is not None:
        parts.append(f"{abs(cranial)}° to the {'head' if cranial >= 0 else 'feet'}")
    if depth is not None:
        parts.append(f"{depth} mm deep")
    return f"{row.get_side_display()} needle {', '.join(parts)}" if parts else ""


def side_lines(route: Route, values: ProtocolValues) -> tuple[Line, ...]:
    """Return what follows from one side's numbers."""
    found = findings(route)
    return (
        _medial(route.medial_angle_deg),
        _cranial(route.cranial_angle_deg),
        _plain("Depth, entry to tip", route.depth_mm, "mm", "the depth"),
        _judged(
            "Device to the inner wall of the pedicle", found.medial_clearance_mm,
            _needs_of_clearance(route), values, "approach.medial_clearance_mm",
            note="Shortest distance of the axis from the wall, less half of the diameter."
            + _breach(found.medial_clearance_mm),
        ),
        _plain(
            "Device to the outer wall, by the width", found.lateral_clearance_mm, "mm",
            _needs_of_clearance(route, width=True),
            note=_leaving(found.lateral_clearance_mm),
        ),
        _judged(
            "Tip from the midline", found.tip_to_midline_mm, _needs(route, "x_mm"), values,
            "approach.tip_to_midline_mm", at_most=True, note=_crossing(found.tip_to_midline_mm),
        ),
        _judged(
            "Tip from the anterior wall", found.tip_to_front_mm,
            _needs(route, "y_mm", body=True), values, "approach.tip_to_front_mm",
            note="In the lateral view. Beside the midline the curved front comes earlier.",
        ),
        _plain(
            "Share of the body’s depth reached", found.depth_share_percent, "%",
            _needs(route, "y_mm", body=True),
        ),
    )  # fmt: skip


def balance_lines(left: Route, right: Route, values: ProtocolValues) -> tuple[Line, ...]:
    """Return how far apart both tips lie in the lateral view; needs both sides."""
    found = balance(left, right)
    needs = "entry, depth and both angles of both sides"
    return (
        _judged("Difference in height", found.height_mm, needs, values, "approach.balance_mm",
                at_most=True),
        _judged("Difference in depth", found.depth_mm, needs, values, "approach.balance_mm",
                at_most=True),
    )  # fmt: skip


def _medial(angle: float | None) -> Line:
    if angle is None:
        return _unknown("Medial angle", "the medial angle")
    way = "converges towards the midline in front" if angle >= 0 else "leads away from the midline"
    return Line("Medial angle", f"{angle:.1f}°", note=f"The needle {way}.")


def _cranial(angle: float | None) -> Line:
    if angle is None:
        return _unknown("Angle to the head", "the angle to the head")
    way = "head" if angle > 0 else "feet"
    words = f"The tip points to the {way}." if angle else "Square to the posterior wall."
    return Line("Angle to the head", f"{angle:.1f}°", note=words)


def _plain(label: str, value: float | None, unit: str, needs: str, *, note: str = "") -> Line:
    if value is None:
        return _unknown(label, needs)
    return Line(label, f"{value:.1f} {unit}", note=note)


def _judged(
    label: str,
    value: float | None,
    needs: str,
    values: ProtocolValues,
    tolerance_id: str,
    *,
    at_most: bool = False,
    note: str = "",
) -> Line:
    """Return a result beside the department's tolerance. "At most" counts both ways."""
    if value is None:
        return _unknown(label, needs)
    bound = values.number_if_entered(tolerance_id)
    told = f"{value:.1f} mm"
    if bound is None:
        return Line(label, told, _NO_TOLERANCE, note.strip())
    holds = abs(value) <= bound if at_most else value >= bound
    words = f"{'at most' if at_most else 'at least'} {bound} mm"
    state = (
        (f"within the tolerance, {words}", "full", "")
        if holds
        else (f"outside the tolerance, {words}", "triangle", "attention")
    )
    source = values.entry(tolerance_id).source.words
    return Line(label, told, state, f"{note} Tolerance: {source}.".strip())


def _unknown(label: str, needs: str) -> Line:
    return Line(label, f"needs {needs}", is_known=False)


def _needs(route: Route, axis: str, *, body: bool = False) -> str:
    """Return what is missing for a place of the tip on one axis."""
    missing = [words for name, words in _WAY if getattr(route, name) is None]
    if getattr(route.entry, axis) is None:
        missing.append(_ENTRY[axis])
    if body and route.body_depth_mm is None:
        missing.append("the measured depth of the body")
    return _listed(missing)


def _needs_of_clearance(route: Route, *, width: bool = False) -> str:
    missing = [
        words
        for known, words in (
            (route.medial_angle_deg, "the medial angle"),
            (route.device_mm, "the diameter of the device"),
            (route.entry.x_mm, _ENTRY["x_mm"]),
            (route.entry.y_mm, _ENTRY["y_mm"]),
            (route.medial_wall.x_mm, "the pedicle wall from the midline"),
            (route.medial_wall.y_mm, "the pedicle wall behind the body"),
        )
        if known is None
    ]
    if width and route.pedicle_width_mm is None:
        missing.append("the width of the pedicle")
    return _listed(missing)


def _listed(parts: list[str]) -> str:
    return " and ".join(filter(None, [", ".join(parts[:-1]), *parts[-1:]]))


def _breach(room: float | None) -> str:
    return " It would lie in the wall or in the canal." if room is not None and room < 0 else ""


def _leaving(room: float | None) -> str:
    if room is None or room >= 0:
        return ""
    return "It would leave the pedicle on the outer side, as an approach beside it does."


def _crossing(distance: float | None) -> str:
    if distance is None or distance == 0:
        return ""
    return "Beyond the midline." if distance < 0 else "On the own side."
