"""What a file is, told by its first bytes; never by its name.

DICOM has its mark behind a preamble of 128 bytes that may hold anything. Older archives
leave preamble and mark out: such a file begins with the first element of a header, which
is told by its group, a known two-letter kind or a short length. Those are read too: what
is missing is how the pixels are encoded, and the reader refuses what it cannot tell.
"""

import struct
from typing import Final

NEEDED: Final = 512  # bytes from the beginning

# Kinds that are read. Every other kind is the code of a refusal.
DICOM: Final = "dicom"
PICTURE: Final = "picture"
ZIP: Final = "zip"

_PROGRAMS: Final = (b"MZ", b"\x7fELF", b"#!", b"\xcf\xfa\xed\xfe", b"\xca\xfe\xba\xbe")
_BEGINNINGS: Final = (
    (b"\x89PNG\r\n\x1a\n", PICTURE),
    (b"\xff\xd8\xff", PICTURE),
    (b"PK\x03\x04", ZIP),
    (b"PK\x05\x06", ZIP),
    (b"%PDF", "pdf"),
    (b"GIF8", "other_picture"),
    (b"BM", "other_picture"),
    (b"II*\x00", "other_picture"),
    (b"MM\x00*", "other_picture"),
    (b"\x00\x00\x00\x0cjP  ", "other_picture"),
    (b"\xff\x4f\xff\x51", "other_picture"),
    (b"\x1f\x8b", "packed"),
    (b"7z\xbc\xaf\x27\x1c", "packed"),
    (b"Rar!", "packed"),
    (b"BZh", "packed"),
    (b"\xfd7zXZ", "packed"),
    (b"\x1a\x45\xdf\xa3", "video"),
    (b"\x00\x00\x01\xba", "video"),
    (b"\x00\x00\x01\xb3", "video"),
    (b"OggS", "video"),
    (b"FLV", "video"),
)
_STILL_BRANDS: Final = (b"heic", b"heix", b"mif1", b"avif")
# The kinds of value (VR) of the first elements of a header.
_FIRST_KINDS: Final = (b"UL", b"UI", b"OB", b"CS", b"SH", b"LO", b"DA", b"TM", b"ST")


def kind_of(head: bytes) -> str:
    """Return DICOM, PICTURE or ZIP, or the code of the refusal, from the first NEEDED bytes."""
    if not head:
        return "empty"
    if head[128:132] == b"DICM":
        return "program" if head.startswith(_PROGRAMS) else DICOM
    if head.startswith(_PROGRAMS):
        return "program"
    for beginning, kind in _BEGINNINGS:
        if head.startswith(beginning):
            return kind
    if head[4:8] == b"ftyp":
        return "other_picture" if head[8:12] in _STILL_BRANDS else "video"
    if head.startswith(b"RIFF"):
        return "other_picture" if head[8:12] == b"WEBP" else "video"
    return DICOM if _begins_like_a_header(head) else "other"


def _begins_like_a_header(head: bytes) -> bool:
    """Whether the bytes begin with an element of group 2 or 8, in any of the three encodings."""
    if len(head) < 12:
        return False
    for order in "<>":
        group, element, length = struct.unpack(f"{order}HHL", head[:8])
        if group in (0x0002, 0x0008) and element <= 0x0100:
            return head[4:6] in _FIRST_KINDS or (order == "<" and length <= 64)
    return False
