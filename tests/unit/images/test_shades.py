"""Modality, then window, then inversion; golden renderings of both polarities."""

import numpy as np
import pytest

from register.images import child
from register.images.shades import EXACT, SIGMOID, shade, table, whole_range, windowed
from tests.hostile_images import saved
from tests.phantoms import dataset

# Eight stored values under slope 2, intercept -1000 (so -1000 to 6000 in steps of 1000),
# and what the window of centre 1000 and width 3001 must make of them, worked out by hand
# from PS3.3 C.11.2.1.2: black up to 999.5 - 1500, white above 999.5 + 1500.
STORED = [0, 500, 1000, 1500, 2000, 2500, 3000, 3500]
GOLDEN = {
    "MONOCHROME2": [0, 43, 128, 213, 255, 255, 255, 255],
    "MONOCHROME1": [255, 212, 127, 42, 0, 0, 0, 0],
}


@pytest.mark.parametrize("photometric", GOLDEN)
@pytest.mark.parametrize("kind", ["u2", "i2"])
def test_golden_renderings(tmp_path, photometric, kind):
    header = dataset(
        np.array([STORED], kind), photometric=photometric, slope=2.0, intercept=-1000.0,
        WindowCenter=1000, WindowWidth=3001,
    )  # fmt: skip
    (tmp_path / "a").write_bytes(saved(header))
    found = child.pixels(tmp_path / "a")
    stored = np.frombuffer(found.values, f"<{kind}").tolist()
    assert stored == STORED
    shades = table(
        stored, slope=found.slope, intercept=found.intercept, centre=found.centre,
        width=found.width, inverted=found.inverted, function=found.function,
    )  # fmt: skip
    assert list(shades) == GOLDEN[photometric]


def test_the_bounds_of_a_window_are_those_of_the_standard():
    """C.11.2.1.2.1, its note: centre 2048 and width 4096 take 0 to 0 and 4095 to the whitest."""
    assert windowed(0, centre=2048, width=4096) == 0
    assert windowed(1, centre=2048, width=4096) == pytest.approx(255 / 4095)
    assert windowed(4095, centre=2048, width=4096) == 255
    assert windowed(4094, centre=2048, width=4096) == pytest.approx(255 * 4094 / 4095)
    # Width 1 is a threshold.
    assert [windowed(value, centre=3, width=1) for value in (2, 2.5, 2.6, 3)] == [0, 0, 255, 255]
    assert windowed(0, centre=0, width=100, function=EXACT) == 127.5
    assert windowed(0, centre=0, width=100, function=SIGMOID) == 127.5


def test_inversion_comes_last_and_is_the_mirror():
    for stored in range(0, 256, 5):
        kind = {"slope": -1.5, "intercept": 20.0, "centre": -100.0, "width": 200.0}
        assert shade(stored, **kind, inverted=True) == 255 - shade(stored, **kind, inverted=False)


def test_the_whole_range_runs_from_black_to_white():
    for low, high in ((0, 4095), (-1024, 3071), (7, 7), (-0.5, 0.25)):
        centre, width = whole_range(low, high)
        assert windowed(low, centre=centre, width=width) == 0
        if high > low:
            assert windowed(high, centre=centre, width=width) == 255


@pytest.mark.parametrize("width", [0, -1, 0.5])
def test_a_window_that_shows_nothing_is_refused(width):
    with pytest.raises(ValueError, match="shows nothing"):
        windowed(1, centre=1, width=width)
