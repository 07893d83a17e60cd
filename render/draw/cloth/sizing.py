"""From the fine tile to one filtered for the picture's own pixels."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Plane = NDArray[np.floating[Any]]


def resized(texels: Plane, size_mm: tuple[float, float], px_per_mm: float) -> Plane:
    """Average over the area of a picture's pixel, on a grid about twice as fine as its pixels.

    `texels (R, C, K)` of a torus of `size_mm`; picking single samples from a finer grid
    would sparkle, and a grid as coarse as the pixels would blur in bands. Laying interpolates
    between the grid's points, which blurs as well: the box here is narrower by as much.
    """
    rows, cols, channels = texels.shape
    every = 1
    while cols / size_mm[0] / (2 * every) >= 2 * px_per_mm and not (rows % (2 * every) or cols % (2 * every)):
        every *= 2
    for axis, mm in ((1, size_mm[0]), (0, size_mm[1])):
        pixel = texels.shape[axis] / mm / px_per_mm
        texels = _boxed(texels, axis, box_width(pixel, every))
    if every == 1:
        return np.ascontiguousarray(texels, np.float32)
    blocks = texels.reshape(rows // every, every, cols // every, every, channels)
    return np.ascontiguousarray(blocks.mean(axis=(1, 3), dtype=np.float32))


def box_width(pixel: float, every: int) -> float:
    """Width in samples of the box that makes up a pixel `pixel` samples wide.

    Second moments times 12: a box w counts w², averaging blocks of n samples n² - 1, and
    linear interpolation on their grid 2 n². Together they are to be the pixel's own.
    """
    return float(np.sqrt(max(pixel**2 - 3 * every**2 + 1, 1.0)))


def box_weights(width: float) -> NDArray[np.float64]:
    """Weights of whole samples about the middle with the second moment of a box `width` wide.

    A sample stands for its own width, so the weights hold (w² - 1) / 12: ones, and at both
    ends what is missing.
    """
    moment = (width**2 - 1) / 12
    whole = 0
    while moment * (2 * whole + 3) >= 2 * sum(k * k for k in range(whole + 2)):
        whole += 1
    within = 2 * sum(k * k for k in range(whole + 1))
    end = (moment * (2 * whole + 1) - within) / (2 * (whole + 1) ** 2 - 2 * moment)
    weights = np.array([end, *[1.0] * (2 * whole + 1), end])
    return np.asarray(weights / weights.sum())


def _boxed(texels: Plane, axis: int, width: float) -> Plane:
    """Running mean over `width` samples about each sample, on a torus."""
    if width <= 1.0:
        return texels
    weights = box_weights(width).astype(np.float32)
    reach = len(weights) // 2
    # Wrapped once, so that every shift is a plain slice.
    ends = np.moveaxis(texels, axis, 0)
    padded = np.concatenate([ends[-reach:], ends, ends[:reach]])
    total = weights[0] * padded[: len(ends)]
    for k in range(1, len(weights)):
        total += weights[k] * padded[k : k + len(ends)]
    return np.moveaxis(total, 0, axis)
