"""Reads pictures in a process of its own, under limits that the kernel keeps.

Run as a file by `child.py`. It has no database, cannot write files, and dies alone. It
first says {"ready": true}. Then, again and again,

    in:   a line of JSON {"job", "kind", "bytes", …}, then so many bytes of the file
          (bytes null: the file that came last)
    out:  a line of JSON {…, "bytes"}, then so many bytes of values,
          or {"refused": code, "at": where, "bytes": 0}

Jobs: index (the header), pixels (the picture of number "frame"), decoders (which
compressions can be read). An end without an answer means that a limit stopped it.
"""

import json
import logging
import os
import resource
import sys
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any, BinaryIO

if __name__ == "__main__":  # isolated mode knows neither this folder nor the project's
    sys.path.append(str(Path(__file__).resolve().parents[2]))

from register.images.limits import MEMORY, OPEN_FILES, SECONDS, SECONDS_IN_ALL
from register.images.reading.plain import CannotRead

Answer = tuple[dict[str, Any], bytes | memoryview]
Job = Callable[[Any, dict[str, Any]], Answer]


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


def jobs() -> dict[str, Job]:
    """Return what can be asked for. Loads the libraries, so it is called under the limits."""
    from register.images.reading import dicom, pictures, selftest

    def index(image: Any, question: dict[str, Any]) -> Answer:
        return image.index(), b""

    def pixels(image: Any, question: dict[str, Any]) -> Answer:
        answer: Answer = image.pixels(question["frame"])
        return answer

    def decoders(image: Any, question: dict[str, Any]) -> Answer:
        return {"decoders": selftest.decoders()}, b""

    kinds: dict[str, Any] = {"dicom": dicom.DicomImage, "picture": pictures.Picture, "": None}
    last: list[Any] = [None]

    def with_image(job: Job) -> Job:
        def run(content: Any, question: dict[str, Any]) -> Answer:
            if content is not None:
                last[0] = None  # the former goes before the next one comes
                last[0] = kinds[question["kind"]](content)
            if last[0] is None:
                raise CannotRead("reader")
            return job(last[0], question)

        return run

    return {"index": with_image(index), "pixels": with_image(pixels), "decoders": decoders}


def answered(job: Job, content: Any, question: dict[str, Any]) -> Answer:
    """Do a job, and turn every trouble into a code: a hostile file makes anything of a library."""
    try:
        return job(content, question)
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
    limit()
    renew_time()
    warnings.simplefilter("ignore")
    logging.disable()  # the library's log quotes values of the file
    known = jobs()
    say(out, {"ready": True}, b"")
    source = sys.stdin.buffer
    while line := source.readline():
        question = json.loads(line)
        size = question["bytes"]
        content = None if size is None else source.read(size)
        renew_time()
        head, values = answered(known[question["job"]], content, question)
        content = None
        say(out, head, values)


def say(out: BinaryIO, head: dict[str, Any], values: bytes | memoryview) -> None:
    """Send one answer."""
    head = head | {"bytes": len(values)}
    out.write(json.dumps(head, separators=(",", ":"), allow_nan=False).encode() + b"\n")
    out.write(values)
    out.flush()


if __name__ == "__main__":
    main()
