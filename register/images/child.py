"""The reading process, from the server's side: ask, wait, and never be drawn into its trouble.

A file is sent to it and facts come back; see dicom_child.py. When it dies over a file,
that file is refused and a new one is started for the rest. Nothing said about a file is
ever logged, and what its libraries complain about goes nowhere.
"""

import atexit
import fcntl
import json
import os
import subprocess
import sys
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from threading import Lock, Timer
from typing import IO, Any, Final, Self

from register.images import answers
from register.images.answers import Indexed, Pixels
from register.images.limits import MOST_ANSWER, MOST_BYTES, PATIENCE_S
from register.images.refusals import ImageRefused, Refused
from register.images.sniff import DICOM, NEEDED, PICTURE, ZIP, kind_of

Content = bytes | Path  # the bytes of a file, or where they stand

_PROGRAM: Final = Path(__file__).with_name("dicom_child.py")
_CHUNK: Final = 1_000_000
_MOST_HEAD: Final = 16_000_000  # bytes of JSON: 4,000 pictures of one file
_MOST_ASKED: Final = 500  # of one process; then a fresh one takes over
_PIPE: Final = 1 << 20
# One thread each: the processor's time is counted, and threads take address space.
_SURROUNDINGS: Final = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "LC_ALL": "C.UTF-8"}


class Gone(Exception):
    """The reading process ended without an answer."""


class Child:
    """One reading process, started when first asked. Not for two threads at a time."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self._asked = 0
        self.holds = ""  # the key of the file that it has open

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    def ask(
        self, job: str, content: Content | None = None, *, kind: str = "", key: str = "",
        **more: Any,
    ) -> tuple[dict[str, Any], bytes]:  # fmt: skip
        """Return (facts, values). Raises ImageRefused; the process is then ready for the next.

        `content` None means the file that it has open, see `holds`.
        """
        try:
            head, values = self._asked_for(job, content, kind=kind, **more)
        except Gone as gone:
            self.stop()
            raise ImageRefused("limits") from gone
        self.holds = key if "refused" not in head else ""
        if "refused" in head:
            raise ImageRefused(str(head["refused"]), str(head["at"])[:100])
        return head, values

    def _asked_for(
        self, job: str, content: Content | None, **more: Any
    ) -> tuple[dict[str, Any], bytes]:
        if self._asked >= _MOST_ASKED and content is not None:
            self.stop()
        process = self._started()
        self._asked += 1
        stopper = Timer(PATIENCE_S, process.kill)
        stopper.start()
        try:
            size = None if content is None else size_of(content)
            _send(process.stdin, {"job": job, "bytes": size, **more}, content)
            return _received(process.stdout)
        except (OSError, ValueError, KeyError, TypeError) as error:
            raise Gone from error
        finally:
            stopper.cancel()

    def _started(self) -> subprocess.Popen[bytes]:
        if self._process is not None and self._process.poll() is None:
            return self._process
        self.stop()
        process = self._process = subprocess.Popen(
            [sys.executable, "-I", "-B", str(_PROGRAM)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
            cwd="/", env=_SURROUNDINGS,
        )  # fmt: skip
        for pipe in (process.stdin, process.stdout):
            assert pipe is not None
            _widen(pipe)
        stopper = Timer(PATIENCE_S, process.kill)
        stopper.start()
        try:
            _received(process.stdout)
        except (OSError, ValueError, KeyError, TypeError) as error:
            self.stop()
            raise ImageRefused("reader") from error
        finally:
            stopper.cancel()
        return process

    def stop(self) -> None:
        """End the process. The next question starts another one."""
        process, self._process = self._process, None
        self._asked, self.holds = 0, ""
        if process is None:
            return
        process.kill()
        for pipe in (process.stdin, process.stdout):
            with suppress(OSError):  # what was still to be sent has nobody to read it
                if pipe is not None:
                    pipe.close()
        process.wait()


def _widen(pipe: IO[bytes]) -> None:
    """Let more stand in a pipe, so that both sides change turns less often."""
    with suppress(OSError, AttributeError):  # not allowed, or not known here
        fcntl.fcntl(pipe, fcntl.F_SETPIPE_SZ, _PIPE)


def _send(pipe: Any, question: dict[str, Any], content: Content | None) -> None:
    pipe.write(json.dumps(question).encode() + b"\n")
    if isinstance(content, bytes):
        pipe.write(content)
    elif content is not None:
        with content.open("rb") as file:
            left = question["bytes"]
            while left and (chunk := file.read(min(left, _CHUNK))):
                pipe.write(chunk)
                left -= len(chunk)
    pipe.flush()


def _received(pipe: Any) -> tuple[dict[str, Any], bytes]:
    """Return one answer. Raises ValueError, KeyError or TypeError for anything else."""
    head = json.loads(pipe.readline(_MOST_HEAD))
    size = head.pop("bytes")
    if not 0 <= size <= MOST_ANSWER:
        raise ValueError("the answer is larger than any picture")
    values = pipe.read(size)
    if len(values) != size:
        raise ValueError("the answer breaks off")
    return head, values


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


def index(files: Iterable[tuple[str, Content]]) -> Iterator[Indexed | Refused]:
    """Read the headers of many files one after another, in a process of their own.

    Each file gets an answer, in order; a bad one never costs another one its place.
    """
    with Child() as child:
        for name, content in files:
            try:
                head, _ = child.ask("index", content, kind=kind_to_read(content))
                yield answers.indexed(name, head)
            except ImageRefused as refused:
                yield Refused(name, refused.code, refused.at)
            except (TypeError, ValueError, KeyError):
                yield Refused(name, "damaged")


class Warm:
    """The reading process that stays, so that the next picture comes at once; one at a time."""

    def __init__(self) -> None:
        self.child, self.lock = Child(), Lock()

    def pixels(self, content: Content, frame: int, *, key: str) -> tuple[dict[str, Any], bytes]:
        kind = kind_to_read(content)
        with self.lock:
            sent = None if key and self.child.holds == key else content
            return self.child.ask("pixels", sent, kind=kind, key=key, frame=frame)

    def asked(self, job: str) -> dict[str, Any]:
        with self.lock:
            return self.child.ask(job)[0]

    def stop(self) -> None:
        with self.lock:
            self.child.stop()


_warm = Warm()


def pixels(content: Content, frame: int = 0, *, key: str = "") -> Pixels:
    """Return one picture of a file. Raises ImageRefused.

    `key` is what the file is known by (its SHA-256): of the file that was asked for last, a
    further picture comes without sending the file again.
    """
    head, values = _warm.pixels(content, frame, key=key)
    try:
        return answers.pixels(head, values)
    except (TypeError, ValueError, KeyError) as error:
        raise ImageRefused("damaged") from error


def asked(job: str) -> dict[str, Any]:
    """Ask something that needs no file. Raises ImageRefused."""
    return _warm.asked(job)


def stop() -> None:
    """End the process that stays; it also ends by itself with the server."""
    _warm.stop()


def _start_anew() -> None:
    """Leave the reading process to the server process that started it."""
    global _warm
    _warm = Warm()


atexit.register(stop)
os.register_at_fork(after_in_child=_start_anew)
