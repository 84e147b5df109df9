"""Reads pictures in a process of its own, under limits that the kernel keeps.

Run as a file by `child.py`. It has no database, cannot write files, and dies alone. It
first says {"ready": true}. Then, again and again,

    in:   a line of JSON {"job", "kind", …} with "path", where a stored file lies, or with
          "bytes", followed by so many bytes of a file
    out:  a line of JSON {…, "values": n}, n bytes of values standing in the memory that
          both share, or {"refused": code, "at": where}

Jobs: index (the header), pixels (the picture of number "frame"), decoders (which ways of
storing pictures can be read). An end without an answer means that a limit stopped it.
"""

import json
import logging
import mmap
import os
import resource
import sys
import warnings
from io import BytesIO
from pathlib import Path
from typing import Any, BinaryIO

if __name__ == "__main__":  # isolated mode knows neither this folder nor the project's
    sys.path.append(str(Path(__file__).resolve().parents[2]))

from register.images.limits import MEMORY, MOST_ANSWER, OPEN_FILES, SECONDS, SECONDS_IN_ALL
from register.images.reading.plain import CannotRead

Answer = tuple[dict[str, Any], bytes | memoryview]


def limit() -> None:
    """Bound memory and time of this process; forbid writing files, and dumps of memory."""
    for what, most in (
        (resource.RLIMIT_AS, MEMORY),
        (resource.RLIMIT_CPU, SECONDS_IN_ALL),
        (resource.RLIMIT_FSIZE, 0),
        (resource.RLIMIT_CORE, 0),
        (resource.RLIMIT_NOFILE, OPEN_FILES),
    ):
        resource.setrlimit(what, (most, most))


def renew_time() -> None:
    """Allow the next file its own seconds of processor time."""
    spent = resource.getrusage(resource.RUSAGE_SELF)
    most = int(spent.ru_utime + spent.ru_stime) + 1 + SECONDS
    resource.setrlimit(resource.RLIMIT_CPU, (min(most, SECONDS_IN_ALL), SECONDS_IN_ALL))


def private_output() -> BinaryIO:
    """Return the way out, and send to nowhere what a library prints on the usual one."""
    out = os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    return out


class Reader:
    """Answers questions about files. The last stored file stays open for its next picture."""

    def __init__(self) -> None:
        # Here, not above: the libraries are loaded under the limits.
        from register.images.reading import dicom, pictures, selftest

        self._kinds: dict[str, Any] = {"dicom": dicom.DicomImage, "picture": pictures.Picture}
        self._decoders = selftest.decoders
        self._open: tuple[str, Any] = ("", None)

    def answer(self, question: dict[str, Any], content: bytes) -> Answer:
        """Return the facts and values that were asked for. Raises CannotRead, and anything."""
        match question["job"]:
            case "index":
                return self._image(question, content).index(), b""
            case "pixels":
                answer: Answer = self._image(question, content).pixels(question["frame"])
                return answer
            case _:
                return {"decoders": self._decoders()}, b""

    def _image(self, question: dict[str, Any], content: bytes) -> Any:
        kind, path = self._kinds[question["kind"]], question.get("path", "")
        if not path:
            return kind(BytesIO(content))
        if self._open[0] != path:
            self._open = ("", None)  # the former goes before the next one comes
            self._open = (path, kind(Path(path).open("rb")))  # noqa: SIM115
        return self._open[1]


def answered(reader: Reader, question: dict[str, Any], content: bytes) -> Answer:
    """Ask, and turn every trouble into a code: a hostile file makes anything of a library."""
    try:
        return reader.answer(question, content)
    except CannotRead as refused:
        return {"refused": refused.code, "at": refused.at}, b""
    except MemoryError:
        return {"refused": "limits", "at": ""}, b""
    except RecursionError:
        return {"refused": "deep", "at": ""}, b""
    except Exception:
        return {"refused": "damaged", "at": ""}, b""


def main() -> None:
    """Answer questions until there are no more."""
    out = private_output()
    shared = mmap.mmap(int(sys.argv[1]), MOST_ANSWER)
    limit()
    renew_time()
    warnings.simplefilter("ignore")
    logging.disable()  # the library's log quotes values of the file
    reader = Reader()
    say(out, {"ready": True})
    while line := sys.stdin.buffer.readline():
        question = json.loads(line)
        content = sys.stdin.buffer.read(question.pop("bytes", 0))
        renew_time()
        head, values = answered(reader, question, content)
        shared[: len(values)] = values
        say(out, head | {"values": len(values)})
        del content, values


def say(out: BinaryIO, head: dict[str, Any]) -> None:
    """Send one line."""
    line = json.dumps(head, separators=(",", ":"), allow_nan=False)
    out.write(line.encode() + b"\n")
    out.flush()


if __name__ == "__main__":
    main()
