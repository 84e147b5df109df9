"""Files that try to break whoever opens them, each with the refusal that it must get.

Used by the tests and by `manage.py drill images`. Nothing here is large on disk: what is
large is what it would unpack to.
"""

import struct
import sys
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import numpy as np
import pydicom
from PIL import Image
from pydicom import uid as uids
from pydicom.encaps import encapsulate

from register.images.limits import MOST_BYTES
from tests.phantoms import dataset

EIGHT_BITS = {"BitsAllocated": 8, "BitsStored": 8, "HighBit": 7}
PLAIN = np.arange(64 * 64, dtype="u2").reshape(64, 64)


@dataclass(frozen=True)
class Hostile:
    """One file. `asks` is what makes it dangerous: its header, or its picture."""

    name: str
    make: Callable[[], bytes]
    code: str
    asks: str = "index"


def saved(header: pydicom.Dataset) -> bytes:
    out = BytesIO()
    header.save_as(out, enforce_file_format=True)
    return out.getvalue()


def plain(**attributes: object) -> pydicom.FileDataset:
    return dataset(PLAIN, **attributes)


def changed(**attributes: object) -> bytes:
    """A plain file whose header says something else."""
    header = plain()
    for name, value in attributes.items():
        setattr(header, name, value)
    return saved(header)


def meta_only(syntax: str) -> bytes:
    """The first part of a file, up to where its header would begin."""
    header = plain()
    header.file_meta.TransferSyntaxUID = uids.UID(syntax)
    out = BytesIO()
    out.write(b"\0" * 128 + b"DICM")
    pydicom.filewriter.write_file_meta_info(out, header.file_meta, enforce_standard=True)
    return out.getvalue()


def deflate_bomb() -> bytes:
    """A header of one gigabyte, packed into one megabyte."""
    packer = zlib.compressobj(9, wbits=-zlib.MAX_WBITS)
    zeros = packer.compress(b"\0" * 10_000_000) + packer.flush(zlib.Z_FULL_FLUSH)
    return meta_only(uids.DeflatedExplicitVRLittleEndian) + zeros * 100 + packer.flush()


def nested(depth: int) -> bytes:
    """Sequences inside one another, each without a length."""
    tag = b"\x08\x00\x40\x11SQ\0\0\xff\xff\xff\xff" + b"\xfe\xff\x00\xe0\xff\xff\xff\xff"
    return meta_only(uids.ExplicitVRLittleEndian) + tag * depth


def compressed(syntax: uids.UID, frame: bytes, **attributes: object) -> bytes:
    """A plain header over any compressed bytes."""
    header = plain()
    header.file_meta.TransferSyntaxUID = syntax
    header.PixelData = encapsulate([frame])
    header["PixelData"].VR = "OB"
    header["PixelData"].is_undefined_length = True
    for name, value in attributes.items():
        setattr(header, name, value)
    return saved(header)


def picture(kind: str, *, size: tuple[int, int] = (64, 64), **options: object) -> bytes:
    out = BytesIO()
    Image.new("L", size).save(out, kind, **options)
    return out.getvalue()


def vast_jpeg2000() -> bytes:
    """A small picture whose own beginning says that it is 60,000 points wide and high."""
    packed = bytearray(picture("JPEG2000", no_jp2=True))
    struct.pack_into(">II", packed, 8, 60_000, 60_000)
    struct.pack_into(">II", packed, 24, 60_000, 60_000)
    return compressed(uids.JPEG2000Lossless, bytes(packed), **EIGHT_BITS)


def vast_png() -> bytes:
    packed = bytearray(picture("PNG"))
    struct.pack_into(">II", packed, 16, 60_000, 60_000)
    struct.pack_into(">I", packed, 29, zlib.crc32(packed[12:29]))
    return bytes(packed)


def run_lengths() -> bytes:
    """Compressed by run lengths: a few bytes that repeat for ever."""
    head = struct.pack("<16L", 2, 64, 64, *[0] * 13)
    return compressed(uids.RLELossless, head + b"\x81\x00" * 400_000)


def many_frames() -> bytes:
    """A hundred thousand pictures of one point, each with a group of its own."""
    return changed(Rows=1, Columns=1, NumberOfFrames=100_000, PixelData=b"\0" * 200_000)


def of_class(kind: uids.UID, **attributes: object) -> bytes:
    header = plain()
    header.SOPClassUID = header.file_meta.MediaStorageSOPClassUID = kind
    for name, value in attributes.items():
        setattr(header, name, value)
    return saved(header)


def document() -> bytes:
    return of_class(uids.EncapsulatedPDFStorage, EncapsulatedDocument=b"%PDF-1.7\n")


def long_text() -> bytes:
    """A name of five million letters, and an element that is said to be longer than the file."""
    body = saved(plain(PatientName="A" * 50, SeriesDescription="x"))
    at = body.index(b"\x10\x00\x10\x00PN")
    return body[: at + 6] + struct.pack("<H", 65_534) + body[at + 8 :]


def mislabelled() -> bytes:
    """Says JPEG, holds JPEG 2000."""
    packed = picture("JPEG2000", no_jp2=True)
    return compressed(uids.JPEGBaseline8Bit, packed, **EIGHT_BITS)


def program() -> bytes:
    return b"MZ" + saved(plain())[2:]


HOSTILE: tuple[Hostile, ...] = (
    Hostile("deflate bomb, 1 GB", deflate_bomb, "deflated"),
    Hostile(
        "65,535 × 65,535 × 1,000 pictures",
        lambda: changed(Rows=65535, Columns=65535, NumberOfFrames=1000),
        "size",
    ),
    Hostile("100,000 pictures", many_frames, "frames"),
    Hostile("100,000 pictures, cut off", lambda: changed(NumberOfFrames=3999), "truncated"),
    Hostile("300 nested sequences", lambda: nested(300), "deep"),
    Hostile("200,000 nested sequences", lambda: nested(200_000), "deep"),
    Hostile("cut off in the header", lambda: saved(plain())[:300], "damaged"),
    Hostile("cut off in the picture", lambda: saved(plain())[:-100], "truncated"),
    Hostile("no header", lambda: meta_only(uids.ExplicitVRLittleEndian), "damaged"),
    Hostile("wrong mark", lambda: saved(plain()).replace(b"DICM", b"DICQ"), "other"),
    Hostile("program in front", program, "program"),
    Hostile("packed PDF", document, "document"),
    Hostile("packed text document", lambda: of_class(uids.EncapsulatedCDAStorage), "document"),
    Hostile("report", lambda: of_class(uids.EnhancedSRStorage), "report"),
    Hostile(
        "presentation",
        lambda: of_class(uids.GrayscaleSoftcopyPresentationStateStorage),
        "presentation",
    ),
    Hostile("film", lambda: compressed(uids.MPEG2MPML, b"\0" * 64), "video"),
    Hostile("mask", lambda: changed(BitsAllocated=1, BitsStored=1, HighBit=0), "one_bit"),
    Hostile("twelve of twelve bits", lambda: changed(BitsAllocated=12), "bits"),
    Hostile("bits at the top", lambda: changed(BitsStored=12, HighBit=15), "bits"),
    Hostile("four colours", lambda: changed(PhotometricInterpretation="CMYK"), "colour"),
    Hostile("no such compression", lambda: compressed(uids.HTJ2K, b"\xff\x4f\xff\x51"), "syntax"),
    Hostile(
        "twelve-bit JPEG",
        lambda: compressed(uids.JPEGExtended12Bit, b"\xff\xd8\xff", BitsStored=12, HighBit=11),
        "twelve_bit",
    ),
    Hostile("JPEG 2000 under the name of JPEG", mislabelled, "mislabelled"),
    Hostile("name longer than the file", long_text, "none"),
    Hostile("vast JPEG 2000 behind a small header", vast_jpeg2000, "damaged", "pixels"),
    Hostile("run lengths without end", run_lengths, "damaged", "pixels"),
    Hostile("JPEG of noise", lambda: compressed(
        uids.JPEGLosslessSV1, b"\xff\xd8" + bytes(range(256)) * 4_000), "damaged", "pixels"),
    Hostile("vast PNG", vast_png, "size"),
    Hostile("PNG cut off", lambda: picture("PNG", size=(900, 900))[:-40], "truncated"),
    Hostile("JPEG cut off", lambda: picture("JPEG", size=(900, 900))[:400], "truncated"),
    Hostile("PDF", lambda: b"%PDF-1.7\n" + b"\0" * 500, "pdf"),
    Hostile("drawing with script", lambda: b"<svg><script>alert(1)</script></svg>", "other"),
    Hostile("empty", lambda: b"", "empty"),
)  # fmt: skip


def archive(*files: tuple[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = BytesIO()
    with zipfile.ZipFile(out, "w", method) as made:
        for name, content in files:
            made.writestr(name, content)
    return out.getvalue()


def archive_bomb() -> bytes:
    """One file that unpacks to a gigabyte, between two good ones."""
    good = saved(plain())
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("1", good)
        with made.open("2", "w", force_zip64=True) as bomb:
            for _ in range(100):
                bomb.write(b"\0" * 10_000_000)
        made.writestr("3", good)
    return out.getvalue()


def many_copies() -> bytes:
    """Twenty thousand names for a few bytes."""
    return archive(*((str(n), b"\x89PNG") for n in range(20_000)))


def many_names() -> bytes:
    """A list of contents that takes 100 MB when it is read."""
    return archive(*((str(n), b"") for n in range(200_000)), method=zipfile.ZIP_STORED)


def largest_file() -> bytes:
    """Nearly as large as a file may be: a hundred pictures."""
    return saved(dataset(np.zeros((100, 640, 640), "u2")))


def largest_picture() -> bytes:
    """Nearly as large as a picture may be."""
    return saved(dataset(np.zeros((5_600, 5_600), "u2")))


# Too large, or too slow to make, for every test run.
LARGE: tuple[Hostile, ...] = (
    Hostile("ZIP bomb, 1 GB", archive_bomb, "bomb, read"),
    Hostile("ZIP of 20,000 files", many_copies, "many, other"),
    Hostile("ZIP of 200,000 empty files", many_names, "many"),
    Hostile("ZIP in a ZIP", lambda: archive(("1.zip", archive(("1", b"x")))), "inside"),
    Hostile("one byte too large", lambda: b"\x89PNG" + b"\0" * MOST_BYTES, "large"),
    Hostile("as large as a file may be", largest_file, "read"),
    Hostile("as large as a picture may be", largest_picture, "read"),
)


def main(folder: Path) -> None:
    """Write all of them, numbered; in a process of its own, since making them takes memory."""
    for number, one in enumerate((*HOSTILE, *LARGE)):
        (folder / str(number)).write_bytes(one.make())


if __name__ == "__main__":
    main(Path(sys.argv[1]))
