"""The way of a needle, built in mm and found again in images of any turn, scale and mirror."""

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from register.domain.approach.marks import View, approach_from_marks
from register.domain.approach.one_sided import one_sided_prompt
from register.domain.approach.route import (
    Place,
    Route,
    balance,
    findings,
    medial_clearance_mm,
)
from register.domain.approach.widths import widths_at
from register.domain.levels import TREATABLE_CODES
from register.domain.measuring.calibration import Spacing
from register.domain.measuring.points import Point

# A body of L1 as a constructed case, in mm of the body frame: (x, y, z).
ENTRY = {"left": (22.0, 24.0, 6.0), "right": (-21.0, 25.0, 5.0)}
TARGET = {"left": (4.0, -24.0, 1.0), "right": (-6.0, -22.0, 2.0)}
AXIAL = {
    "wall_left": (14, 0), "wall_right": (-14, 0), "body_front": (0, -32), "canal_back": (0, 17),
    "pedicle_left_medial": (11, 5), "pedicle_left_lateral": (18.5, 5),
    "pedicle_right_medial": (-11, 5), "pedicle_right_lateral": (-18, 5),
}  # fmt: skip
SAGITTAL = {
    "upper_posterior": (0, 13), "lower_posterior": (0, -13),
    "upper_anterior": (-32, 12), "lower_anterior": (-32, -12),
}  # fmt: skip
SQUARE = Spacing(0.5, 0.5, "calibrated")
turns = st.floats(-180, 180)
shifts = st.floats(-300, 300)
flips = st.booleans()
pixels = st.floats(0.2, 1.5)


def image(places, spacing, *, turn=0.0, across=0.0, down=0.0, flipped=False):
    """Return places (mm right, mm down) as marks of an image that was turned, moved, mirrored."""
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    marks = {}
    for name, (x, y) in places.items():
        x = -x if flipped else x
        mm = x * c - y * s + across, x * s + y * c + down
        marks[name] = Point(mm[0] / spacing.column_mm, mm[1] / spacing.row_mm)
    return View(marks, spacing)


def axial_places(entry=ENTRY, target=TARGET):
    """Seen from below: the patient's left on the right, the back below."""
    routes = {f"entry_{s}": e[:2] for s, e in entry.items()}
    return AXIAL | routes | {f"target_{s}": t[:2] for s, t in target.items()}


def sagittal_places(entry=ENTRY, target=TARGET):
    """Seen from the left: the back on the right, the head on top."""

    def seen(place):
        return place[1], -place[2]

    routes = {f"entry_{s}": seen(e) for s, e in entry.items()}
    corners = {name: (y, -z) for name, (y, z) in SAGITTAL.items()}
    return corners | routes | {f"target_{s}": seen(t) for s, t in target.items()}


def measured(**moved):
    return approach_from_marks(
        axial=image(axial_places(), SQUARE, **moved),
        sagittal=image(sagittal_places(), SQUARE, **moved),
        device_mm=4.0,
    )


def close(route):
    """Everything that is said of a route, as numbers."""
    found, tip = findings(route), route.target
    return pytest.approx(
        [
            route.medial_angle_deg, route.cranial_angle_deg, route.depth_mm,
            route.outwards * route.entry.x_mm, route.entry.y_mm, route.entry.z_mm,
            route.outwards * tip.x_mm, tip.y_mm, tip.z_mm,
            route.pedicle_width_mm, route.body_depth_mm, found.medial_clearance_mm,
            found.tip_to_midline_mm, found.tip_to_front_mm, found.depth_share_percent,
        ],
        abs=1e-6,
    )  # fmt: skip


def said(route):
    return close(route).expected


# --- constructed cases --------------------------------------------------------


def test_a_constructed_case_gives_its_own_numbers():
    left = measured().left
    dx, dy, dz = 18.0, 48.0, -5.0
    assert left.medial_angle_deg == pytest.approx(math.degrees(math.atan2(dx, dy)))
    assert left.cranial_angle_deg == pytest.approx(math.degrees(math.atan2(dz, dy)))
    assert left.depth_mm == pytest.approx(math.hypot(dx, dy, dz))
    tip, found = left.target, findings(left)
    assert (tip.x_mm, tip.y_mm, tip.z_mm) == pytest.approx(TARGET["left"])
    assert left.pedicle_width_mm == pytest.approx(7.5)
    assert left.body_depth_mm == pytest.approx(32)
    assert found.tip_to_midline_mm == pytest.approx(4)
    assert found.tip_to_front_mm == pytest.approx(8)
    assert found.depth_share_percent == pytest.approx(75)
    # At y = 5 the axis stands at x = 22 - 18 * 19 / 48; the wall at 11, turned by the angle.
    beside = (22 - 18 * 19 / 48 - 11) * math.cos(math.atan2(18, 48))
    assert found.medial_clearance_mm == pytest.approx(beside - 2)
    assert found.lateral_clearance_mm == pytest.approx(7.5 - 4 - (beside - 2))


def test_both_views_agree_or_say_by_how_much_they_do_not():
    assert measured().mismatch_mm == pytest.approx({"left": 0, "right": 0})
    places = sagittal_places() | {"target_left": (-20.0, -1.0)}
    off = approach_from_marks(
        axial=image(axial_places(), SQUARE), sagittal=image(places, SQUARE)
    ).mismatch_mm
    assert off == pytest.approx({"left": 4, "right": 0})


def test_the_needle_that_leads_outwards_has_a_minus_and_the_one_beyond_the_midline_too():
    outwards = Route("left", -10, 0, 40, Place(15, 20, 0))
    assert findings(outwards).tip_to_midline_mm > 15
    assert measured().left.medial_angle_deg > 0
    beyond = Route("right", 40, 0, 60, Place(-20, 20, 0))
    assert findings(beyond).tip_to_midline_mm == pytest.approx(20 - 60 * math.sin(math.radians(40)))
    assert findings(beyond).tip_to_midline_mm < 0


@pytest.mark.parametrize(
    ("entry_x", "device", "room"), [(14, 4, 1), (12, 4, -1), (9, 4, -4), (14, 6, 0)]
)
def test_room_beside_the_wall_is_the_distance_less_half_of_the_device(entry_x, device, room):
    for side, out in (("left", 1), ("right", -1)):
        route = Route(
            side, 0, 0, 50, Place(out * entry_x, 25, 0), Place(out * 11, 5), device_mm=device
        )
        assert medial_clearance_mm(route) == pytest.approx(room)


def test_a_needle_that_ends_before_the_wall_is_measured_from_its_tip():
    route = Route("left", 0, 0, 16, Place(14, 25, 0), Place(11, 5), device_mm=2)
    assert medial_clearance_mm(route) == pytest.approx(math.hypot(3, 4) - 1)


def test_balance_is_the_difference_of_both_tips_in_the_lateral_view():
    both = measured()
    found = balance(both.left, both.right)
    assert (found.height_mm, found.depth_mm) == pytest.approx((1, 2))
    assert balance(both.left, Route("right")).height_mm is None


# --- invariance ---------------------------------------------------------------


@given(turn=turns, across=shifts, down=shifts)
def test_turning_and_moving_the_images_changes_nothing(turn, across, down):
    moved, still = measured(turn=turn, across=across, down=down), measured()
    assert said(moved.left) == close(still.left)
    assert said(moved.right) == close(still.right)


@given(turn=turns, flipped=flips)
def test_a_mirrored_image_changes_nothing_because_marks_name_the_patients_side(turn, flipped):
    moved = measured(turn=turn, flipped=flipped)
    assert said(moved.left) == close(measured().left)


@given(row=pixels, column=pixels)
def test_unequal_rows_and_columns_change_nothing(row, column):
    spacing = Spacing(row, column, "calibrated")
    found = approach_from_marks(
        axial=image(axial_places(), spacing), sagittal=image(sagittal_places(), spacing),
        device_mm=4.0,
    )  # fmt: skip
    assert said(found.left) == close(measured().left)


@given(
    entry=st.tuples(st.floats(12, 40), st.floats(10, 40), st.floats(-10, 10)),
    target=st.tuples(st.floats(-8, 14), st.floats(-30, 0), st.floats(-10, 10)),
)
def test_a_patient_in_the_mirror_has_the_same_numbers_on_the_other_side(entry, target):
    def both(sign, side):
        ends = {side: (sign * entry[0], *entry[1:])}, {side: (sign * target[0], *target[1:])}
        places = axial_places(*ends)
        other = AXIAL | {"pedicle_right_lateral": (-18.5, 5)}
        return approach_from_marks(
            axial=image(places | other, SQUARE), sagittal=image(sagittal_places(*ends), SQUARE),
            device_mm=3.0,
        )  # fmt: skip

    assert said(both(1, "left").left) == close(both(-1, "right").right)


@given(
    medial=st.floats(-40, 60), cranial=st.floats(-45, 45), depth=st.floats(5, 120),
    side=st.sampled_from(["left", "right"]),
)  # fmt: skip
def test_typed_angles_and_depth_give_the_tip_that_gives_them_back(medial, cranial, depth, side):
    entry = Place(10.0, 30.0, 2.0)
    route = Route(side, medial, cranial, depth, entry)
    tip = route.target
    back, up = entry.y_mm - tip.y_mm, tip.z_mm - entry.z_mm
    across = route.outwards * (entry.x_mm - tip.x_mm)
    assert math.hypot(back, up, across) == pytest.approx(depth)
    assert math.degrees(math.atan2(across, back)) == pytest.approx(medial, abs=1e-9)
    assert math.degrees(math.atan2(up, back)) == pytest.approx(cranial, abs=1e-9)


# --- what is not known ---------------------------------------------------------


def test_without_a_scale_angles_stand_and_lengths_do_not():
    bare = Spacing(1.2, 1.0, "none")
    found = approach_from_marks(
        axial=image(axial_places(), bare), sagittal=image(sagittal_places(), bare), device_mm=4.0
    )
    left, still = found.left, measured().left
    assert left.medial_angle_deg == pytest.approx(still.medial_angle_deg)
    assert left.cranial_angle_deg == pytest.approx(still.cranial_angle_deg)
    lengths = (left.depth_mm, left.pedicle_width_mm, left.body_depth_mm, *_of(left.entry))
    assert set(lengths) == {None}
    assert set(_of(left.medial_wall)) == {None}
    assert found.mismatch_mm == {"left": None, "right": None}
    assert set(vars_of(findings(left))) == {None}


def test_one_view_alone_tells_its_own_angle_only():
    axial = approach_from_marks(axial=image(axial_places(), SQUARE)).left
    assert (axial.cranial_angle_deg, axial.depth_mm, axial.entry.z_mm) == (None, None, None)
    assert axial.medial_angle_deg is not None
    assert axial.target == Place()
    sagittal = approach_from_marks(sagittal=image(sagittal_places(), SQUARE)).left
    assert (sagittal.medial_angle_deg, sagittal.depth_mm, sagittal.entry.x_mm) == (None,) * 3
    assert sagittal.body_depth_mm == pytest.approx(32)


@pytest.mark.parametrize(
    "lost",
    [
        "medial_angle_deg",
        "cranial_angle_deg",
        "depth_mm",
        "device_mm",
        "body_depth_mm",
        "pedicle_width_mm",
    ],
)
def test_nothing_stands_in_for_what_is_missing(lost):
    known = dict(
        medial_angle_deg=20, cranial_angle_deg=0, depth_mm=50, device_mm=4, body_depth_mm=32,
        pedicle_width_mm=7.5,        entry=Place(20, 25, 0), medial_wall=Place(11, 5),
    ) | {lost: None}  # fmt: skip
    found = findings(Route("left", **known))
    gone = {name for name, value in zip(FOUND, vars_of(found), strict=True) if value is None}
    assert gone == NEEDS[lost]


FOUND = (
    "medial_clearance_mm", "lateral_clearance_mm", "tip_to_midline_mm", "tip_to_front_mm",
    "depth_share_percent",
)  # fmt: skip
_TIP = {"tip_to_midline_mm", "tip_to_front_mm", "depth_share_percent"}
NEEDS = {
    "medial_angle_deg": {*FOUND}, "cranial_angle_deg": _TIP, "depth_mm": _TIP,
    "device_mm": {"medial_clearance_mm", "lateral_clearance_mm"},
    "pedicle_width_mm": {"lateral_clearance_mm"},
    "body_depth_mm": {"tip_to_front_mm", "depth_share_percent"},
}  # fmt: skip


def vars_of(found):
    return [getattr(found, name) for name in FOUND]


def _of(place):
    return place.x_mm, place.y_mm, place.z_mm


def test_points_that_were_mixed_up_are_refused_in_words():
    swapped = axial_places(entry=TARGET, target=ENTRY)
    with pytest.raises(ValueError, match="has to lie in front of the entry"):
        approach_from_marks(axial=image(swapped, SQUARE))
    one_point = axial_places() | {"wall_left": (-14, 0)}
    with pytest.raises(ValueError, match="lie on one point"):
        approach_from_marks(axial=image(one_point, SQUARE))
    with pytest.raises(ValueError, match="left or right"):
        Route("midline")
    with pytest.raises(ValueError, match="depth must be above 0"):
        Route("left", depth_mm=0)


# --- published -----------------------------------------------------------------


def test_a_band_is_made_by_standard_deviations_of_outer_widths_only():
    """Zindrick 1987, L1: 8.7 ± 2.3 (SD); Panjabi 1992 gives standard errors; Makino endosteal."""
    at_l1 = {width.name: width for width in widths_at("L1")}
    assert at_l1["Zindrick 1987"].band_mm == (Decimal("4.1"), Decimal("13.3"))
    assert at_l1["Panjabi 1992"].band_mm is None
    assert at_l1["Panjabi 1992"].words == "8.60 mm, standard error 0.92"
    assert at_l1["Makino 2012"].band_mm is None
    assert "inner edge" in at_l1["Makino 2012"].method
    bands = [w for level in TREATABLE_CODES for w in widths_at(level) if w.band_mm]
    assert {(w.dispersion, w.edge) for w in bands} == {("sd", "outer")}
    assert len(at_l1) == 13


def test_means_at_l5_run_as_wide_apart_as_the_collection_says():
    """Thirteen series of L5: outer means from 11.8 to 21.6 mm."""
    outer = [w.mean_mm for w in widths_at("L5") if w.edge == "outer"]
    assert (min(outer), max(outer)) == (Decimal("11.8"), Decimal("21.6"))


@pytest.mark.parametrize(
    ("level", "side", "says"),
    [
        ("L1", "left", "69.5 to 98.0 %"), ("L2", "right", "less likely to cross"),
        ("L4", "left", "98.0 %"), ("L3", "left", "95.5 %"),
        ("L1", "both", ""), ("T12", "left", ""), ("L1", "", ""),
    ],
)  # fmt: skip
def test_the_prompt_speaks_for_one_side_at_levels_of_the_study(level, side, says):
    words = one_sided_prompt(level, side)
    assert says in words
    assert bool(words) == bool(says)
