"""What was sent: one file, many, those of a folder, or a ZIP, as single files under limits.

A ZIP is unpacked here, in the server: only the standard library's reader of it, piece by
piece, with the size counted as it comes and never believed. A bad file in it is refused
and the others go on. Names are shown to people and never used as paths.
"""

import re
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from io import BytesIO
from typing import IO, Final

from register.images.limits import MOST_BYTES, MOST_FILES, MOST_RATIO, MOST_TOGETHER, RATIO_FROM
from register.images.refusals import Refused
from register.images.sniff import NEEDED, ZIP, kind_of

_CHUNK: Final = 1_000_000
_MOST_NAME: Final = 120  # letters that are shown
_UNSHOWN: Final = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028-\u202f\u2066-\u2069\ud800-\udfff]")
# What systems put beside the files of a folder; nobody sent them.
_BESIDE: Final = re.compile(r"(^|/)(__MACOSX/.*|\.[^/]*|thumbs\.db|desktop\.ini)$", re.IGNORECASE)
_LINK: Final = 0o120000
_MOST_DIRECTORY: Final = 4_000_000  # bytes: 2,000 for each file
_METHODS: Final = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)


@dataclass(frozen=True, slots=True)
class Sent:
    """One file as it came. `name` is for people."""

    name: str
    content: bytes


class _Counter:
    """What may still come."""

    def __init__(self) -> None:
        self.files, self.bytes = 0, 0

    def refusal(self) -> str:
        """Return the code with which the next file is refused; '' while there is room."""
        if self.files >= MOST_FILES:
            return "many"
        return "together" if self.bytes >= MOST_TOGETHER else ""

    def count(self, content: bytes) -> None:
        self.files += 1
        self.bytes += len(content)


def files_in(sent: Iterable[tuple[str, IO[bytes]]]) -> Iterator[Sent | Refused]:
    """Yield the files of what was sent, one after another, and what is refused of it.

    Each source is an open file that can be read from its beginning and, for a ZIP, at any
    place. At most one file is in memory at a time.
    """
    counter = _Counter()
    for name, source in sent:
        shown = shown_name(name)
        if _BESIDE.search(shown):
            continue
        source.seek(0)
        head = source.read(NEEDED)
        source.seek(0)
        if kind_of(head) == ZIP:
            yield from _unpacked(shown, source, counter)
        elif code := counter.refusal():
            yield Refused(shown, code)
        else:
            yield _taken(shown, source.read(MOST_BYTES + 1), counter)


def shown_name(name: str) -> str:
    """Return a name as it is shown: one line, its end where it is long."""
    return _UNSHOWN.sub("", name)[-_MOST_NAME:] or "file without a name"


def _taken(name: str, content: bytes, counter: _Counter) -> Sent | Refused:
    if not content:
        return Refused(name, "empty")
    if len(content) > MOST_BYTES:
        return Refused(name, "large")
    counter.count(content)
    return Sent(name, content)


def _unpacked(name: str, source: IO[bytes], counter: _Counter) -> Iterator[Sent | Refused]:
    try:
        if _directory_size(source) > _MOST_DIRECTORY:
            yield Refused(name, "many")
            return
        archive = zipfile.ZipFile(source)
    except (zipfile.BadZipFile, OSError, ValueError, EOFError, NotImplementedError):
        yield Refused(name, "unpacking")
        return
    with archive:
        inside = [one for one in archive.infolist() if not one.is_dir()]
        inside = [one for one in inside if not _BESIDE.search(one.filename)]
        if not inside:
            yield Refused(name, "nothing")
        for one in inside:
            if code := counter.refusal():
                yield Refused(name, code)
                return
            yield _entry(f"{name}: {one.filename}", archive, one, counter)


def _directory_size(source: IO[bytes]) -> int:
    """Return how long the list of contents of an archive is: opening it reads all of that."""
    end = zipfile._EndRecData(source)  # type: ignore[attr-defined]
    if not end:
        raise zipfile.BadZipFile
    return int(end[zipfile._ECD_SIZE])  # type: ignore[attr-defined]


def _entry(
    name: str, archive: zipfile.ZipFile, one: zipfile.ZipInfo, counter: _Counter
) -> Sent | Refused:
    shown = shown_name(name)
    if code := _forbidden(one):
        return Refused(shown, code)
    try:
        content, code = _read(archive, one)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError, RuntimeError):
        return Refused(shown, "unpacking")
    if code:
        return Refused(shown, code)
    if kind_of(content[:NEEDED]) == ZIP:
        return Refused(shown, "inside")
    return _taken(shown, content, counter)


def _forbidden(one: zipfile.ZipInfo) -> str:
    """Return the code with which a file is refused before it is unpacked; '' for none."""
    if one.flag_bits & 0x1:
        return "password"
    # What the archive says, not what the library made of it.
    parts = one.orig_filename.replace("\\", "/").split("/")
    if ".." in parts or not parts[0] or ":" in parts[0] or "\x00" in one.orig_filename:
        return "name"
    if (one.external_attr >> 16) & 0o170000 == _LINK:
        return "link"
    if one.file_size > max(RATIO_FROM, one.compress_size * MOST_RATIO):
        return "bomb"
    return "" if one.compress_type in _METHODS else "method"


def _read(archive: zipfile.ZipFile, one: zipfile.ZipInfo) -> tuple[bytes, str]:
    """Return the bytes of a file in an archive, or the code with which it is refused.

    What it declares was looked at before; here it is counted.
    """
    content = BytesIO()  # hands its bytes on without a copy
    with archive.open(one) as file:
        while chunk := file.read(_CHUNK):
            content.write(chunk)
            if content.tell() > max(RATIO_FROM, one.compress_size * MOST_RATIO):
                return b"", "bomb"
            if content.tell() > MOST_BYTES:
                return b"", "large"
    return content.getvalue(), ""
