"""Heights: published pairs, bands at their bounds, and nothing ever clipped."""

from datetime import date
from decimal import Decimal as D

import pytest
from hypothesis import given

from register.domain.measures import (
    Heights,
    biconcave_ratio,
    crush_ratio,
    genant_grade,
    height_loss,
    height_loss_percent,
    height_restoration,
    reference_heights,
    t_score_class,
    wedge_angle_deg,
    wedge_ratio,
    within_angle_error,
    within_height_error,
)
from register.domain.protocol import shipped
from tests.strategies import heights_mm

VALUES = shipped(date(2026, 11, 25))
INTACT = Heights(D(24), D(23), D(25))
BROKEN = Heights(D(12), D(11), D(22))


@pytest.mark.parametrize(
    ("anterior", "posterior", "published"),
    [
        ("23.8", "30.9", "77.1"), ("21.2", "27.7", "76.6"), ("16.4", "26.2", "62.5"),
        ("20.2", "30.8", "65.5"), ("12.1", "24.2", "49.6"), ("13.3", "28.6", "46.3"),
    ],
)  # fmt: skip
def test_the_wedge_ratio_reproduces_published_group_means(anterior, posterior, published):
    """J Orthop Surg Res 2023, s13018-023-03758-w, Table 1; ratios of means agree to 0.5."""
    assert abs(wedge_ratio(D(anterior), D(posterior)) - D(published)) <= D("0.5")


def test_the_other_ratios_divide_by_the_posterior_heights():
    assert biconcave_ratio(D(12), D(24)) == 50
    assert crush_ratio(D(18), D(24)) == 75


@pytest.mark.parametrize("height", ["0", "-1"])
def test_a_ratio_of_no_height_is_refused(height):
    with pytest.raises(ValueError, match="Posterior height must be above 0"):
        wedge_ratio(D(20), D(height))


@pytest.mark.parametrize(
    ("loss", "grade"),
    [
        ("19.9", 0), ("20.0", 1), ("24.9", 1), ("25.0", 2), ("40.0", 2), ("40.1", 3),
        ("0", 0), ("-7.5", 0), ("100", 3),
    ],
)  # fmt: skip
def test_the_grade_starts_at_its_bound(loss, grade):
    assert genant_grade(D(loss)) == grade


def test_more_than_everything_cannot_be_lost():
    with pytest.raises(ValueError, match="at 100 % or below"):
        genant_grade(D("100.1"))


def test_a_height_above_the_reference_is_a_negative_loss_and_is_shown():
    assert height_loss_percent(D(26), D(25)) == -4


@pytest.mark.parametrize(
    ("heights", "percent", "place", "shape"),
    [
        (Heights(D(12), D(20), D(25)), "50", "anterior", "wedge"),
        (Heights(D(24), D("11.5"), D(25)), "50", "middle", "biconcave"),
        (Heights(D(18), D(18), D(15)), "40", "posterior", "crush"),
        (Heights(None, None, D(20)), "20", "posterior", "crush"),
        (Heights(D(12), D("11.5"), D("12.5")), "50", "anterior", "wedge"),
    ],
)
def test_the_largest_of_three_losses_counts_and_names_the_shape(heights, percent, place, shape):
    loss = height_loss(heights, INTACT)
    assert loss is not None
    assert (loss.percent, loss.place, loss.shape) == (D(percent), place, shape)


def test_what_is_not_measured_is_not_a_loss():
    assert height_loss(Heights(), INTACT) is None
    loss = height_loss(Heights(anterior=D(12)), INTACT)
    assert loss is not None
    assert set(loss.all_percent) == {"anterior"}


def test_the_reference_is_the_mean_of_the_neighbours_and_says_which():
    measured = {
        "T12": Heights(D(22), D(21), D(23)),
        "L1": BROKEN,
        "L2": Heights(D(26), None, D(27)),
    }
    reference = reference_heights("L1", measured)
    assert reference is not None
    assert reference.levels == ("T12", "L2")
    assert reference.heights == Heights(D(24), D(21), D(25))


def test_a_fractured_neighbour_is_skipped_for_the_next_intact_one():
    measured = {"T11": INTACT, "T12": BROKEN, "L1": BROKEN, "L3": INTACT}
    reference = reference_heights("L1", measured, fractured={"T12"})
    assert reference is not None
    assert reference.levels == ("T11", "L3")


def test_one_side_is_enough_and_none_is_not():
    one = reference_heights("L1", {"L1": BROKEN, "L2": INTACT})
    assert one is not None
    assert (one.levels, one.heights) == (("L2",), INTACT)
    assert reference_heights("L1", {"L1": INTACT}) is None
    assert reference_heights("L1", {"L2": INTACT}, fractured={"L2"}) is None


def test_the_wedge_angle_is_an_estimate_in_tenths_of_a_degree():
    """2·atan(12 / 68) = 20.0°; a square body has none, a reversed wedge is negative."""
    assert wedge_angle_deg(D(14), D(26), D(34)) == D("20.0")
    assert wedge_angle_deg(D(25), D(25), D(34)) == 0
    assert wedge_angle_deg(D(26), D(14), D(34)) == D("-20.0")


def test_restoration_is_reported_in_four_ways():
    found = height_restoration(D(15), D(20), D(25))
    assert (found.mm, found.percent_of_lost, found.percent_of_reference) == (5, 50, 20)
    assert round(found.percent_of_initial, 4) == D("33.3333")


def test_restoration_is_never_clipped_and_undefined_where_undefined():
    assert height_restoration(D(20), D(26), D(25)).percent_of_lost == 120
    assert height_restoration(D(20), D(18), D(25)).percent_of_lost == -40
    assert height_restoration(D(25), D(25), D(25)).percent_of_lost is None
    assert height_restoration(D(26), D(27), D(25)).percent_of_lost is None
    without = height_restoration(D(20), D(25))
    assert (without.percent_of_lost, without.percent_of_reference) == (None, None)


@pytest.mark.parametrize(
    ("change", "within"), [("4.9", True), ("-4.9", True), ("5.0", False), ("-5.1", False)]
)
def test_a_small_change_of_height_may_be_measurement_error(change, within):
    assert within_height_error(D(change), VALUES) is within


@pytest.mark.parametrize(("change", "within"), [("8.9", True), ("-9.0", False)])
def test_a_small_change_of_angle_may_be_measurement_error(change, within):
    assert within_angle_error(D(change), VALUES) is within


@pytest.mark.parametrize(
    ("t_score", "name"),
    [
        ("-0.9", "normal"), ("-1.0", "normal"), ("-1.1", "low_bone_mass"),
        ("-2.4", "low_bone_mass"), ("-2.5", "osteoporosis"), ("-2.6", "osteoporosis"),
    ],
)  # fmt: skip
def test_the_bone_density_classes_start_at_their_bounds(t_score, name):
    assert t_score_class(D(t_score)) == name


@pytest.mark.parametrize("text", ["many", "nan", "inf", True, None])
def test_what_is_not_a_number_is_refused(text):
    with pytest.raises(ValueError, match="The T-score must be a number"):
        t_score_class(text)


@given(before=heights_mm(), after=heights_mm(), reference=heights_mm())
def test_the_share_of_the_lost_agrees_with_the_losses(before, after, reference):
    share = height_restoration(before, after, reference).percent_of_lost
    if share is None:
        assert reference <= before
    else:
        lost, left = (height_loss_percent(height, reference) for height in (before, after))
        assert abs(share - (lost - left) * 100 / lost) < D("1e-18")


@given(less=heights_mm(), more=heights_mm(), reference=heights_mm())
def test_losing_more_never_lowers_the_grade(less, more, reference):
    low, high = sorted((height_loss_percent(less, reference), height_loss_percent(more, reference)))
    assert genant_grade(low) <= genant_grade(high)
