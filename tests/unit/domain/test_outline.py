"""The outline: exact points for known heights, and what is drawn when something is missing."""

from decimal import Decimal
from itertools import product

import pytest

from register.domain.outline import NOMINAL_DEPTH_MM, Heights, Point, outline


def mm(*values):
    """Heights from anterior, middle, posterior height and depth; None is not measured."""
    return Heights(*(None if value is None else Decimal(str(value)) for value in values))


def points(heights, **options):
    """The marks of an outline, rounded for comparing."""
    return [(round(x, 3), round(y, 3)) for x, y in outline(heights, **options).marks]


def plates(drawn):
    """The edges that are not upright."""
    return [edge for edge in drawn.edges if edge.points[0].x != edge.points[-1].x]


def uprights(drawn):
    """The edges that are upright: measured heights drawn as lines."""
    return [edge for edge in drawn.edges if edge.points[0].x == edge.points[-1].x]


def test_six_points_of_a_wedge_whose_upper_end_plate_gave_way():
    # 9 mm are lost in the middle, counted from 21 mm; the lower end plate stays straight.
    assert points(mm(16, 12, 26, 34), gave_way="superior") == [
        (-17, -8), (-17, 8), (0, -1.5), (0, 10.5), (17, -13), (17, 13),
    ]  # fmt: skip


def test_six_points_when_the_lower_end_plate_gave_way():
    assert points(mm(16, 12, 26, 34), gave_way="inferior") == [
        (-17, -8), (-17, 8), (0, -10.5), (0, 1.5), (17, -13), (17, 13),
    ]  # fmt: skip


@pytest.mark.parametrize("gave_way", ["both", "none", ""])
def test_the_loss_is_halved_where_no_single_end_plate_is_named(gave_way):
    assert points(mm(16, 12, 26, 34), gave_way=gave_way)[2:4] == [(0, -6), (0, 6)]


@pytest.mark.parametrize("gave_way", ["superior", "inferior", "both", ""])
def test_a_middle_that_bulges_is_nobodys_loss(gave_way):
    assert points(mm(20, 26, 22, 34), gave_way=gave_way)[2:4] == [(0, -13), (0, 13)]


def test_without_any_height_there_is_no_outline():
    assert outline(mm(None, None, None, 34)) is None


def test_a_single_height_is_a_line_with_both_end_plates_broken_off():
    drawn = outline(mm(16, None, None, 34))
    assert [edge.points for edge in uprights(drawn)] == [(Point(-17, -8), Point(-17, 8))]
    assert [edge.points for edge in plates(drawn)] == [
        (Point(-17, -8), Point(-8.5, -8)),
        (Point(-17, 8), Point(-8.5, 8)),
    ]
    assert not any(edge.measured for edge in plates(drawn))


def test_a_middle_alone_breaks_off_to_both_sides():
    drawn = outline(mm(None, 14, None, 32))
    assert [edge.points for edge in uprights(drawn)] == [(Point(0, -7), Point(0, 7))]
    assert sorted(p.x for edge in plates(drawn) for p in edge.points) == [-8, -8, 0, 0, 0, 0, 8, 8]


def test_two_front_heights_give_the_front_half_and_no_back_edge():
    drawn = outline(mm(16, 12, None, 32))
    front = [edge.points for edge in plates(drawn) if edge.measured]
    broken = [edge.points for edge in plates(drawn) if not edge.measured]
    assert front == [(Point(-16, -8), Point(0, -6)), (Point(-16, 8), Point(0, 6))]
    assert broken == [(Point(0, -6), Point(8, -6)), (Point(0, 6), Point(8, 6))]
    assert [edge.points[0].x for edge in uprights(drawn)] == [-16]


def test_two_outer_heights_give_straight_dashed_end_plates():
    drawn = outline(mm(16, None, 26, 34))
    assert all(len(edge.points) == 2 and not edge.measured for edge in plates(drawn))
    assert all(edge.measured for edge in uprights(drawn))
    assert len(drawn.marks) == 4


def test_without_depth_the_end_plates_are_dashed_and_the_depth_is_nominal():
    drawn = outline(mm(16, 12, 26, None))
    assert not any(edge.measured for edge in plates(drawn))
    assert all(edge.measured for edge in uprights(drawn))
    assert drawn.width_mm == NOMINAL_DEPTH_MM


@pytest.mark.parametrize("known", list(product([True, False], repeat=3)))
def test_a_shape_is_closed_only_between_two_measured_edges(known):
    values = [20 if is_known else None for is_known in known]
    drawn = outline(mm(*values, 34))
    if not any(known):
        assert drawn is None
        return
    assert (drawn.ring is not None) == (known[0] and known[2])
    assert len(drawn.marks) == 2 * sum(known)


def test_a_curve_that_would_cross_itself_is_drawn_straight():
    assert outline(mm(30, 15, 5, 34)).edges[0].curved
    assert not outline(mm(30, 2, 5, 34)).edges[0].curved


def test_leaning_forwards_puts_the_front_down():
    level, leaning = (outline(mm(20, 20, 20, 30), tilt_deg=tilt) for tilt in (None, 10))
    assert leaning.marks[0].y > level.marks[0].y
    assert leaning.marks[4].y < level.marks[4].y


@pytest.mark.parametrize("value", [0, -3, float("nan"), float("inf")])
def test_an_impossible_length_is_refused(value):
    with pytest.raises(ValueError, match="middle height must be above 0 mm"):
        Heights(middle_mm=value)


def test_lengths_are_told_as_recorded_and_missing_ones_named():
    assert mm("16.40", None, 26, None).in_words() == (
        "Anterior height 16.40 mm, middle height not measured, posterior height 26 mm, "
        "depth not measured. Anterior on the left."
    )
    assert Heights().in_words() == "Heights not measured."
