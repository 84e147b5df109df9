"""Every real file that the DICOM library brings along is read or refused; golden renderings."""

from collections import Counter
from pathlib import Path

import numpy as np
import pydicom
import pytest

from register.images import child
from register.images.answers import Indexed
from register.images.refusals import WORDS, ImageRefused, Refused

PACKAGED = Path(pydicom.__file__).parent / "data"
FILES = sorted(
    file for file in PACKAGED.rglob("*") if file.is_file() and file.suffix in ("", ".dcm")
)
# Its codestream is damaged on purpose: no decoder of any package reads it.
UNREADABLE = {"JPEG2000-embedded-sequence-delimiter.dcm"}
# What each kind of refused file is refused for. The others hold no picture at all.
REFUSED = {
    "image_dfl.dcm": "deflated",
    "MR_truncated.dcm": "truncated",
    "JPEG-lossy.dcm": "twelve_bit",
    "JPGExtended.dcm": "twelve_bit",
    "liver_1frame.dcm": "one_bit",
    "rtdose_rle.dcm": "radiotherapy",
    "rtplan.dcm": "radiotherapy",
    "badVR.dcm": "radiotherapy",
    "test-SR.dcm": "report",
    "waveform_ecg.dcm": "waveform",
    "DICOMDIR": "directory",
    "chrSQEncoding.dcm": "none",
    "no_meta.dcm": "other",
}


@pytest.fixture(scope="module")
def answers() -> dict[Path, Indexed | Refused]:
    names = [str(file) for file in FILES]
    found = list(child.index(zip(names, FILES, strict=True)))
    assert [one.name for one in found] == names
    return dict(zip(FILES, found, strict=True))


def test_every_file_is_read_or_refused_with_a_reason(answers):
    assert len(answers) > 150
    codes = Counter(one.code for one in answers.values() if isinstance(one, Refused))
    assert not codes["limits"] + codes["reader"]
    assert len(answers) - sum(codes.values()) >= 90
    by_name = {file.name: one for file, one in answers.items()}
    assert {name: by_name[name].code for name in REFUSED} == REFUSED


def test_every_picture_that_is_taken_can_be_shown(answers):
    refused = {}
    for file, one in answers.items():
        if isinstance(one, Indexed):
            try:
                found = child.pixels(file, len(one.frames) - 1)
            except ImageRefused as error:
                refused[file.name] = error.code
                continue
            assert (found.rows, found.columns, found.layout) == (one.rows, one.columns, one.layout)
            assert found.low <= found.high
            assert found.width >= 1
    assert refused == dict.fromkeys(UNREADABLE, "damaged")


def test_values_are_those_of_the_library_however_they_are_stored(answers):
    plain = pydicom.dcmread(PACKAGED / "test_files" / "MR_small.dcm").pixel_array
    same = [file for file in FILES if file.name.startswith("MR_small")]
    assert len(same) >= 8
    for file in same:
        found = child.pixels(file)
        assert found.layout == "int16"
        values = np.frombuffer(found.values, "<i2").reshape(found.rows, found.columns)
        assert (values == plain).all(), file.name


def test_colours_come_as_three_bytes_a_point(answers):
    for name in ("SC_rgb_rle.dcm", "examples_palette.dcm", "SC_ybr_full_422_uncompressed.dcm"):
        found = child.pixels(PACKAGED / "test_files" / name)
        assert len(found.values) == found.rows * found.columns * 3
    rgb = pydicom.dcmread(PACKAGED / "test_files" / "SC_rgb_rle.dcm").pixel_array
    found = child.pixels(PACKAGED / "test_files" / "SC_rgb_rle.dcm")
    assert found.values == rgb.tobytes()


def test_what_a_scanner_says_is_told(answers):
    (scan,) = (one for file, one in answers.items() if file.name == "CT_small.dcm")
    (frame,) = scan.frames
    assert (scan.modality, scan.study_date, scan.rows) == ("CT", "2004-01-19", 128)
    assert frame.pixel_spacing == (0.661468, 0.661468)
    assert (frame.slope, frame.intercept, frame.thickness) == (1.0, -1024.0, 5.0)
    assert frame.orientation == (1, 0, 0, 0, 1, 0)
    assert len(frame.position) == 3


def test_names_in_any_alphabet_come_through(answers):
    by_name = {file.name: one for file, one in answers.items()}
    assert by_name["chrGerm.dcm"].identity.name == "Äneas, Rüdiger"
    assert by_name["chrRuss.dcm"].identity.name.startswith("Люк")


def test_every_reason_has_words_that_say_what_to_do(answers):
    for one in answers.values():
        if isinstance(one, Refused):
            assert one.words
    for code, words in WORDS.items():
        assert words.endswith("."), code
        assert words.count(". ") or ";" in words or ", so " in words, code
