"""Lateral: constructed bodies give back their own lengths, whatever picture they are on."""

from dataclasses import replace
from math import hypot

import pytest
from hypothesis import given
from hypothesis import strategies as st

from register.domain.measures import biconcave_ratio, crush_ratio, wedge_ratio
from register.domain.measuring.calibration import Spacing, uncalibrated
from register.domain.measuring.lateral import doubts
from register.domain.measuring.measure import measure
from register.domain.measuring.points import Marks
from tests.phantoms import LateralBody
from tests.unit.measuring.strategies import columns, few, film_of, marked, shifts, spacings, turns

SQUARE = Spacing(0.2, 0.2, "calibrated")
SPINE = (LateralBody("T12"), LateralBody("L1", 15, 18, 24), LateralBody("L2", 27, 26, 28))


def values(marks, spacing, level="L1", **options):
    """The bare numbers of one level."""
    found = measure(marks, spacing, 1.2, **options)[level].values
    return {name: value.value for name, value in found.items()}


def end_plate_mm(body):
    """How long both end plates of a constructed body are."""
    return hypot(body.depth_mm, (body.anterior_mm - body.posterior_mm) / 2)


@few
@given(columns, spacings, turns, shifts, st.booleans())
def test_lengths_and_ratios_come_back_from_any_picture(spine, spacing, turn, shift, mirror):
    film = film_of(spine, turn=turn, shift=shift, mirror=mirror)
    measured = measure(marked(film, spacing), spacing, 1.2)
    for body in spine:
        heights = body.anterior_mm, body.middle_mm, body.posterior_mm
        expected = {
            "anterior_height_mm": heights[0],
            "middle_height_mm": heights[1],
            "posterior_height_mm": heights[2],
            "depth_mm": end_plate_mm(body),
            "wedge_percent": float(wedge_ratio(heights[0], heights[2])),
            "biconcave_percent": float(biconcave_ratio(heights[1], heights[2])),
        }
        found = measured[body.level].values
        assert {n: found[n].value for n in expected} == pytest.approx(expected, abs=1e-9)
    crush = float(crush_ratio(spine[1].posterior_mm, spine[2].posterior_mm))
    assert measured["L1"].values["crush_below_percent"].value == pytest.approx(crush)


@few
@given(columns, spacings, turns)
def test_without_calibration_there_are_ratios_and_losses_but_no_millimetres(spine, true, turn):
    marks = marked(film_of(spine, turn=turn), true)
    known, bare = values(marks, true), measure(marks, uncalibrated(true.aspect), 1.2)["L1"].values
    assert known.keys() == bare.keys()
    for name, value in known.items():
        if name.endswith("_mm"):
            assert bare[name].value is None
        else:
            assert bare[name].value == pytest.approx(value, abs=1e-6)
        assert bare[name].error is None


@few
@given(columns, st.sampled_from(["anterior", "middle", "posterior"]), st.floats(0.2, 0.95))
def test_a_body_that_collapses_further_never_measures_better(spine, place, share):
    above, body, below = spine
    height = getattr(body, f"{place}_mm")
    worse = replace(body, **{f"{place}_mm": height * share})
    before, after = (values(marked(film_of((above, one, below))), SQUARE) for one in (body, worse))
    assert after[f"{place}_height_mm"] < before[f"{place}_height_mm"]
    assert after[f"{place}_loss_percent"] > before[f"{place}_loss_percent"]
    assert after[f"{place}_loss_mm"] > before[f"{place}_loss_mm"]


def test_losses_name_their_reference_and_the_height_that_lost_most():
    found = measure(marked(film_of(SPINE)), Spacing(1, 1, "calibrated"), 1.2)["L1"]
    assert found.reference_levels == ("T12", "L2")
    assert found.values["anterior_loss_mm"].value == pytest.approx(26 - 15)
    assert found.values["anterior_loss_percent"].value == pytest.approx(11 / 26 * 100)
    assert found.values["posterior_loss_percent"].value == pytest.approx(3 / 27 * 100)
    assert (found.most_lost, found.shape, found.grade) == ("anterior", "wedge", 3)


def test_a_broken_neighbour_is_no_reference():
    marks = marked(film_of(SPINE))
    found = measure(marks, SQUARE, 1.2, not_intact={"T12"})["L1"]
    assert found.reference_levels == ("L2",)
    alone = measure(marks, SQUARE, 1.2, not_intact={"T12", "L2"})["L1"]
    assert (alone.reference_levels, alone.most_lost, alone.shape, alone.grade) == ((), "", "", None)
    assert "anterior_loss_mm" not in alone.values


def test_what_is_not_marked_is_left_out_and_never_zero():
    marks = marked(film_of(SPINE))
    body = {n: p for n, p in marks.at("L1").items() if n != "upper_middle"}
    found = values(Marks("lateral", {**marks.levels, "L1": body}), SQUARE)
    assert "middle_height_mm" not in found
    assert "biconcave_percent" not in found
    assert "middle_loss_percent" not in found
    assert "anterior_loss_percent" in found


def test_a_height_of_nothing_is_no_reference_and_no_ratio():
    flat = LateralBody("T12", 0, 0, 0)
    found = measure(marked(film_of((flat, *SPINE[1:]))), SQUARE, 1.2)
    assert found["T12"].values["wedge_percent"].value is None
    assert found["L1"].reference_levels == ("L2",)
    assert found["L1"].values["crush_above_percent"].value is None


@given(columns, turns, st.booleans())
def test_marks_that_fit_together_raise_no_doubt(spine, turn, mirror):
    assert doubts(marked(film_of(spine, turn=turn, mirror=mirror))) == ()


def test_front_and_back_exchanged_at_one_level_is_said():
    marks = marked(film_of(SPINE))
    other = {"anterior": "posterior", "posterior": "anterior", "middle": "middle"}
    body = {
        f"{plate}_{other[place]}": point
        for (plate, place), point in ((n.split("_"), p) for n, p in marks.at("L1").items())
    }
    said = doubts(Marks("lateral", {**marks.levels, "L1": body}))
    assert said == (
        "The front is not on the same side at all levels: left at T12, L2, right at L1. "
        "Compare front and back corners.",
    )


def test_levels_in_the_wrong_order_are_said():
    marks = marked(film_of(SPINE))
    exchanged = {"T12": marks.at("L1"), "L1": marks.at("T12"), "L2": marks.at("L2")}
    assert doubts(Marks("lateral", exchanged)) == (
        "T12 lies below L1 on the image. Compare the names of the levels.",
    )


def test_a_body_whose_corners_enclose_nothing_is_said():
    flat = marked(film_of((LateralBody("L1", 0, 0, 0),)))
    assert doubts(flat) == ("L1: the four corners enclose nothing; mark them again.",)
