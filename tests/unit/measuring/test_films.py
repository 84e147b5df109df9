"""Phantoms as files: what a reader gets who marks to a tenth of a pixel, from file to number."""

from io import BytesIO

import pytest

from register.domain.measuring.calibration import ImageTells, spacing_of
from register.domain.measuring.measure import measure
from register.domain.measuring.points import marks_of
from register.images import child
from tests.phantoms import LateralBody, lateral, paint, write

SPINE = (
    LateralBody("T12", 24, 23, 25, 32, tilt_deg=9),
    LateralBody("L1", 14.5, 13, 23.5, 33, tilt_deg=14, upper_share=0.7),
    LateralBody("L2", 26, 25, 26.5, 34, tilt_deg=2),
)
ROWS, COLUMNS = 700, 500
BODY = {
    "anterior_height_mm": 14.5, "middle_height_mm": 13, "posterior_height_mm": 23.5,
    "vertebral_angle_deg": 15.53,
}  # fmt: skip
# As the file tells its scale, and the spacing in the plane of the spine that it means.
FILMS = {
    "slice": ({"modality": "CT", "spacing": (0.2, 0.2)}, (0.2, 0.2)),
    "uneven": ({"modality": "MR", "spacing": (0.2, 0.3)}, (0.2, 0.3)),
    "typed": (
        {"modality": "DX", "spacing": (0.2, 0.2), "PixelSpacingCalibrationType": "FIDUCIAL"},
        (0.2, 0.2),
    ),
    "magnified": (
        {
            "modality": "DX", "spacing": (0.25, 0.25), "ImagerPixelSpacing": [0.25, 0.25],
            "EstimatedRadiographicMagnificationFactor": 1.25,
        },
        (0.2, 0.2),
    ),
    "bare": ({"modality": "CR", "spacing": (0.2, 0.2)}, (0.2, 0.2)),
    "overview": (
        {
            "modality": "CT", "spacing": (0.2, 0.2),
            "ImageType": ["ORIGINAL", "PRIMARY", "LOCALIZER"],
        },
        (0.2, 0.2),
    ),
}  # fmt: skip
BASIS = {
    "slice": "calibrated", "uneven": "calibrated", "typed": "calibrated",
    "magnified": "magnification", "bare": "none", "overview": "none",
}  # fmt: skip


def film(true, turn, mirror):
    """The phantom on its film, and the marks of a reader who works to a tenth of a pixel."""
    phantom = lateral(*SPINE).turned(turn)
    phantom = phantom.mirrored() if mirror else phantom
    phantom = phantom.centred(rows=ROWS, columns=COLUMNS, spacing=true)
    marks = {
        level: {name: [round(x, 1), round(y, 1)] for name, (x, y) in body.items()}
        for level, body in phantom.marks(true).items()
    }
    return phantom, marks


@pytest.fixture(scope="module")
def read():
    """Every film through the process that reads files: {name: (spacing, marks, rows, columns)}."""
    files, marked = [], {}
    for number, (name, (told, true)) in enumerate(FILMS.items()):
        phantom, marked[name] = film(true, turn=11 * number - 20, mirror=number % 2 == 1)
        picture = paint(phantom, rows=ROWS, columns=COLUMNS, spacing=true)
        kept = BytesIO()
        write(kept, picture, **told)
        files.append((name, kept.getvalue()))
    found = {}
    for one in child.index(files):
        facts = one.frames[0]
        tells = ImageTells(
            one.modality, facts.pixel_spacing, facts.calibration_type, facts.imager_spacing,
            facts.magnification, facts.aspect, one.projection,
        )  # fmt: skip
        found[one.name] = spacing_of(tells), marked[one.name], one.rows, one.columns
    return found


@pytest.mark.parametrize("name", FILMS)
def test_from_the_file_to_the_number(read, name):
    spacing, stored, rows, columns = read[name]
    marks = marks_of(stored, "lateral", rows=rows, columns=columns)
    found = measure(marks, spacing, 1.2)["L1"].values
    assert spacing.basis == BASIS[name]
    for field, expected in BODY.items():
        if field.endswith("_mm") and not spacing.has_mm:
            assert found[field].value is None
        else:
            assert found[field].value == pytest.approx(expected, abs=0.1)
    assert found["wedge_percent"].value == pytest.approx(14.5 / 23.5 * 100, abs=0.5)
