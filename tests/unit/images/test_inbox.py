"""What was sent, taken apart: a bad file never costs a good one, and no size is believed."""

import struct
import tracemalloc
import zipfile
from io import BytesIO

import pytest

from register.images import inbox
from register.images.inbox import Sent, files_in, shown_name
from register.images.sniff import kind_of
from tests.hostile_images import plain, saved

GOOD = saved(plain())


def packed(*files, method=zipfile.ZIP_DEFLATED) -> bytes:
    out = BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        for name, content in files:
            archive.writestr(name, content)
    return out.getvalue()


def taken(*sent) -> list[str]:
    """Each answer as the name of the file, or as its refusal."""
    found = files_in((name, BytesIO(content)) for name, content in sent)
    return [one.name if isinstance(one, Sent) else f"{one.name} {one.code}" for one in found]


def test_files_come_in_their_order_as_they_are():
    found = list(files_in([("a.dcm", BytesIO(GOOD)), ("b.png", BytesIO(b"\x89PNG"))]))
    assert found == [Sent("a.dcm", GOOD), Sent("b.png", b"\x89PNG")]


def test_a_zip_with_a_bad_file_keeps_the_good_ones():
    archive = packed(
        ("s/1", GOOD), ("../2", GOOD), ("/3", GOOD), ("C:\\4", GOOD), ("s\\..\\5", GOOD),
        ("6", b""), ("7.zip", packed(("x", GOOD))), ("__MACOSX/._1", b"x"), ("s/.DS_Store", b"x"),
        ("8", GOOD),
    )  # fmt: skip
    assert taken(("a.zip", archive)) == [
        "a.zip: s/1",
        "a.zip: ../2 name",
        "a.zip: /3 name",
        "a.zip: C:\\4 name",
        "a.zip: s\\..\\5 name",
        "a.zip: 6 empty",
        "a.zip: 7.zip inside",
        "a.zip: 8",
    ]


def test_a_damaged_file_inside_is_the_only_one_that_is_lost():
    archive = bytearray(packed(("1", GOOD), ("2", b"\1" * 500), ("3", GOOD), method=0))
    archive[archive.index(b"\1" * 500)] = 2
    assert taken(("a.zip", bytes(archive))) == ["a.zip: 1", "a.zip: 2 unpacking", "a.zip: 3"]


def test_a_locked_file_a_link_and_an_odd_method_are_refused():
    out = BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        link = zipfile.ZipInfo("link")
        link.external_attr = 0o120777 << 16
        archive.writestr(link, "/etc/passwd")
        archive.writestr("odd", GOOD, zipfile.ZIP_LZMA)
    assert taken(("a.zip", out.getvalue())) == ["a.zip: link link", "a.zip: odd method"]
    locked = bytearray(packed(("1", GOOD)))
    for mark, at in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        locked[locked.index(mark) + at] |= 1
    assert taken(("a.zip", bytes(locked))) == ["a.zip: 1 password"]


@pytest.mark.parametrize("cut", [1, 30, 300])
def test_a_zip_that_is_cut_off_is_refused_as_a_whole(cut):
    assert taken(("a.zip", packed(("1", GOOD))[:-cut])) == ["a.zip unpacking"]


def test_an_empty_zip_says_so():
    assert taken(("a.zip", packed())) == ["a.zip nothing"]


def test_a_bomb_is_stopped_whatever_size_it_declares(monkeypatch):
    monkeypatch.setattr(inbox, "RATIO_FROM", 2_000_000)
    honest = packed(("1", b"\0" * 30_000_000), ("2", GOOD))
    lying = bytearray(honest)
    for mark, at in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        struct.pack_into("<L", lying, lying.index(mark) + at, 10)
    tracemalloc.start()
    assert taken(("a.zip", honest)) == ["a.zip: 1 bomb", "a.zip: 2"]
    assert taken(("a.zip", bytes(lying)))[0] in ("a.zip: 1 bomb", "a.zip: 1 unpacking")
    assert tracemalloc.get_traced_memory()[1] < 10_000_000
    tracemalloc.stop()


def test_a_long_list_of_contents_is_not_even_read(monkeypatch):
    archive = packed(*((str(n), b"x") for n in range(200)))
    monkeypatch.setattr(inbox, "_MOST_DIRECTORY", 200 * 46)
    monkeypatch.setattr(zipfile, "ZipFile", lambda *_: pytest.fail("it was read"))
    assert taken(("a.zip", archive)) == ["a.zip many"]


def test_how_much_is_taken_has_an_end(monkeypatch):
    monkeypatch.setattr(inbox, "MOST_FILES", 2)
    archive = packed(("1", GOOD), ("2", GOOD), ("3", GOOD), ("4", GOOD))
    assert taken(("a.zip", archive))[2:] == ["a.zip many"]
    monkeypatch.setattr(inbox, "MOST_FILES", 9)
    monkeypatch.setattr(inbox, "MOST_TOGETHER", len(GOOD) + 1)
    assert taken(*[("a", GOOD)] * 3) == ["a", "a", "a together"]
    monkeypatch.setattr(inbox, "MOST_BYTES", 10)
    assert taken(("a", GOOD)) == ["a large"]


def test_names_are_shown_on_one_line():
    assert shown_name("a\n\x00b\u202ecod.dcm") == "abcod.dcm"
    assert len(shown_name("x" * 5000)) == 120
    assert shown_name("\n") == "file without a name"


@pytest.mark.parametrize(
    ("head", "kind"),
    [
        (b"\0" * 128 + b"DICM\x02\0", "dicom"),
        (b"II*\0" + b"\0" * 124 + b"DICM\x02\0", "dicom"),
        (b"MZ" + b"\0" * 126 + b"DICM\x02\0", "program"),
        (b"\x08\x00\x05\x00CS\x0a\x00ISO_IR 100", "dicom"),
        (b"\x08\x00\x05\x00\x0a\x00\x00\x00ISO_IR 100", "dicom"),
        (b"\x00\x08\x00\x05CS\x00\x0aISO_IR 100", "dicom"),
        (b"\x08\x00\x05\x00\xff\xff\xff\x7fISO_IR 100", "other"),
        (b"\x89PNG\r\n\x1a\n", "picture"),
        (b"\xff\xd8\xff\xe0", "picture"),
        (b"PK\x03\x04", "zip"),
        (b"%PDF-1.7", "pdf"),
        (b"\0\0\0\x20ftypisom", "video"),
        (b"\0\0\0\x20ftypheic", "other_picture"),
        (b"RIFF\0\0\0\0AVI ", "video"),
        (b"RIFF\0\0\0\0WEBP", "other_picture"),
        (b"\x1f\x8b\x08", "packed"),
        (b"<svg>", "other"),
        (b"", "empty"),
    ],
)
def test_the_first_bytes_say_what_a_file_is(head, kind):
    assert kind_of(head) == kind
