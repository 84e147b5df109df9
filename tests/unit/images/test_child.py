"""The reading process: it may die over a file, and nothing else may."""

import ast
import logging
import os
import signal
import threading
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from pydicom.dataset import Dataset
from pydicom.sequence import Sequence

from register.images import child, dicom_child
from register.images.answers import Indexed
from register.images.refusals import ImageRefused, Refused
from tests.hostile_images import HOSTILE, PLAIN, plain, saved
from tests.phantoms import dataset

IMAGES = Path(child.__file__).parent


@pytest.fixture
def file(tmp_path):
    """`file(content)` is a stored file."""

    def of(content: bytes) -> Path:
        place = tmp_path / str(len(list(tmp_path.iterdir())))
        place.write_bytes(content)
        return place

    return of


def test_each_hostile_file_is_refused_and_harms_no_other(file):
    good = saved(plain())
    headers = [one for one in HOSTILE if one.asks == "index"]
    sent = [pair for one in headers for pair in ((one.name, one.make()), ("good", good))]
    found = list(child.index(sent))
    assert all(isinstance(one, Indexed) for one in found[1::2])
    assert {one.name: one.code for one in found[::2]} == {one.name: one.code for one in headers}
    for one in HOSTILE:
        if one.asks == "pixels":
            with pytest.raises(ImageRefused) as refused:
                child.pixels(file(one.make()))
            assert refused.value.code == one.code, one.name


def test_a_process_that_is_killed_costs_one_file_only(monkeypatch):
    """As the kernel does at a limit."""
    good = saved(plain())
    send = child._send

    def killing(pipe, content, until):
        if content == b"\x89PNG\r\n\x1a\nkill":
            os.kill(running._process.pid, signal.SIGKILL)
            running._process.wait()
        send(pipe, content, until)

    running = child._incoming.child
    monkeypatch.setattr(child, "_send", killing)
    sent = [("first", good), ("killer", b"\x89PNG\r\n\x1a\nkill"), ("last", good)]
    found = list(child.index(sent))
    assert [type(one) for one in found] == [Indexed, Refused, Indexed]
    assert found[1] == Refused("killer", "limits")
    assert "too much memory" in found[1].words


def test_a_file_that_takes_too_long_is_stopped(monkeypatch):
    running = child._incoming.child
    running.start()
    monkeypatch.setattr(child, "PATIENCE_S", 0.2)
    os.kill(running._process.pid, signal.SIGSTOP)
    with pytest.raises(ImageRefused, match="too much memory"):
        running.ask("index", saved(plain()), kind="dicom")
    monkeypatch.undo()
    running.start()
    monkeypatch.setattr(child, "PATIENCE_S", 0.2)
    os.kill(running._process.pid, signal.SIGSTOP)
    with pytest.raises(ImageRefused, match="too much memory"):  # not even taken
        running.ask("index", saved(plain()) + b"\0" * 1_000_000, kind="dicom")


def test_the_limits_hold_in_the_process():
    running = child._incoming.child
    running.start()
    limits = Path(f"/proc/{running._process.pid}/limits").read_text()
    told = {line[:25].strip(): line[25:].split()[:2] for line in limits.splitlines()}
    assert told["Max address space"] == [str(dicom_child.MEMORY)] * 2
    assert told["Max file size"] == ["0", "0"]
    assert told["Max core file size"] == ["0", "0"]
    assert int(told["Max cpu time"][0]) <= dicom_child.SECONDS + 5


def test_the_server_does_not_load_what_reads_pictures():
    """Only what runs in the process may import these."""
    guarded = {"pydicom", "gdcm", "jpeg_ls", "PIL"}
    for module in IMAGES.glob("*.py"):
        tree = ast.parse(module.read_text())
        for node in ast.walk(tree):
            names = [one.name for one in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            for name in names:
                assert name.partition(".")[0] not in guarded, module.name
                inside = name.startswith("register.images.reading") and name[-6:] != ".plain"
                assert not inside or module.name == "dicom_child.py", module.name


def test_many_threads_get_each_their_own_picture(file):
    places = [file(saved(dataset(np.full((8, 8), n, "u2")))) for n in range(6)]
    found: dict[int, set[int]] = {n: set() for n in range(6)}

    def ask(n):
        for _ in range(5):
            found[n].add(child.pixels(places[n]).low)

    threads = [threading.Thread(target=ask, args=(n,)) for n in found]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == {n: {n} for n in range(6)}


def test_identity_inside_reaches_no_log_and_no_representation(caplog, capfd, file):
    caplog.set_level(logging.DEBUG)
    person = {"PatientName": "Arden^Maud", "PatientID": "9990000018"}
    content = saved(plain(**person, PatientBirthDate="19420511", StudyDate="20270231"))
    content = content.replace(b"20270231", b"no day 1")
    found, refused = child.index([("a", content), ("Arden.dcm", content[:-50])])
    with pytest.raises(ImageRefused):
        child.pixels(file(content[:-50]))
    assert found.identity.name == "Arden, Maud"
    assert found.identity.number == "9990000018"
    assert found.identity.birth_date == "1942-05-11"
    said = "".join((caplog.text, *capfd.readouterr(), repr(found), refused.words))
    assert "Arden" not in said
    assert "9990000018" not in said


def test_meaning_and_window_come_from_the_group_of_the_picture():
    frames = np.zeros((3, 4, 4), "u2")
    header = dataset(frames, slope=9.0, intercept=9.0, WindowCenter=1, WindowWidth=1)
    groups = []
    for n in range(3):
        group = Dataset()
        value, window, place = Dataset(), Dataset(), Dataset()
        value.RescaleSlope, value.RescaleIntercept = n + 1, -n
        window.WindowCenter, window.WindowWidth = [40 + n, 300], [400, 2000]
        place.ImagePositionPatient = [0, 0, 3 * n]
        group.PixelValueTransformationSequence = Sequence([value])
        group.FrameVOILUTSequence = Sequence([window])
        group.PlanePositionSequence = Sequence([place])
        groups.append(group)
    shared, direction, measures = Dataset(), Dataset(), Dataset()
    direction.ImageOrientationPatient = [1, 0, 0, 0, 1, 0]
    measures.PixelSpacing, measures.SliceThickness = [0.5, 0.25], 3
    shared.PlaneOrientationSequence = Sequence([direction])
    shared.PixelMeasuresSequence = Sequence([measures])
    header.SharedFunctionalGroupsSequence = Sequence([shared])
    header.PerFrameFunctionalGroupsSequence = Sequence(groups)
    (found,) = child.index([("a", saved(header))])
    assert [(one.slope, one.intercept, one.centre) for one in found.frames] == [
        (1, 0, 40), (2, -1, 41), (3, -2, 42),
    ]  # fmt: skip
    assert [one.position for one in found.frames] == [(0, 0, 0), (0, 0, 3), (0, 0, 6)]
    assert {one.pixel_spacing for one in found.frames} == {(0.5, 0.25)}
    header.PerFrameFunctionalGroupsSequence = Sequence(groups[:2])
    (refused,) = child.index([("a", saved(header))])
    assert refused.code == "damaged"


def test_an_overview_and_a_captured_screen_are_told_from_a_slice():
    overview = {"ImageType": ["ORIGINAL", "PRIMARY", "LOCALIZER"]}
    captured = {"SOPClassUID": "1.2.840.10008.5.1.4.1.1.7"}
    slices = [plain(), plain(**overview), plain(**captured), plain(**overview, Modality="MR")]
    found = child.index([(str(n), saved(header)) for n, header in enumerate(slices)])
    assert [one.projection for one in found] == [False, True, True, False]


def test_more_than_sixteen_bits_keep_their_meaning(file):
    values = np.array([[0, 1_000_000], [2_000_000, 4_000_000]], "u4")
    found = child.pixels(file(saved(dataset(values, slope=0.5, intercept=10.0))))
    small = np.frombuffer(found.values, "<i2").reshape(2, 2)
    meant = small * found.slope + found.intercept
    assert meant == pytest.approx(values * 0.5 + 10, abs=found.slope)
    assert found.layout == "int16"


def test_a_table_of_meanings_is_applied(file):
    header = dataset(np.arange(16, dtype="u1").reshape(4, 4))
    table = Dataset()
    table.LUTDescriptor, table.ModalityLUTType = [16, 0, 16], "US"
    table.LUTData = np.arange(0, 16_000, 1000, dtype="<u2").tobytes()
    table["LUTData"].VR = "OW"
    header.ModalityLUTSequence = Sequence([table])
    found = child.pixels(file(saved(header)))
    assert found.layout == "uint16"
    assert np.frombuffer(found.values, "<u2").tolist() == list(range(0, 16_000, 1000))


def test_padding_is_told_and_left_out_of_the_range(file):
    values = np.array([[-2000, 5], [7, -1990]], "i2")
    header = dataset(values, PixelPaddingValue=-2000, PixelPaddingRangeLimit=-1990)
    found = child.pixels(file(saved(header)))
    assert found.padding == (-2000, -1990)
    assert (found.low, found.high) == (5, 7)
    assert (found.window, found.centre, found.width) == ("range", 6.5, 3)


def test_a_camera_picture_is_turned_and_has_no_scale(file):
    image = Image.fromarray(np.arange(12, dtype="u1").reshape(3, 4).repeat(8, 0).repeat(8, 1))
    out, exif = BytesIO(), Image.Exif()
    exif[0x0112] = 6  # turn to the right
    exif[0x010E] = "Arden, Maud"
    image.convert("RGB").save(out, "JPEG", exif=exif, quality=95)
    (found,) = child.index([("photo.jpg", out.getvalue())])
    assert (found.kind, found.rows, found.columns) == ("picture", 32, 24)
    assert found.layout == "uint8"  # grey, although saved in colour
    assert found.frames[0].pixel_spacing is None
    assert not found.identity
    assert child.pixels(file(out.getvalue())).rows == 32


def test_deep_grey_of_a_png_is_kept(file):
    out = BytesIO()
    Image.fromarray(PLAIN * 16).save(out, "PNG")
    found = child.pixels(file(out.getvalue()))
    assert found.layout == "uint16"
    assert found.values == (PLAIN * 16).tobytes()


def test_an_unknown_refusal_has_words_too(monkeypatch):
    monkeypatch.setattr(child, "_received", lambda *_: {"refused": "no such code", "values": 0})
    with pytest.raises(ImageRefused, match="damaged"):
        child._incoming.ask("index", saved(plain()), kind="dicom")
    child._incoming.stop()


def test_what_is_no_whole_answer_is_no_picture():
    head = {"rows": 2, "columns": 2, "layout": "uint16", "slope": 1, "intercept": 0, "centre": 1,
            "width": 1, "function": "LINEAR", "window": "range", "inverted": False,
            "padding": None, "low": 0, "high": 1}  # fmt: skip
    assert child.answers.pixels(head, b"\0" * 8).rows == 2
    with pytest.raises(ValueError, match="size of the picture"):
        child.answers.pixels(head, b"\0" * 7)
