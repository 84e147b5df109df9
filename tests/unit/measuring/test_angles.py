"""Angles: their size, their sign, their end plates, and what must not change them."""

from math import atan, degrees

import pytest
from hypothesis import given
from hypothesis import strategies as st

from register.domain.measures import wedge_angle_deg
from register.domain.measuring.angles import angles_at
from register.domain.measuring.calibration import Spacing
from register.domain.measuring.measure import measure
from tests.phantoms import LateralBody
from tests.unit.measuring.strategies import columns, few, film_of, marked, shifts, spacings, turns

SQUARE = Spacing(0.3, 0.3, "calibrated")


def wedge_deg(body):
    """The angle between the end plates of a constructed body."""
    return 2 * degrees(atan((body.posterior_mm - body.anterior_mm) / (2 * body.depth_mm)))


def angles(film, spacing=SQUARE, level="L1"):
    """The angles of one level by name."""
    found = measure(marked(film, spacing), spacing, 1.2)[level]
    return {name: found.values[name].value for name in found.end_plates}


@few
@given(columns, spacings, turns, shifts, st.booleans())
def test_angles_add_up_from_tilts_and_wedges_on_any_picture(spine, spacing, turn, shift, mirror):
    above, body, below = spine
    found = angles(film_of(spine, turn=turn, shift=shift, mirror=mirror), spacing)
    lean = above.tilt_deg - body.tilt_deg
    local = lean + wedge_deg(above) / 2 + wedge_deg(body) / 2
    lean = above.tilt_deg - below.tilt_deg
    segmental = lean + wedge_deg(above) / 2 + wedge_deg(below) / 2
    assert found["vertebral_angle_deg"] == pytest.approx(wedge_deg(body), abs=1e-9)
    assert found["local_angle_deg"] == pytest.approx(local, abs=1e-9)
    assert found["segmental_angle_deg"] == pytest.approx(segmental, abs=1e-9)


def test_a_wedge_is_kyphosis_and_its_reverse_lordosis_whichever_way_the_film_faces():
    for mirror in (False, True):
        wedge = film_of((LateralBody("L1", 15, 20, 25),), mirror=mirror)
        other = film_of((LateralBody("L1", 25, 20, 15),), mirror=mirror)
        assert angles(wedge)["vertebral_angle_deg"] > 16
        assert angles(other)["vertebral_angle_deg"] < -16


@pytest.mark.parametrize(
    ("anterior", "posterior"), [(23.8, 30.9), (21.2, 27.7), (16.4, 26.2), (26, 25)]
)
def test_the_marked_wedge_is_the_one_that_two_heights_estimate(anterior, posterior):
    """The estimate of `measures` at a depth of 34 mm; it comes rounded to 0.1°."""
    film = film_of((LateralBody("L1", anterior, 20, posterior, 34),))
    estimate = float(wedge_angle_deg(anterior, posterior, 34))
    assert angles(film)["vertebral_angle_deg"] == pytest.approx(estimate, abs=0.05)


def test_each_angle_names_its_two_end_plates():
    words = {angle.name: angle.words for angle in angles_at("L1")}
    assert words == {
        "vertebral": "upper L1 to lower L1",
        "local": "upper T12 to lower L1",
        "segmental": "upper T12 to lower L2",
        "regional": "upper T10 to lower L2",
    }


@pytest.mark.parametrize(
    ("level", "words"),
    [
        ("T3", None), ("T4", "upper T4 to lower T12"), ("T9", "upper T4 to lower T12"),
        ("T10", "upper T10 to lower L2"), ("L2", "upper T10 to lower L2"),
        ("L3", "upper L1 to upper S1"), ("S1", "upper L1 to upper S1"), ("S2", None),
    ],
)  # fmt: skip
def test_the_region_is_that_of_the_level(level, words):
    assert {a.name: a.words for a in angles_at(level)}.get("regional") == words


def test_the_ends_of_the_spine_have_no_angle_beyond_it():
    assert [angle.name for angle in angles_at("C1")] == ["vertebral"]
    assert [angle.name for angle in angles_at("S5")] == ["vertebral", "local"]


def test_a_regional_angle_needs_only_its_two_end_plates():
    film = film_of((LateralBody("T10", tilt_deg=12), LateralBody("L2", tilt_deg=-8)))
    found = measure(marked(film), SQUARE, 1.2)
    expected = 20 + wedge_deg(LateralBody("L2"))
    assert found["L2"].values["regional_angle_deg"].value == pytest.approx(expected, abs=1e-9)
    assert "local_angle_deg" not in found["L2"].values


@given(st.floats(-60, 60), st.booleans())
def test_the_tilt_is_against_the_rows_and_positive_with_the_front_down(tilt, mirror):
    film = film_of((LateralBody("L1", 24, 24, 24, tilt_deg=tilt),), mirror=mirror)
    found = measure(marked(film), SQUARE, 1.2)["L1"].values
    assert found["tilt_angle_deg"].value == pytest.approx(tilt, abs=1e-9)


def test_marks_without_a_direction_have_no_angle():
    found = measure(marked(film_of((LateralBody("L1", 0, 0, 0),))), SQUARE, 1.2)["L1"].values
    assert found["vertebral_angle_deg"].value is None
    point = LateralBody("L1", 20, 20, 20, 0)
    found = measure(marked(film_of((point,))), SQUARE, 1.2)["L1"].values
    assert found["vertebral_angle_deg"].value is None
    assert found["tilt_angle_deg"].value is None
