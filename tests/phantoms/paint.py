"""A phantom as a picture: anti-aliased shapes in an array of numbers."""

import numpy as np

from tests.phantoms.geometry import Phantom

SOFT = 0.3
FINE = 4  # each pixel is asked at 4 × 4 places


def paint(
    phantom: Phantom,
    *,
    rows: int,
    columns: int,
    spacing: tuple[float, float] = (1.0, 1.0),
    bits: int = 12,
    signed: bool = False,
    photometric: str = "MONOCHROME2",
    noise: float = 0.0,
    seed: int = 1,
) -> np.ndarray:
    """Return rows × columns of whole numbers of `bits` bits.

    MONOCHROME1 is stored the other way round, so that it looks the same.
    `noise` is its standard deviation as a share of the full range.
    """
    picture = np.full((rows, columns), SOFT)
    row_mm, column_mm = spacing
    for grey, shape in phantom.shapes:
        corners = np.array(shape) / (column_mm, row_mm)
        _fill(picture, corners, grey)
    if noise:
        picture += np.random.default_rng(seed).normal(0, noise, picture.shape)
    highest = 2**bits - 1
    whole = np.rint(np.clip(picture, 0, 1) * highest).astype(np.int32)
    if photometric == "MONOCHROME1":
        whole = highest - whole
    if signed:
        whole -= 2 ** (bits - 1)
    size = 8 if bits <= 8 else 16
    return whole.astype(f"{'int' if signed else 'uint'}{size}")


def _fill(picture: np.ndarray, corners: np.ndarray, grey: float) -> None:
    """Mix a shape into the picture, by the share of each pixel that it covers."""
    low = np.maximum(np.floor(corners.min(axis=0)).astype(int) - 1, 0)
    high = np.minimum(np.ceil(corners.max(axis=0)).astype(int) + 2, picture.shape[::-1])
    wide, tall = high - low
    if wide <= 0 or tall <= 0:
        return
    offsets = (np.arange(FINE) + 0.5) / FINE - 0.5
    x = (low[0] + np.arange(wide)[:, None] + offsets).ravel()
    y = (low[1] + np.arange(tall)[:, None] + offsets).ravel()
    inside = _inside(x[None, :], y[:, None], corners)
    cover = inside.reshape(tall, FINE, wide, FINE).mean(axis=(1, 3))
    part = picture[low[1] : high[1], low[0] : high[0]]
    part += cover * (grey - part)


def _inside(x: np.ndarray, y: np.ndarray, corners: np.ndarray) -> np.ndarray:
    """Whether places lie inside a polygon: an odd number of its edges to their right."""
    inside = np.zeros(np.broadcast_shapes(x.shape, y.shape), dtype=bool)
    for (x1, y1), (x2, y2) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        if y1 == y2:
            continue
        spans = (y1 > y) != (y2 > y)
        inside ^= spans & (x < (x2 - x1) * (y - y1) / (y2 - y1) + x1)
    return inside
