"""The phantoms themselves: the picture shows what the marks say, and the file holds the picture."""

from io import BytesIO
from typing import Any

import numpy as np
import pytest
from pydicom import dcmread
from pydicom.uid import (
    DeflatedExplicitVRLittleEndian,
    ExplicitVRBigEndian,
    ExplicitVRLittleEndian,
    ImplicitVRLittleEndian,
    RLELossless,
)

from tests.phantoms import AxialSlice, LateralBody, axial, lateral, paint, write

SPACING = (0.5, 0.25)
SIZE: dict[str, Any] = {"rows": 120, "columns": 200, "spacing": SPACING}
FILM = lateral(LateralBody("L1", 20, 20, 20, 30)).centred(**SIZE)


def test_the_picture_is_as_bright_as_its_shapes_are_large():
    picture = paint(FILM, **SIZE)
    low, high = picture.min(), picture.max()
    area = (picture - low).sum() / (high - low) * SPACING[0] * SPACING[1]
    assert area == pytest.approx(20 * 30, rel=0.002)


def test_the_edge_lies_where_the_marks_are():
    picture = paint(FILM, **SIZE)
    x, y = FILM.marks(SPACING)["L1"]["upper_anterior"]
    inside, outside = picture[int(y) + 3, int(x) + 3], picture[int(y) - 3, int(x) - 3]
    assert inside == picture.max()
    assert outside == picture.min()


def test_both_polarities_look_alike_and_signed_numbers_are_only_moved():
    plain = paint(FILM, **SIZE).astype(int)
    assert (paint(FILM, **SIZE, photometric="MONOCHROME1") == 4095 - plain).all()
    assert (paint(FILM, **SIZE, signed=True) == plain - 2048).all()


def test_noise_is_the_same_every_time():
    noisy = paint(axial(AxialSlice()).centred(**SIZE), **SIZE, noise=0.05)
    assert (noisy == paint(axial(AxialSlice()).centred(**SIZE), **SIZE, noise=0.05)).all()
    assert np.std(noisy[:10, :10]) == pytest.approx(0.05 * 4095, rel=0.2)


@pytest.mark.parametrize(
    "syntax",
    [
        ExplicitVRLittleEndian,
        ImplicitVRLittleEndian,
        ExplicitVRBigEndian,
        DeflatedExplicitVRLittleEndian,
        RLELossless,
    ],
)
@pytest.mark.parametrize(
    "array",
    [
        paint(FILM, **SIZE),
        paint(FILM, **SIZE, signed=True),
        paint(FILM, **SIZE, bits=8),
        np.stack([paint(FILM, **SIZE), paint(FILM, **SIZE, noise=0.1)]),
        np.stack([paint(FILM, **SIZE, bits=8)] * 3, axis=-1),
    ],
    ids=["unsigned", "signed", "8 bits", "frames", "colour"],
)  # fmt: skip
def test_a_file_holds_the_picture_in_every_plain_syntax(syntax, array):
    kept = BytesIO()
    write(kept, array, spacing=SPACING, slope=2, intercept=-1024, syntax=syntax, PatientID=None)
    read = dcmread(kept)
    assert (read.pixel_array == array).all()
    assert list(read.PixelSpacing) == list(SPACING)
    assert (read.RescaleSlope, read.RescaleIntercept) == (2, -1024)
    assert "PatientID" not in read
