"""From stored values to shades of grey, in the only right order: modality, window, inversion.

The viewer in the browser does the same (`js/measure`), with a table over all stored values.

Formulas: DICOM PS3.3 C.11.1 (rescale), C.11.2.1.2 (window: LINEAR, C.11.2.1.3.2
LINEAR_EXACT, C.11.2.1.3.1 SIGMOID). Tried against golden renderings of both polarities.
"""

from collections.abc import Iterable
from math import exp
from typing import Final

BRIGHTEST: Final = 255
LINEAR: Final = "LINEAR"
EXACT: Final = "LINEAR_EXACT"
SIGMOID: Final = "SIGMOID"
FUNCTIONS: Final = (LINEAR, EXACT, SIGMOID)


def modality(stored: float, *, slope: float, intercept: float) -> float:
    """Return what a stored value means, for example Hounsfield units."""
    return stored * slope + intercept


def windowed(value: float, *, centre: float, width: float, function: str = LINEAR) -> float:
    """Return the shade from 0 to 255 of a value, not rounded. ValueError for no window.

    `width` is at least 1 for LINEAR and greater than 0 for the others.
    """
    if width <= 0 or (function == LINEAR and width < 1):
        raise ValueError(f"a window of {width:g} shows nothing")
    if function == SIGMOID:
        return BRIGHTEST / (1 + exp(max(-700.0, min(700.0, -4 * (value - centre) / width))))
    if function == EXACT:
        share = (value - centre) / width + 0.5
    elif width == 1:
        share = 0.0 if value <= centre - 0.5 else 1.0
    else:
        share = (value - (centre - 0.5)) / (width - 1) + 0.5
    return min(max(share, 0.0), 1.0) * BRIGHTEST


def shade(
    stored: float,
    *,
    slope: float,
    intercept: float,
    centre: float,
    width: float,
    inverted: bool,
    function: str = LINEAR,
) -> int:
    """Return the shade of a stored value, 0 black to 255 white. `inverted` is MONOCHROME1."""
    value = modality(stored, slope=slope, intercept=intercept)
    found = round(windowed(value, centre=centre, width=width, function=function))
    return BRIGHTEST - found if inverted else found


def table(
    stored: Iterable[int],
    *,
    slope: float,
    intercept: float,
    centre: float,
    width: float,
    inverted: bool,
    function: str = LINEAR,
) -> bytes:
    """Return the shades of many stored values."""
    return bytes(
        shade(
            one, slope=slope, intercept=intercept, centre=centre, width=width,
            inverted=inverted, function=function,
        )
        for one in stored
    )  # fmt: skip


def whole_range(low: float, high: float) -> tuple[float, float]:
    """Return (centre, width) of the LINEAR window that shows low as black and high as white."""
    return (low + high + 1) / 2, max(high - low + 1, 1.0)
