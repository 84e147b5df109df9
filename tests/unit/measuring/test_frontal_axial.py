"""Frontal and axial: constructed lengths come back, sides are not exchanged, nothing clipped."""

from dataclasses import replace
from math import atan, degrees, hypot

import pytest
from hypothesis import given
from hypothesis import strategies as st

from register.domain.measuring.calibration import Spacing
from register.domain.measuring.measure import measure
from register.domain.measuring.points import Marks
from tests.phantoms import AxialSlice, FrontalBody, axial, frontal
from tests.unit.measuring.strategies import few, marked, shifts, spacings, turns

mm = st.floats(12, 40)
fronts = st.builds(
    FrontalBody, st.just("L1"), mm, mm, st.floats(30, 55), st.floats(-30, 30)
)  # fmt: skip
cuts = st.builds(
    AxialSlice, st.just("L1"), st.floats(-5, 15), st.floats(10, 22), st.floats(15, 30),
    st.floats(3, 20), st.floats(3, 20), mm, st.floats(30, 55),
)  # fmt: skip


def values(phantom, view, spacing=None):
    """The bare numbers of L1."""
    spacing = spacing or Spacing(1, 1, "calibrated")
    found = measure(marked(phantom, spacing, view), spacing, 1.2)["L1"].values
    return {name: value.value for name, value in found.items()}


@given(fronts, spacings, turns, shifts, st.booleans())
def test_frontal_lengths_come_back_from_any_picture(body, spacing, turn, shift, mirror):
    film = frontal(body).turned(turn).shifted(*shift)
    found = values(film.mirrored() if mirror else film, "frontal", spacing)
    assert found["left_height_mm"] == pytest.approx(body.left_mm, abs=1e-9)
    assert found["right_height_mm"] == pytest.approx(body.right_mm, abs=1e-9)
    width = hypot(body.width_mm, (body.left_mm - body.right_mm) / 2)
    assert found["width_mm"] == pytest.approx(width, abs=1e-9)
    wedge = 2 * degrees(atan((body.right_mm - body.left_mm) / (2 * body.width_mm)))
    assert found["frontal_angle_deg"] == pytest.approx(wedge, abs=1e-9)


@given(fronts)
def test_left_and_right_exchanged_is_the_mirror_image(body):
    other = replace(body, left_mm=body.right_mm, right_mm=body.left_mm, tilt_deg=-body.tilt_deg)
    one, two = values(frontal(body), "frontal"), values(frontal(other), "frontal")
    assert one["left_height_mm"] == pytest.approx(two["right_height_mm"])
    assert one["width_mm"] == pytest.approx(two["width_mm"])
    assert one["frontal_angle_deg"] == pytest.approx(-two["frontal_angle_deg"], abs=1e-9)
    assert one["frontal_tilt_deg"] == pytest.approx(-two["frontal_tilt_deg"], abs=1e-9)


@few
@given(st.floats(-60, 60), st.booleans())
def test_the_frontal_tilt_is_positive_with_the_left_side_down(tilt, mirror):
    film = frontal(FrontalBody("L1", tilt_deg=tilt))
    found = values(film.mirrored() if mirror else film, "frontal")
    assert found["frontal_tilt_deg"] == pytest.approx(tilt, abs=1e-9)


@few
@given(cuts, spacings, turns, shifts, st.booleans())
def test_axial_lengths_come_back_from_any_picture(cut, spacing, turn, shift, mirror):
    film = axial(cut).turned(turn).shifted(*shift)
    found = values(film.mirrored() if mirror else film, "axial", spacing)
    assert found == pytest.approx(
        {
            "retropulsion_mm": cut.retropulsion_mm,
            "canal_encroachment_percent": cut.retropulsion_mm / cut.canal_depth_mm * 100,
            "canal_depth_mm": cut.canal_depth_mm,
            "canal_width_mm": cut.canal_width_mm,
            "pedicle_left_width_mm": cut.pedicle_left_mm,
            "pedicle_right_width_mm": cut.pedicle_right_mm,
            "body_depth_mm": cut.body_depth_mm,
            "body_width_mm": cut.body_width_mm,
        },
        abs=1e-8,
    )


def test_a_fragment_in_front_of_the_wall_and_one_through_the_canal_are_not_clipped():
    assert values(axial(AxialSlice(retropulsion_mm=-4)), "axial")["retropulsion_mm"] == -4
    found = values(axial(AxialSlice(retropulsion_mm=20)), "axial")
    assert found["canal_encroachment_percent"] == 125


@pytest.mark.parametrize("missing", ["canal_back", "wall_left", "fragment"])
def test_without_its_marks_an_axial_number_is_left_out(missing):
    marks = marked(axial(AxialSlice(retropulsion_mm=4)), view="axial")
    body = {name: point for name, point in marks.at("L1").items() if name != missing}
    found = measure(Marks("axial", {"L1": body}), Spacing(1, 1, "calibrated"), 1.2)["L1"].values
    assert "retropulsion_mm" not in found
    assert "canal_width_mm" in found
    assert ("canal_depth_mm" in found) is (missing == "fragment")


def test_a_wall_without_length_or_a_canal_without_depth_gives_no_number():
    marks = marked(axial(AxialSlice(retropulsion_mm=4)), view="axial")
    body = dict(marks.at("L1"))
    for changed in (
        body | {"wall_left": body["wall_right"]},
        body | {"canal_back": body["wall_right"]},
    ):
        found = measure(Marks("axial", {"L1": changed}), Spacing(1, 1, "calibrated"), 1.2)
        assert found["L1"].values["retropulsion_mm"].value is None
        assert found["L1"].values["canal_encroachment_percent"].value is None
