"""Where the bytes of pictures lie: in a private folder, each file named by its SHA-256.

What was sent is kept as it was sent. It is written whole or not at all, and looked at
again whenever it is read: a file that is no longer what it was is not shown, and is whole
again once the same file is sent again. Beside it stand those pictures that took long to
decode; they may be deleted at any time. Nothing here is served by a path.
"""

import gzip
import hashlib
import json
import os
import re
import tempfile
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import asdict
from pathlib import Path
from threading import Thread
from time import monotonic
from typing import Final

from register.images import answers
from register.images.answers import Pixels
from register.images.child import pixels
from register.images.refusals import ImageRefused

_DIGEST: Final = re.compile(r"[0-9a-f]{64}")
_QUICK: Final = 1  # level of packing: half the size at a tenth of the time
_WORTH_KEEPING_S: Final = 0.25
_AT_ONCE: Final = 8  # files that wait for the disk together

Signature = tuple[int, int, int, int]  # which file, how long, when written, when changed


class Store:
    """The files of one installation. `folder` is private to the register's account."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        # What the file system said of each file when its bytes were found to be right. Nobody
        # can write to a file without changing that, and hashing takes longer than decoding.
        self._right: dict[str, Signature] = {}

    def keep(self, content: bytes) -> str:
        """Store a file and return its SHA-256; the same file is stored once."""
        with self.several() as keep:
            return keep(content)

    @contextmanager
    def several(self) -> Iterator[Callable[[bytes], str]]:
        """Store many files by the function that is given; they last once the block has ended.

        Waiting for the disk file by file would take most of the time of a series.
        """
        written: set[Path] = set()

        def keep(content: bytes) -> str:
            digest = hashlib.sha256(content).hexdigest()
            place = self._place("originals", digest)
            if not self._is_right(digest):
                _write(place, content)
                written.add(place)
                self._right[digest] = _signature(place)
            return digest

        yield keep
        with ThreadPoolExecutor(_AT_ONCE) as pool:
            for places in (written, {place.parent for place in written}):
                list(pool.map(_settle, places))

    def read(self, digest: str) -> bytes:
        """Return a stored file. Raises ImageRefused when it is missing or no longer the same."""
        try:
            content = self._place("originals", digest).read_bytes()
        except FileNotFoundError as error:
            raise ImageRefused("missing") from error
        if hashlib.sha256(content).hexdigest() != digest:
            raise ImageRefused("changed")
        return content

    def pixels(self, digest: str, frame: int = 0) -> Pixels:
        """Return a decoded picture of a stored file. Raises ImageRefused.

        The file is looked at again meanwhile, by the other core. A picture that took long
        is kept decoded; for the others, decoding is quicker than unpacking.
        """
        place = self._place("originals", digest)
        if not place.exists():
            raise ImageRefused("missing")
        if self._right.get(digest) == _signature(place):
            return self._decoded(digest, frame)
        with ThreadPoolExecutor(1) as other:
            right = other.submit(self._is_right, digest)
            found = self._decoded(digest, frame)
            if not right.result():
                raise ImageRefused("changed")
        return found

    def _is_right(self, digest: str) -> bool:
        """Whether a file is there with the bytes that were sent."""
        place = self._place("originals", digest)
        try:
            found = _signature(place)
            if self._right.get(digest) != found:
                with place.open("rb") as file:
                    if hashlib.file_digest(file, "sha256").hexdigest() != digest:
                        return False
                self._right[digest] = found
        except FileNotFoundError:
            return False
        return True

    def _decoded(self, digest: str, frame: int) -> Pixels:
        kept = self._place("decoded", digest, f".{frame}.gz")
        if (found := _unpacked(kept)) is not None:
            return found
        started = monotonic()
        found = pixels(self._place("originals", digest), frame)
        if monotonic() - started > _WORTH_KEEPING_S:
            # Packing takes as long again: not while somebody waits.
            Thread(target=_keep_decoded, args=(kept, found)).start()
        return found

    def forget_decoded(self) -> int:
        """Delete all decoded pictures and return how many there were; they come again."""
        places = list((self.folder / "decoded").glob("*/*.gz"))
        for place in places:
            place.unlink(missing_ok=True)
        return len(places)

    def _place(self, room: str, digest: str, ending: str = "") -> Path:
        if not _DIGEST.fullmatch(digest):
            raise ValueError("a file is known by its SHA-256")
        return self.folder / room / digest[:2] / (digest + ending)


def _signature(place: Path) -> Signature:
    found = place.stat()
    return found.st_ino, found.st_size, found.st_mtime_ns, found.st_ctime_ns


def _write(place: Path, content: bytes) -> None:
    """Write a file whole or not at all, readable by its owner only."""
    place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=place.parent, prefix=".")
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(content)
        os.replace(name, place)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _settle(place: Path) -> None:
    """Have a file, or the names in a folder, outlast a loss of power."""
    handle = os.open(place, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _keep_decoded(place: Path, picture: Pixels) -> None:
    """Write a decoded picture; a full disk costs time later and nothing else."""
    with suppress(OSError):
        _write(place, _packed(picture))


def _packed(picture: Pixels) -> bytes:
    head = asdict(picture)
    values = head.pop("values")
    return json.dumps(head).encode() + b"\n" + gzip.compress(values, _QUICK)


def _unpacked(place: Path) -> Pixels | None:
    """Return a decoded picture that was kept; None when there is none, or a broken one."""
    try:
        head, _, values = place.read_bytes().partition(b"\n")
        return answers.pixels(json.loads(head), gzip.decompress(values))
    except (OSError, EOFError, ValueError, TypeError, KeyError):
        return None
