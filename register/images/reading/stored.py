"""Where in a file its pixel values stand, and whether they can be what the header says."""

import struct
from dataclasses import dataclass
from typing import BinaryIO, Final

from pydicom import uid as uids

from register.images.reading.plain import CannotRead

_PIXELS: Final = (0x7FE0, 0x0010)
_FRACTIONS: Final = ((0x7FE0, 0x0008), (0x7FE0, 0x0009))
_ITEM: Final = (0xFFFE, 0xE000)
_END: Final = (0xFFFE, 0xE0DD)
_UNTOLD: Final = 0xFFFFFFFF
_HEAD: Final = 8  # bytes before a fragment
# What a compressed picture begins with, by the way it says that it is compressed.
_JPEG: Final = b"\xff\xd8"
_BEGINNINGS: Final[dict[str, tuple[bytes, ...]]] = {
    **dict.fromkeys((*uids.JPEGTransferSyntaxes, *uids.JPEGLSTransferSyntaxes), (_JPEG,)),
    **dict.fromkeys(uids.JPEG2000TransferSyntaxes, (b"\xff\x4f\xff\x51", b"\x00\x00\x00\x0cjP  ")),
}


@dataclass(frozen=True, slots=True)
class Stored:
    """The element with the pixel values. `size` is None when they are compressed."""

    source: BinaryIO
    kind: str  # of value: OB or OW
    begins: int
    size: int | None
    left: int  # bytes from `begins` to the end of the file

    def check(self, syntax: uids.UID, *, expected: int, frames: int) -> None:
        """Refuse values that are cut off or not stored as the file says."""
        if syntax.is_encapsulated != (self.size is None):
            raise CannotRead("mislabelled", syntax.name)
        if self.size is not None:
            if min(self.size, self.left) < expected:
                raise CannotRead("truncated")
            return
        fragments = self._fragments()
        if len(fragments) < frames:
            raise CannotRead("truncated")
        begin, size = fragments[0]
        known = _BEGINNINGS.get(syntax)
        if known and not self._at(begin, min(size, 12)).startswith(known):
            raise CannotRead("mislabelled", syntax.name)

    def _fragments(self) -> list[tuple[int, int]]:
        """Return (where, how long) of each compressed part, after the table of offsets."""
        place, end = self.begins, self.begins + self.left
        found: list[tuple[int, int]] = []
        while place + _HEAD <= end:
            group, element, size = struct.unpack("<HHL", self._at(place, _HEAD))
            if (group, element) == _END:
                return found[1:]
            if (group, element) != _ITEM or place + _HEAD + size > end:
                break
            found.append((place + _HEAD, size))
            place += _HEAD + size
        if place == end:  # only the mark of the end is missing
            return found[1:]
        raise CannotRead("truncated")

    def _at(self, place: int, size: int) -> bytes:
        self.source.seek(place)
        return self.source.read(size)


def find_stored(source: BinaryIO) -> Stored | None:
    """Return the element at which reading the header stopped; None when there is none.

    The kind of value stands behind the tag when it is written out; otherwise these bytes
    are the length, and no length in use looks like letters followed by two zeros.
    """
    head = source.read(12)
    if len(head) < _HEAD:
        return None
    for order in "<>":
        tag = struct.unpack(f"{order}HH", head[:4])
        if tag in _FRACTIONS:
            raise CannotRead("float")
        if tag != _PIXELS:
            continue
        written = head[4:6] in (b"OB", b"OW", b"UN") and head[6:8] == b"\0\0" and len(head) == 12
        at = slice(8, 12) if written else slice(4, 8)
        size = struct.unpack(f"{order}L", head[at])[0]
        source.seek(at.stop - len(head), 1)
        begins = source.tell()
        left = source.seek(0, 2) - begins
        kind = head[4:6].decode() if written else "OW"
        return Stored(source, kind, begins, None if size == _UNTOLD else size, left)
    return None
