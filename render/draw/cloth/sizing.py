"""From the fine tile to one filtered for the picture's own pixels."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Plane = NDArray[np.floating[Any]]


FINER = 4  # grid points along a picture's pixel, as near as halving and doubling come to it
# Where samples are so few a pixel their own grain would show, as beads along the fibres: it is averaged out.
CLOSELY, CLOSELY_BLUR = 1.2, 1.9
MOST_TEXELS = 1 << 22  # a tile that is looked at closely is not made finer than this


def resized(texels: Plane, size_mm: tuple[float, float], px_per_mm: float) -> Plane:
    """Average over the area of a picture's pixel, on a grid about `FINER` times as fine as its pixels.

    `texels (R, C, K)`, light first and then height, of a torus of `size_mm`. Single samples of a finer
    grid would sparkle, and a grid as coarse as the pixels would blur in bands. Laying interpolates
    between the grid's points, which blurs as well: the box here is narrower by as much. Seen
    closely the tile is made finer first, along smooth curves: straight lines would show as facets.
    """
    if texels.shape[1] / size_mm[0] < CLOSELY * px_per_mm:
        texels = _boxed(_boxed(texels, 0, CLOSELY_BLUR), 1, CLOSELY_BLUR)
    finer = 1
    while (
        texels.shape[1] / size_mm[0] < FINER / 2**0.5 * px_per_mm and 4 * texels[..., 0].size <= MOST_TEXELS
    ):
        texels = _doubled(_doubled(texels, 0), 1)
        texels[..., :3] = np.maximum(texels[..., :3], 0.0)  # the cubic swings a little beyond
        finer *= 2
    rows, cols, channels = texels.shape
    every = 1
    while cols / size_mm[0] / (2 * every) >= FINER / 2**0.5 * px_per_mm and not (
        rows % (2 * every) or cols % (2 * every)
    ):
        every *= 2
    for axis, mm in ((1, size_mm[0]), (0, size_mm[1])):
        pixel = texels.shape[axis] / mm / px_per_mm
        texels = _boxed(texels, axis, box_width(pixel, every, finer))
    if every == 1:
        return np.ascontiguousarray(texels, np.float32)
    blocks = texels.reshape(rows // every, every, cols // every, every, channels)
    return np.ascontiguousarray(blocks.mean(axis=(1, 3), dtype=np.float32))


def _doubled(texels: Plane, axis: int) -> Plane:
    """Twice as many samples along an axis of the torus, on Catmull and Rom's cubic (1974) through the old.

    A sample stands in the middle of its length; the new ones lie a quarter of it to either side.
    """
    far, near, here, back = (np.float32(w) for w in (-3 / 128, 29 / 128, 111 / 128, -9 / 128))
    after, before = np.roll(texels, -1, axis), np.roll(texels, 1, axis)
    right = back * before + here * texels + near * after + far * np.roll(texels, -2, axis)
    left = back * after + here * texels + near * before + far * np.roll(texels, 2, axis)
    both = np.stack([left, right], axis + 1)
    shape = [n * (2 if k == axis else 1) for k, n in enumerate(texels.shape)]
    return both.reshape(shape)


def box_width(pixel: float, every: int, finer: int = 1) -> float:
    """Width in samples of the box that makes up a pixel `pixel` samples wide.

    Second moments times 12: a box w counts w², averaging blocks of n samples n² - 1, and
    linear interpolation on their grid 2 n²; what was sampled `finer` times as coarsely already counts
    that, squared. Together they are to be the pixel's own.
    """
    return float(np.sqrt(max(pixel**2 - 3 * every**2 + 2 - finer**2, 1.0)))


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
