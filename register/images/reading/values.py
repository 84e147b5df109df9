"""Decoded values as they are sent on: at most 16 bits for grey, 8 for each colour.

A window needs values as they were stored; only what has more bits is scaled, and then
slope and intercept are changed so that each value still means the same within the step.
"""

from typing import Any, Final

import numpy as np
from pydicom.pixels import apply_color_lut, apply_modality_lut

from register.images.reading.plain import CannotRead, whole
from register.images.shades import whole_range

_LEVELS: Final = 65_535  # steps of 16 bits
_LOWEST: Final = -32_768


def layout_of(image: Any) -> str:
    """Return how the values of a file are sent on, told from its header alone."""
    if image.samples == 3 or image.photometric == "PALETTE COLOR":
        return "rgb8"
    if depth := _table_depth(image.header):
        return "uint8" if depth <= 8 else "uint16"
    if image.bits > 16 or image.signed:
        return "int16"
    return "uint8" if image.bits <= 8 else "uint16"


def _table_depth(header: Any) -> int:
    """Return the bits of the table that gives stored values their meaning; 0 without one."""
    if not (tables := header.get("ModalityLUTSequence")):
        return 0
    described = tables[0].get("LUTDescriptor") or [0, 0, 0]
    depth = whole(described[2]) if len(described) == 3 else None
    if depth not in (8, 16):
        raise CannotRead("bits", "a table of another depth")
    return depth


def picture(image: Any, array: Any, meaning: dict[str, Any]) -> tuple[dict[str, Any], memoryview]:
    """Return (head, values) of one decoded picture, by the names of Pixels."""
    padding = None
    if image.layout == "rgb8":
        array, meaning = _rgb(image, array), meaning | {"slope": 1.0, "intercept": 0.0}
    elif _table_depth(image.header):
        # The table's own values are the meaning.
        array = apply_modality_lut(array, image.header)
        meaning = meaning | {"slope": 1.0, "intercept": 0.0}
    elif image.bits > 16:
        array, meaning = scaled(array, meaning)
    else:
        padding = _padding(image.header)
    low, high = _range(array, padding)
    head = {
        "rows": image.rows,
        "columns": image.columns,
        "layout": image.layout,
        "inverted": image.photometric == "MONOCHROME1",
        "padding": padding,
        "low": low,
        "high": high,
        **meaning,
        **_window(image.header, meaning, low, high),
    }
    return head, packed(array, image.layout)


def packed(array: Any, layout: str) -> memoryview:
    """Return the values as bytes of a layout, little endian; refuse those that do not fit."""
    kind = np.dtype({"uint8": "u1", "rgb8": "u1", "uint16": "<u2", "int16": "<i2"}[layout])
    if array.dtype != kind:
        known = np.iinfo(kind)
        if array.size and (array.min() < known.min or array.max() > known.max):
            raise CannotRead("damaged")
        array = array.astype(kind)
    return np.ascontiguousarray(array).data.cast("B")


def _rgb(image: Any, array: Any) -> Any:
    """Return three colours of 8 bits for each point."""
    if image.photometric == "PALETTE COLOR":
        array = apply_color_lut(array, image.header)[..., :3]
        depth = array.dtype.itemsize * 8
    else:
        depth = image.bits
    return (array >> (depth - 8)).astype("u1") if depth > 8 else array.astype("u1", copy=False)


def scaled(array: Any, meaning: dict[str, Any]) -> tuple[Any, dict[str, Any]]:
    """Return values of more than 16 bits in 16, and the slope and intercept that go with them."""
    low, high = float(array.min()), float(array.max())
    step = (high - low) / _LEVELS or 1.0
    small = np.rint((array - low) / step) + _LOWEST
    slope, intercept = meaning["slope"], meaning["intercept"]
    return small.astype("<i2"), meaning | {
        "slope": step * slope,
        "intercept": (low - _LOWEST * step) * slope + intercept,
    }


def _padding(header: Any) -> list[int] | None:
    """Return the lowest and the highest stored value that mean “outside the picture”."""
    value = whole(header.get("PixelPaddingValue"))
    limit = whole(header.get("PixelPaddingRangeLimit"))
    if value is None:
        return None
    return sorted((value, value if limit is None else limit))


def _range(array: Any, padding: list[int] | None) -> tuple[int, int]:
    """Return the lowest and highest value inside the picture."""
    if padding is not None:
        inside = array[(array < padding[0]) | (array > padding[1])]
        array = inside if inside.size else array
    return int(array.min()), int(array.max())


def _window(header: Any, meaning: dict[str, Any], low: int, high: int) -> dict[str, Any]:
    """Return the file's window, otherwise one over the whole range, and which of them it is."""
    if meaning["centre"] is not None:
        return {"window": "file"}
    ends = sorted(value * meaning["slope"] + meaning["intercept"] for value in (low, high))
    centre, width = whole_range(*ends)
    told = "table" if header.get("VOILUTSequence") else "range"
    return {"centre": centre, "width": width, "function": "LINEAR", "window": told}
