"""How long the first picture of a film takes, and a series of 300 slices until it is in.

The film is 2,000 × 2,500 points of 16 bits. Its time through the store (looked at again,
decoded in the reading process, handed over) is compared with what the bare library needs
for the same file, in this process. Both are measured in turns, since machines have moods.
"""

import threading
import time
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any, Final
from zipfile import ZIP_STORED, ZipFile

import numpy as np

from register.images import child
from register.images.answers import Indexed
from register.images.inbox import Sent, files_in
from register.images.store import Store

TURNS: Final = 15
SLICES: Final = 300
ROWS: Final = 2_500
COLUMNS: Final = 2_000


def run(*, say: Callable[[str], None]) -> None:
    """Tell the figures: best and middle of the turns in ms, and their ratios."""
    with TemporaryDirectory() as folder:
        store = Store(Path(folder))
        say(f"film of {COLUMNS:,} × {ROWS:,} points: ms, best (median) of {TURNS}")
        for name, content in films().items():
            say(f"{name:<24} {film(store, content)}")
        say(series(store))
    child.stop()


def film(store: Store, content: bytes) -> str:
    """Return the figures of one film."""
    import pydicom

    digest = store.keep(content)
    place = next((store.folder / "originals").rglob(digest))
    child.stop()
    cold = took(lambda: store.pixels(digest))
    bare, ours = [], []
    for _ in range(TURNS):
        wait_for_packing()
        store.forget_decoded()
        bare.append(took(lambda: pydicom.dcmread(place).pixel_array))
        ours.append(took(lambda: store.pixels(digest)))
    return (
        f"{len(content) / 1e6:5.1f} MB  bare {_ms(bare)}  here {_ms(ours)}  "
        f"ratio {min(ours) / min(bare):.2f} ({median(ours) / median(bare):.2f})  "
        f"first of all {cold * 1000:.0f}, with the start of the process"
    )


def series(store: Store) -> str:
    """Return how long a series takes from a ZIP to its headers, and with keeping its files."""
    archive = BytesIO(packed_series())
    child.start()
    indexed = took(lambda: list(child.index(_files(archive))))

    def all_of_it() -> None:
        with store.several() as keep:
            for one in _files(archive):
                (header,) = child.index([one])
                assert isinstance(header, Indexed)
                keep(one[1])

    kept = took(all_of_it)
    return (
        f"{SLICES} slices of 512 × 512, {len(archive.getvalue()) / 1e6:.0f} MB as a ZIP: "
        f"indexed in {indexed:.1f} s, indexed and stored in {kept:.1f} s"
    )


def _files(archive: BytesIO) -> Any:
    for one in files_in([("series.zip", archive)]):
        assert isinstance(one, Sent)
        yield one.name, one.content


def films() -> dict[str, bytes]:
    """Return the same film in the ways in which films are stored."""
    from PIL import Image
    from pydicom import uid as uids
    from pydicom.encaps import encapsulate

    from tests.phantoms import dataset

    grey = _grey()
    made = {
        "plain": uids.ExplicitVRLittleEndian,
        "run lengths": uids.RLELossless,
        "JPEG-LS, lossless": uids.JPEGLSLossless,
    }
    found = {name: dataset(grey, modality="DX", syntax=syntax) for name, syntax in made.items()}
    packed = BytesIO()
    Image.fromarray(grey).save(packed, "JPEG2000", no_jp2=True)
    last = dataset(grey, modality="DX")
    last.PixelData = encapsulate([packed.getvalue()])
    last["PixelData"].VR, last["PixelData"].is_undefined_length = "OB", True
    last.file_meta.TransferSyntaxUID = uids.JPEG2000Lossless
    found["JPEG 2000, lossless"] = last
    return {name: _bytes(one) for name, one in found.items()}


def packed_series() -> bytes:
    """Return a CT series as a ZIP."""
    from tests.phantoms import dataset

    slice_ = _grey()[:512, :512].copy()
    out = BytesIO()
    with ZipFile(out, "w", ZIP_STORED) as archive:
        for number in range(SLICES):
            made = dataset(
                slice_, spacing=(0.5, 0.5), slope=1.0, intercept=-1024.0, InstanceNumber=number,
                ImagePositionPatient=[0, 0, number], ImageOrientationPatient=[1, 0, 0, 0, 1, 0],
            )  # fmt: skip
            archive.writestr(f"{number}.dcm", _bytes(made))
    return out.getvalue()


def _grey() -> Any:
    """Return shades that pack about as well as a film does: a slow change and some noise."""
    y, x = np.mgrid[0:ROWS, 0:COLUMNS]
    noise = np.random.default_rng(20270307).normal(0, 60, (ROWS, COLUMNS))
    return (8_000 + 5_000 * np.sin(x / 150) * np.cos(y / 200) + noise).astype("u2")


def _bytes(header: Any) -> bytes:
    out = BytesIO()
    header.save_as(out, enforce_file_format=True)
    return out.getvalue()


def took(act: Callable[[], object]) -> float:
    """Return how many seconds something takes by the clock."""
    started = time.perf_counter()
    act()
    return time.perf_counter() - started


def wait_for_packing() -> None:
    """Let what is kept for the next look be written before it is measured again."""
    for thread in threading.enumerate():
        if thread is not threading.current_thread() and not thread.daemon:
            thread.join()


def _ms(times: list[float]) -> str:
    return f"{min(times) * 1000:5.0f} ({median(times) * 1000:.0f})"
