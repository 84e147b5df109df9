"""The reading process, from the server's side: ask, wait, and never be drawn into its trouble.

A file is sent to it and facts come back; see dicom_child.py. When it dies over a file,
that file is refused and a new one is started for the rest. Nothing said about a file is
ever logged, and what its libraries complain about goes nowhere.
"""

import atexit
import json
import mmap
import os
import select
import subprocess
import sys
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from threading import Lock, Thread
from time import monotonic
from typing import Any, Final, Self

from register.images import answers
from register.images.answers import Indexed, Pixels
from register.images.limits import MOST_ANSWER, MOST_BYTES, PATIENCE_S
from register.images.refusals import WORDS, ImageRefused, Refused
from register.images.sniff import DICOM, NEEDED, PICTURE, ZIP, kind_of

Content = bytes | Path  # the bytes of a file, or where they stand

_PROGRAM: Final = Path(__file__).with_name("dicom_child.py")
_MOST_HEAD: Final = 16_000_000  # bytes of JSON: 4,000 pictures of one file
_MOST_ASKED: Final = 500  # of one process; then a fresh one takes over
_CHUNK: Final = 1 << 16
_SHARED_KEPT: Final = 24_000_000  # bytes of a film; what a larger one took is given back
# One thread each: the processor's time is counted, and threads take address space.
_SURROUNDINGS: Final = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "LC_ALL": "C.UTF-8"}


class Gone(Exception):
    """The reading process ended without an answer."""


class Child:
    """One reading process, started when first asked. Not for two threads at a time."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self._shared: mmap.mmap | None = None
        self._asked = 0

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    def ask(
        self, job: str, content: Content | None = None, **more: Any
    ) -> tuple[dict[str, Any], bytes]:
        """Return (facts, values). Raises ImageRefused; the next question is answered again."""
        try:
            head, values = self._asked_for({"job": job, **more}, content)
        except Gone as gone:
            self.stop()
            raise ImageRefused("limits") from gone
        if "refused" in head:
            code = head["refused"] if head["refused"] in WORDS else "damaged"
            raise ImageRefused(code, str(head.get("at", ""))[:100])
        return head, values

    def start(self) -> None:
        """Start the process where there is none, or one that has done its share.

        Raises ImageRefused when none can be started.
        """
        running = self._process is not None and self._process.poll() is None
        if running and self._asked < _MOST_ASKED:
            return
        self.stop()
        handle = os.memfd_create("picture")
        try:
            os.ftruncate(handle, MOST_ANSWER)
            self._shared = mmap.mmap(handle, MOST_ANSWER)
            self._process = subprocess.Popen(
                [sys.executable, "-I", "-B", str(_PROGRAM), str(handle)],
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
                bufsize=0, pass_fds=(handle,), cwd="/", env=_SURROUNDINGS,
            )  # fmt: skip
        finally:
            os.close(handle)
        assert self._process.stdin is not None
        os.set_blocking(self._process.stdin.fileno(), False)
        try:
            _received(self._process.stdout, monotonic() + PATIENCE_S)
        except Gone as gone:
            self.stop()
            raise ImageRefused("reader") from gone

    def _asked_for(
        self, question: dict[str, Any], content: Content | None
    ) -> tuple[dict[str, Any], bytes]:
        self.start()
        self._asked += 1
        process = self._process
        assert process is not None
        if isinstance(content, Path):
            question = question | {"path": str(content)}
        elif content is not None:
            question = question | {"bytes": len(content)}
        until = monotonic() + PATIENCE_S
        _send(process.stdin, json.dumps(question).encode() + b"\n", until)
        if isinstance(content, bytes):
            _send(process.stdin, content, until)
        head = _received(process.stdout, until)
        return head, self._values(head)

    def _values(self, head: dict[str, Any]) -> bytes:
        size = head.pop("values", None)
        if not isinstance(size, int) or not 0 <= size <= MOST_ANSWER or self._shared is None:
            raise Gone
        values = self._shared[:size]
        if size > _SHARED_KEPT:
            self._shared.madvise(mmap.MADV_REMOVE)  # give the memory back
        return values

    def stop(self) -> None:
        """End the process. The next question starts another one."""
        process, self._process = self._process, None
        self._asked = 0
        if self._shared is not None:
            self._shared.close()
            self._shared = None
        if process is None:
            return
        process.kill()
        for pipe in (process.stdin, process.stdout):
            with suppress(OSError):  # what was still to be sent has nobody to read it
                if pipe is not None:
                    pipe.close()
        process.wait()


def _ready(pipe: Any, until: float) -> int:
    """Return the number of a pipe once something can be done with it. Raises Gone when too late."""
    number: int = pipe.fileno()
    waiting = select.poll()
    waiting.register(number, select.POLLOUT if pipe.writable() else select.POLLIN)
    if not waiting.poll(max(until - monotonic(), 0) * 1000):
        raise Gone
    return number


def _send(pipe: Any, content: bytes, until: float) -> None:
    left = memoryview(content)
    try:
        while left:
            left = left[os.write(_ready(pipe, until), left) :]
    except OSError as error:
        raise Gone from error


def _received(pipe: Any, until: float) -> dict[str, Any]:
    """Return one answer: a line that is an object. Raises Gone for anything else."""
    line = bytearray()
    while not line.endswith(b"\n"):
        part = os.read(_ready(pipe, until), _CHUNK)
        line += part
        if not part or len(line) > _MOST_HEAD:
            raise Gone
    try:
        head = json.loads(line)
    except (ValueError, RecursionError) as error:
        raise Gone from error
    if not isinstance(head, dict):
        raise Gone
    return head


def size_of(content: Content) -> int:
    """Return how many bytes a file has."""
    return len(content) if isinstance(content, bytes) else content.stat().st_size


def beginning(content: Content) -> bytes:
    """Return the first bytes of a file."""
    if isinstance(content, bytes):
        return content[:NEEDED]
    with content.open("rb") as file:
        return file.read(NEEDED)


def kind_to_read(content: Content) -> str:
    """Return the kind of a file that can be read. Raises ImageRefused for every other."""
    if size_of(content) > MOST_BYTES:
        raise ImageRefused("large")
    kind = kind_of(beginning(content))
    if kind not in (DICOM, PICTURE):
        raise ImageRefused("inside" if kind == ZIP else kind)
    return kind


# --- what the rest of the register asks -----------------------------------------------


class Warm:
    """A reading process that stays, so that the next answer comes at once; one at a time."""

    def __init__(self) -> None:
        self.child, self.lock = Child(), Lock()

    def ask(self, job: str, *rest: Any, **more: Any) -> tuple[dict[str, Any], bytes]:
        """Ask as Child.ask does, from any thread."""
        with self.lock:
            return self.child.ask(job, *rest, **more)

    def start(self) -> None:
        """Start it before it is needed; it takes about as long as a person needs to click."""
        with self.lock, suppress(ImageRefused):
            self.child.start()

    def stop(self) -> None:
        """End it; it also ends by itself with the server."""
        with self.lock:
            self.child.stop()


# Two, so that a file that comes in and takes its time keeps nobody from looking.
_incoming, _viewing = Warm(), Warm()


def index(files: Iterable[tuple[str, Content]]) -> Iterator[Indexed | Refused]:
    """Read the headers of many files one after another.

    Each file gets an answer, in order; a bad one never costs another one its place.
    """
    for name, content in files:
        try:
            head, _ = _incoming.ask("index", content, kind=kind_to_read(content))
            yield answers.indexed(name, head)
        except ImageRefused as refused:
            yield Refused(name, refused.code, refused.at)
        except (TypeError, ValueError, KeyError):
            yield Refused(name, "damaged")


def pixels(place: Path, frame: int = 0) -> Pixels:
    """Return one picture of the file that lies at `place`. Raises ImageRefused."""
    head, values = _viewing.ask("pixels", place, kind=kind_to_read(place), frame=frame)
    try:
        return answers.pixels(head, values)
    except (TypeError, ValueError, KeyError) as error:
        raise ImageRefused("damaged") from error


def asked(job: str) -> dict[str, Any]:
    """Ask something that needs no file. Raises ImageRefused."""
    return _incoming.ask(job)[0]


def start() -> None:
    """Start both processes, where they are not running."""
    _incoming.start()
    _viewing.start()


def warm_up() -> None:
    """Have the process for viewing started meanwhile, by a page that will ask for pictures."""
    Thread(target=_viewing.start, daemon=True).start()


def stop() -> None:
    """End the processes that stay."""
    _incoming.stop()
    _viewing.stop()


def _start_anew() -> None:
    """Leave the reading processes to the server process that started them."""
    global _incoming, _viewing
    _incoming, _viewing = Warm(), Warm()


atexit.register(stop)
os.register_at_fork(after_in_child=_start_anew)
