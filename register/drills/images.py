"""Files that try to fill memory or time of whoever opens them: what the server itself pays.

Each file goes through all that a file goes through: taken apart, looked at, stored,
decoded. Told is how much the server grew by it and how long it took. The files stand in
the tests (hostile_images.py), each with the outcome that it must have; real files with
bytes changed by lot come on top, and each of them must get an answer.
"""

import random
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from register.database.state import BASE
from register.images import child
from register.images.inbox import files_in
from register.images.refusals import ImageRefused, Refused
from register.images.store import Store

RUNS: Final = 300  # damaged copies of real files
MOST_GROWTH_MB: Final = 200
MOST_SECONDS: Final = 60


@dataclass(frozen=True)
class Outcome:
    """What became of one file. `codes` are its refusals, and “read” for what could be shown."""

    codes: str
    grown_mb: float
    seconds: float


def run(*, runs: int, seed: int, say: Callable[[str], None]) -> bool:
    """Send every file and tell the table; True when each had its outcome and cost little."""
    tests = import_module("tests.hostile_images")
    cases = (*tests.HOSTILE, *tests.LARGE)
    child.start()
    with TemporaryDirectory() as folder:
        place = Path(folder)
        write_all(place)
        found = [outcome_of(place / str(n), Store(place / "kept")) for n in range(len(cases))]
        by_lot = [
            outcome_of(damaged(place, random.Random(seed + n)), Store(place / "kept"))
            for n in range(runs)
        ]
    wrong = 0
    for case, one in zip(cases, found, strict=True):
        is_well = one.codes == (case.code or "read")
        wrong += not is_well
        ending = "" if is_well else f", NOT {case.code}"
        say(f"{case.name:<40} {one.grown_mb:6.1f} MB {one.seconds:6.2f} s  {one.codes}{ending}")
    shown = sum(one.codes == "read" for one in by_lot)
    silent = sum(one.codes in ("", "reader") for one in by_lot)
    say(f"{runs} damaged copies of real files: {shown} shown, without an answer {silent}")
    found += by_lot
    most, slowest = max(one.grown_mb for one in found), max(one.seconds for one in found)
    say(
        f"{len(found)} files, otherwise than expected {wrong}; the server grew by at most "
        f"{most:.0f} MB, the slowest file took {slowest:.1f} s."
    )
    return not wrong and not silent and most < MOST_GROWTH_MB and slowest < MOST_SECONDS


def write_all(folder: Path) -> None:
    """Write the files, in a process of its own: making them takes more memory than reading."""
    subprocess.run([sys.executable, "-m", "tests.hostile_images", folder], cwd=BASE, check=True)


def damaged(folder: Path, lot: random.Random) -> Path:
    """Write a copy of a real file with some bytes changed, sometimes cut off."""
    content = bytearray(lot.choice(real_files()).read_bytes())
    for _ in range(lot.choice((1, 3, 20))):
        reach = lot.choice((len(content), min(len(content), 3_000)))
        content[lot.randrange(reach)] = lot.randrange(256)
    if lot.random() < 0.2:
        del content[lot.randrange(len(content)) :]
    file = folder / "damaged"
    file.write_bytes(content)
    return file


@cache
def real_files() -> tuple[Path, ...]:
    """Return the smaller ones of the files that the DICOM library brings along."""
    found = find_spec("pydicom")
    assert found is not None
    assert found.origin is not None
    data = Path(found.origin).parent / "data" / "test_files"
    return tuple(one for one in sorted(data.glob("*.dcm")) if one.stat().st_size < 300_000)


def outcome_of(file: Path, store: Store) -> Outcome:
    """Send one file, and measure this process meanwhile."""
    before, started = _begin(), time.monotonic()
    codes = sorted(set(_codes(file, store)))
    seconds = time.monotonic() - started
    return Outcome(", ".join(codes), (_peak() - before) / 1e6, seconds)


def _codes(file: Path, store: Store) -> Iterator[str]:
    with file.open("rb") as source:
        for one in files_in([(file.name, source)]):
            if isinstance(one, Refused):
                yield one.code
                continue
            (header,) = child.index([(one.name, one.content)])
            if isinstance(header, Refused):
                yield header.code
                continue
            digest = store.keep(one.content)
            del one
            try:
                store.pixels(digest)
                yield "read"
            except ImageRefused as refused:
                yield refused.code


def _begin() -> int:
    """Forget the highest memory so far, and return what is in use now, in bytes."""
    Path("/proc/self/clear_refs").write_text("5")
    return _status("VmRSS")


def _peak() -> int:
    """Return the highest memory since, in bytes."""
    return _status("VmHWM")


def _status(name: str) -> int:
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith(name):
            return int(line.split()[1]) * 1024
    raise LookupError(name)
