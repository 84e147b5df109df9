"""PNG and JPEG: a picture without scale and without anything about whose it is.

Turned as the camera says. What is written beside the picture is not read. A film that
was saved in colour although it is grey is taken as grey, so that its window can be moved.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, BinaryIO

import numpy as np
from PIL import Image, ImageOps

from register.images.answers import BYTES_PER_POINT
from register.images.limits import MOST_ANSWER
from register.images.reading.plain import CannotRead
from register.images.reading.values import packed
from register.images.shades import whole_range

Image.MAX_IMAGE_PIXELS = MOST_ANSWER  # holds for compressed DICOM files, which come here too


class Picture:
    """A picture that is read whole when it comes. Raises CannotRead."""

    def __init__(self, source: BinaryIO) -> None:
        try:
            with _asked_first(), Image.open(source, formats=("PNG", "JPEG")) as image:
                columns, rows = image.size
                if columns * rows * BYTES_PER_POINT[_layout(image.mode)] > MOST_ANSWER:
                    raise CannotRead("size", f"{columns:,} × {rows:,}")
                self.format = str(image.format)
                image.load()
                self.array = _array(ImageOps.exif_transpose(image))
        except (CannotRead, MemoryError):
            raise
        except Exception as error:
            cut = isinstance(error, OSError) and "truncated" in str(error)
            raise CannotRead("truncated" if cut else "damaged") from error
        self.layout = "rgb8" if self.array.ndim == 3 else str(self.array.dtype)

    def index(self) -> dict[str, Any]:
        """Return the facts, by the names of Indexed."""
        rows, columns = self.array.shape[:2]
        return {
            "kind": "picture",
            "rows": rows,
            "columns": columns,
            "layout": self.layout,
            "inverted": False,
            "frames": [{"number": 0}],
            "syntax": self.format,
            "bits": self.array.dtype.itemsize * 8,
            "photometric": "RGB" if self.layout == "rgb8" else "MONOCHROME2",
        }

    def pixels(self, frame: int) -> tuple[dict[str, Any], memoryview]:
        """Return the picture, by the names of Pixels."""
        if frame:
            raise CannotRead("frame")
        rows, columns = self.array.shape[:2]
        low, high = int(self.array.min()), int(self.array.max())
        centre, width = whole_range(low, high)
        head = {
            "rows": rows, "columns": columns, "layout": self.layout, "inverted": False,
            "slope": 1.0, "intercept": 0.0, "centre": centre, "width": width,
            "function": "LINEAR", "window": "range", "padding": None, "low": low, "high": high,
        }  # fmt: skip
        return head, packed(self.array, self.layout)


@contextmanager
def _asked_first() -> Iterator[None]:
    """Switch Pillow's bound off where our own is asked before anything is unpacked."""
    Image.MAX_IMAGE_PIXELS = None
    try:
        yield
    finally:
        Image.MAX_IMAGE_PIXELS = MOST_ANSWER


def _layout(mode: str) -> str:
    if mode.startswith("I"):
        return "uint16"
    return "uint8" if mode in ("1", "L", "LA") else "rgb8"


def _array(image: Image.Image) -> Any:
    match _layout(image.mode):
        case "uint16":
            return np.clip(np.asarray(image), 0, 65_535).astype("uint16")
        case "uint8":
            return np.asarray(image.convert("L"))
    array = np.asarray(image.convert("RGB"))
    is_grey = (array[..., 0] == array[..., 1]).all() and (array[..., 1] == array[..., 2]).all()
    return np.ascontiguousarray(array[..., 0]) if is_grey else array
