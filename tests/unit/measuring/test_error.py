"""The error of a mark: where it comes from, and that it reaches each number as simulated."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from math import hypot, pi, radians, sqrt

import numpy as np
import pytest

from register.domain.measuring.angles import angles_at
from register.domain.measuring.axial import own_quantities as own_axial
from register.domain.measuring.calibration import Spacing, on_plane, uncalibrated
from register.domain.measuring.error import (
    POINT_ERROR,
    Value,
    measured,
    point_error,
    point_sd_of,
)
from register.domain.measuring.frontal import own_quantities as own_frontal
from register.domain.measuring.lateral import crush_quantities, loss_of
from register.domain.measuring.lateral import own_quantities as own_lateral
from register.domain.measuring.measure import measure
from register.domain.measuring.points import Known, Point
from register.domain.measuring.quantities import MM, Quantity, mean_length
from register.domain.measuring.volume import body_volume, marked_volume
from register.domain.protocol import Source, SourceKind, shipped
from tests.phantoms import AxialSlice, FrontalBody, LateralBody, axial, frontal, lateral
from tests.unit.measuring.strategies import marked

DAY = date(2026, 11, 25)
VALUES = shipped(DAY)
SPACING = Spacing(0.35, 0.2, "calibrated")
SD = 1.2
VIEWS = {
    "lateral": lateral(LateralBody("T12"), LateralBody("L1", 15, 17, 24), LateralBody("L2")),
    "frontal": frontal(FrontalBody("L1", 18, 26, tilt_deg=5)),
    "axial": axial(AxialSlice(retropulsion_mm=6)),
}


def quantities(marks):
    """Every number of L1, not worked out yet."""
    body = marks.at("L1")
    if marks.view == "frontal":
        return own_frontal(body)
    if marks.view == "axial":
        return own_axial(body)
    angles = {a.field: found for a in angles_at("L1") if (found := a.quantity(marks))}
    losses = loss_of(marks, "L1").quantities
    return own_lateral(body) | crush_quantities(marks, "L1") | dict(losses) | angles


def simulated(made, noise):
    """± of a number whose marks are set anew, again and again, each with its error."""
    drawn = []
    for misses in noise:
        pairs = zip(made.points, misses, strict=False)
        drawn.append(made.formula(*(Point(p.x + x, p.y + y) for p, (x, y) in pairs)))
    return 1.96 * np.std(drawn)


@pytest.mark.parametrize("view", VIEWS)
def test_the_error_of_every_number_is_that_of_a_simulation(view):
    marks = marked(VIEWS[view], SPACING, view)
    found = measure(marks, SPACING, SD)["L1"].values
    noise = np.random.default_rng(20270307).normal(0, SD, (4000, 8, 2)).tolist()
    made = quantities(on_plane(marks, SPACING))
    expected = {name: simulated(one, noise) for name, one in made.items()}
    assert {name: value.error for name, value in found.items()} == pytest.approx(expected, rel=0.03)


def test_the_error_of_a_height_is_that_of_two_marks():
    found = measure(marked(VIEWS["lateral"], SPACING), SPACING, SD)["L1"].values
    assert found["anterior_height_mm"].error == pytest.approx(1.96 * SD * sqrt(2))


def test_a_known_length_adds_the_error_of_its_own_marks():
    marks = replace(marked(VIEWS["lateral"]), known=Known(Point(0, 0), Point(50, 0), 50))
    found = measure(marks, uncalibrated(), SD)["L1"].values
    own, scale = SD * sqrt(2), 15 * SD * sqrt(2) / 50
    assert found["anterior_height_mm"].error == pytest.approx(1.96 * hypot(own, scale))
    plain = measure(replace(marks, known=None), Spacing(1, 1, "calibrated"), SD)["L1"].values
    assert found["wedge_percent"].error == pytest.approx(plain["wedge_percent"].error)


def test_without_calibration_no_error_is_known():
    found = measure(marked(VIEWS["lateral"]), uncalibrated(), SD)["L1"].values
    assert found["anterior_height_mm"] == Value(None, None)
    assert found["wedge_percent"].value == pytest.approx(62.5)
    assert found["wedge_percent"].error is None


def test_an_error_that_cannot_be_worked_out_is_not_zero():
    here = Point(3, 4)
    nothing = Quantity(mean_length, (here, here), MM)
    assert measured(nothing, Spacing(1, 1, "calibrated"), SD) == Value(0.0, None)
    assert measured(None, Spacing(1, 1, "calibrated"), SD) == Value(None, None)


def test_the_shipped_error_of_a_mark_lies_in_what_published_intervals_imply():
    """Alanay, Eur Spine J 2007;16:2126: heights ±4.5 to ±6.5 mm, angles ±7.1 to ±9.3°.

    A difference of two heights is four marks. A difference of two angles is
    four end plates, each off by sqrt(2) marks over its depth, here 34 mm.
    """
    by_height = [point_sd_of(limit) for limit in (4.5, 6.5)]
    by_angle = [radians(limit) / 1.96 * 34 / sqrt(8) for limit in (7.1, 9.3)]
    assert [round(sd, 2) for sd in (*by_angle, *by_height)] == [0.76, 1.0, 1.15, 1.66]
    shipped_sd = point_error(VALUES).sd_mm
    assert shipped_sd == pytest.approx((by_angle[0] + by_height[1]) / 2, abs=0.05)


def test_the_repeatability_of_the_department_replaces_the_shipped_error():
    own = Source("own", "Repeatability of this department, 60 pairs", SourceKind.MEASURED_HERE, DAY)
    values = VALUES.with_value("measures.height_error_mm", Decimal("3.2"), source=own, since=DAY)
    found = point_error(values)
    assert found.sd_mm == pytest.approx(3.2 / 1.96 / 2)
    assert "Repeatability of this department" in found.sentence


def test_a_bound_that_the_department_only_agreed_on_is_not_its_repeatability():
    agreed = Source("agreed", "Agreed in the department", SourceKind.COMMON_PRACTICE, DAY)
    values = VALUES.with_value("measures.height_error_mm", Decimal(3), source=agreed, since=DAY)
    assert point_error(values).sd_mm == 1.2


def test_a_protocol_from_before_there_was_an_error_of_a_mark_has_the_shipped_one():
    older = replace(VALUES, values=tuple(v for v in VALUES.values if v.id != POINT_ERROR))
    assert point_error(older) == point_error(VALUES)


@pytest.mark.parametrize(
    ("width", "depth", "height", "ml"),
    [(41.2, 34.1, 23.8, 26.3), (42.6, 34.6, 24.3, 28.1), (44.1, 35.2, 23.8, 29.0)],
)
def test_the_volume_is_an_elliptical_cylinder(width, depth, height, ml):
    """Widths and heights of L1 to L3: Panjabi 1992; depths from memory; volumes by arithmetic."""
    assert body_volume(width, depth, height).volume_ml == pytest.approx(ml, abs=0.05)


def test_a_marked_volume_keeps_what_it_was_made_of():
    heights = (Value(15, 3), Value(18, 3), Value(24, 3))
    found = marked_volume(Value(42, 2), Value(34, 2), heights)
    assert (found.width_mm, found.depth_mm, found.height_mm) == (42, 34, 19)
    share = hypot(2 / 42, 2 / 34, 3 / sqrt(3) / 19)
    assert found.volume_ml == pytest.approx(pi / 4 * 42 * 34 * 19 / 1000)
    assert found.error_ml == pytest.approx(found.volume_ml * share)


def test_a_volume_needs_every_length_and_its_error_every_error():
    heights = (Value(15, 3), Value(18, 3), Value(24, 3))
    assert marked_volume(Value(None), Value(34, 2), heights) is None
    assert marked_volume(Value(42, 2), Value(34, 2), (*heights[:2], Value(None))) is None
    assert marked_volume(Value(42), Value(34, 2), heights).error_ml is None
    with pytest.raises(ValueError, match="The depth must be above 0 mm, not 0"):
        body_volume(42, 0, 20)
