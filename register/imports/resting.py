"""Letting Python's search for unreachable cycles rest while a large file is worked on."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock

_LOCK = Lock()
_AT_WORK: list[bool] = []  # for each who asked: whether the search was on before


@contextmanager
def collector_resting() -> Iterator[None]:
    """Do not look for cycles meanwhile; in all threads, until the last who asked is done.

    The rows of a file all live to the end, and looking through them again and again takes
    a third of the time. Everything else is freed at once, as always.
    """
    with _LOCK:
        _AT_WORK.append(gc.isenabled())
        gc.disable()
    try:
        yield
    finally:
        with _LOCK:
            was_on = _AT_WORK.pop()
            if was_on and not _AT_WORK:
                gc.enable()
