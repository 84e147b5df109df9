"""The marked shape: laid upright without changing it, and drawn as it was marked."""

import re
from itertools import combinations
from math import atan2, degrees, dist

import pytest
from hypothesis import given
from hypothesis import strategies as st

from register.domain.drawing.closeup import Closeup, closeup
from register.domain.drawing.vertebra import Body, glyph
from register.domain.measuring.calibration import Spacing, uncalibrated
from register.domain.measuring.measure import measure
from register.domain.measuring.points import Marks
from register.domain.measuring.shape import outlines_of_marks
from register.domain.outline import Heights, outline
from tests.phantoms import LateralBody
from tests.unit.measuring.strategies import bodies, film_of, marked, shifts, spacings, turns

SQUARE = Spacing(0.25, 0.25, "calibrated")


def shape(body, **moves):
    """The stored shape of one body."""
    return outlines_of_marks(marked(film_of((body,), **moves), SQUARE), SQUARE)["L1"]


@given(bodies("L1"), spacings, turns, shifts, st.booleans())
def test_laying_a_body_upright_changes_no_distance(body, spacing, turn, shift, mirror):
    film = film_of((body,), turn=turn, shift=shift, mirror=mirror)
    laid = outlines_of_marks(marked(film, spacing), spacing)["L1"]
    for one, other in combinations(laid, 2):
        true = dist(film.levels["L1"][one], film.levels["L1"][other])
        assert dist(laid[one], laid[other]) == pytest.approx(true, abs=0.02)


@given(bodies("L1"), turns, st.booleans())
def test_it_is_the_same_shape_from_any_film(body, turn, mirror):
    one, other = shape(body), shape(body, turn=turn, mirror=mirror)
    assert all(dist(one[name], other[name]) <= 0.02 for name in one)


def test_it_stands_upright_with_the_front_on_the_left():
    laid = shape(LateralBody("L1", 16, 15, 24, 34), turn=25, mirror=True)
    assert laid == {
        "upper_anterior": [-17, -8], "upper_middle": [0, -5], "upper_posterior": [17, -12],
        "lower_posterior": [17, 12], "lower_middle": [0, 10], "lower_anterior": [-17, 8],
    }  # fmt: skip


def test_without_corners_millimetres_or_area_there_is_no_shape():
    marks = marked(film_of((LateralBody("L1"),)))
    assert outlines_of_marks(marks, uncalibrated()) == {}
    body = {n: p for n, p in marks.at("L1").items() if n != "lower_anterior"}
    assert outlines_of_marks(Marks("lateral", {"L1": body}), SQUARE) == {}
    assert outlines_of_marks(marked(film_of((LateralBody("L1", 0, 0, 0),))), SQUARE) == {}


def test_the_marked_shape_is_drawn_and_not_one_made_of_the_heights():
    laid = shape(LateralBody("L1", 16, 15, 24, 34, upper_share=1))
    laid["upper_anterior"] = [-20, -9]
    drawn = outline(Heights(17, 15, 24, 34, laid), gave_way="inferior")
    assert drawn.marks[:4] == ((-20, -9), (-17, 8), (0, -5), (0, 10))
    assert drawn.ring is not None
    assert all(edge.measured for edge in drawn.edges)
    assert drawn.edges[0].curved


def test_an_end_plate_whose_middle_was_not_marked_is_dashed():
    laid = shape(LateralBody("L1"))
    del laid["upper_middle"]
    upper, lower, *sides = outline(Heights(25, None, 26, 34, laid)).edges
    assert not upper.measured
    assert lower.measured
    assert all(side.measured for side in sides)


def test_a_shape_that_lacks_a_corner_falls_back_to_the_heights():
    laid = shape(LateralBody("L1"))
    del laid["lower_posterior"]
    heights = Heights(25, 24, 26, 34)
    assert outline(Heights(25, 24, 26, 34, laid)) == outline(heights)


def test_a_middle_that_would_cross_is_drawn_from_point_to_point():
    laid = shape(LateralBody("L1", 40, 2, 10))
    assert not any(edge.curved for edge in outline(Heights(40, 2, 10, 34, laid)).edges)


def test_both_drawings_say_that_the_shape_was_marked():
    heights = Heights(16, 15, 24, 34, shape(LateralBody("L1", 16, 15, 24, 34)))
    assert "Shape as marked on the image." in glyph(Body("L1", heights))
    assert "as marked" not in glyph(Body("L1", Heights(16, 15, 24, 34)))
    shown = Closeup(Body("L1", heights), above=Body("T12", Heights(25)))
    assert "Shape as marked on the image: L1." in shown.caption
    assert "16 mm" in closeup(shown)


@pytest.mark.parametrize("mirror", [False, True])
def test_neighbours_lean_against_each_other_as_on_the_image(mirror):
    """The angle between both upper end plates of the drawing is that of the film."""
    spine = (LateralBody("T12", 22, 22, 26, 34, 12), LateralBody("L1", 14, 15, 24, 34, -5))
    marks = marked(film_of(spine, mirror=mirror), SQUARE)
    shapes, found = outlines_of_marks(marks, SQUARE), measure(marks, SQUARE, 1.2)
    tilts = {at: found[at].values["tilt_angle_deg"].value for at in ("T12", "L1")}
    above, body = (
        Body(at, Heights(20, 20, 25, 34, shapes[at]), tilt_deg=tilt) for at, tilt in tilts.items()
    )
    drawn = closeup(Closeup(body, above=above))
    falls = [end_plate_fall(drawn, pen) for pen in ("quiet", "edge")]
    assert falls[0] - falls[1] == pytest.approx(tilts["T12"] - tilts["L1"], abs=0.05)


def end_plate_fall(drawn, pen):
    """How far the first line of a pen, an upper end plate, falls to the left, in degrees."""
    line = re.search(rf'class="d-{pen}"[^>]* d="M(\S+) (\S+?)Q\S+ \S+ (\S+) (\S+?)"', drawn)
    left, top, right, bottom = map(float, line.groups())
    return degrees(atan2(top - bottom, right - left))
