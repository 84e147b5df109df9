"""Which spacing is believed, and that lengths come out right for any of them."""

from math import cos, inf, nan, radians, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from register.domain.measuring.calibration import (
    ImageTells,
    Spacing,
    known_length,
    spacing_for,
    spacing_of,
    uncalibrated,
)
from register.domain.measuring.points import Known, Marks, Point, distance
from register.domain.vocabulary import CALIBRATION, codes

pixel = st.floats(0.05, 2)


def told(modality, **says):
    """The spacing that is believed, as a tuple."""
    found = spacing_of(ImageTells(modality, **says))
    return found.row_mm, found.column_mm, found.basis


@pytest.mark.parametrize("modality", ["CT", "MR", "PT"])
def test_the_spacing_of_a_slice_is_that_of_the_patient(modality):
    assert told(modality, pixel_spacing=(0.4, 0.3)) == (0.4, 0.3, "calibrated")


@pytest.mark.parametrize("modality", ["CR", "DX", "RF", "XA", "MG", "RG", "PX", "OT", ""])
def test_a_projection_counts_only_with_the_type_of_its_calibration(modality):
    pair = (0.4, 0.3)
    assert told(modality, pixel_spacing=pair) == (pytest.approx(4 / 3), 1, "none")
    for kind in ("GEOMETRY", "FIDUCIAL", " fiducial "):
        found = told(modality, pixel_spacing=pair, calibration_type=kind)
        assert found == (0.4, 0.3, "calibrated")
    assert told(modality, pixel_spacing=pair, calibration_type="GUESS")[2] == "none"


def test_the_spacing_of_the_detector_counts_only_with_a_recorded_magnification():
    detector = {"pixel_spacing": (0.2, 0.1), "imager_spacing": (0.2, 0.1)}
    assert told("DX", **detector) == (2, 1, "none")
    assert told("DX", **detector, magnification=1.25) == (
        pytest.approx(0.16), pytest.approx(0.08), "magnification",
    )  # fmt: skip


@pytest.mark.parametrize("factor", [0, -1.2, 0.9, 3.1, inf, nan])
def test_a_magnification_that_cannot_be_is_not_believed(factor):
    assert told("DX", imager_spacing=(0.2, 0.2), magnification=factor)[2] == "none"


@pytest.mark.parametrize(
    "pair", [(0, 0), (0.4, 0), (-0.4, 0.4), (400, 400), (1e-4, 1e-4), (nan, 1)]
)
def test_a_spacing_that_cannot_be_is_not_believed(pair):
    assert told("CT", pixel_spacing=pair) == (1, 1, "none")
    assert told("DX", imager_spacing=pair, magnification=1.2) == (1, 1, "none")


def test_a_picture_of_a_slice_or_an_overview_is_not_a_slice():
    assert told("CT", pixel_spacing=(0.4, 0.4), projection=True)[2] == "none"


def test_without_millimetres_the_aspect_is_kept():
    assert told("OT", aspect=1.2) == (1.2, 1, "none")
    assert told("OT", pixel_spacing=(0, 0), aspect=1.2) == (1.2, 1, "none")
    for cannot_be in (0, -1, 50, nan):
        assert told("OT", aspect=cannot_be) == (1, 1, "none")


@given(pixel, pixel, st.floats(0, 90), st.floats(5, 200))
def test_a_known_length_gives_back_the_spacing_whichever_way_it_is_drawn(row, column, turn, mm):
    true = Spacing(row, column, "calibrated")
    start = Point(100, 100)
    end = true.place(start)
    end = Point(end.x + mm * cos(radians(turn)), end.y + mm * sin(radians(turn)))
    found = known_length(start, true.pixel(end), mm, true.aspect)
    assert (found.row_mm, found.column_mm) == pytest.approx((row, column), rel=1e-9)
    assert found.known_mm == mm


def test_a_known_length_goes_before_a_magnification_and_after_a_calibrated_spacing():
    marks = Marks("lateral", {}, Known(Point(0, 0), Point(100, 0), 50))
    for basis, used in (
        ("none", "known_length"), ("magnification", "known_length"), ("calibrated", "calibrated"),
    ):  # fmt: skip
        assert spacing_for(marks, Spacing(0.2, 0.2, basis)).basis == used
    assert spacing_for(Marks("lateral", {}), uncalibrated()).basis == "none"


def test_a_known_length_needs_two_ends():
    with pytest.raises(ValueError, match="two ends that lie apart"):
        known_length(Point(1, 1), Point(1, 1), 25)


@pytest.mark.parametrize("basis", codes(CALIBRATION))
def test_each_basis_of_the_vocabulary_has_its_sentence(basis):
    spacing = Spacing(1, 1, basis)
    assert spacing.has_mm is (basis != "none")
    assert ("no millimetres" in spacing.sentence) is (basis == "none")


@pytest.mark.parametrize("size", [(0, 1), (1, -1), (inf, 1), (nan, 1)])
def test_a_pixel_without_size_is_refused(size):
    with pytest.raises(ValueError, match="A pixel cannot be"):
        Spacing(*size, "calibrated")


@given(pixel, pixel)
def test_a_place_in_mm_leads_back_to_its_pixel(row, column):
    spacing = Spacing(row, column, "calibrated")
    assert distance(spacing.pixel(spacing.place(Point(12.5, 700))), Point(12.5, 700)) < 1e-9
