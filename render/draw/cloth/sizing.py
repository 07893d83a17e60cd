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
    would sparkle, and a grid as coarse as the pixels would blur in bands.
    """
    for axis, mm in ((1, size_mm[0]), (0, size_mm[1])):
        per_pixel = texels.shape[axis] / mm / px_per_mm
        texels = _boxed(texels, axis, per_pixel)
    every = 1
    while texels.shape[1] / size_mm[0] / (2 * every) >= 2 * px_per_mm and not (
        texels.shape[0] % (2 * every) or texels.shape[1] % (2 * every)
    ):
        every *= 2
    if every == 1:
        return np.ascontiguousarray(texels, np.float32)
    rows, cols, channels = texels.shape
    blocks = texels.reshape(rows // every, every, cols // every, every, channels)
    return np.ascontiguousarray(blocks.mean(axis=(1, 3), dtype=np.float32))


def _boxed(texels: Plane, axis: int, width: float) -> Plane:
    """Running mean of fractional `width` samples about each sample, on a torus."""
    if width <= 1.0:
        return texels
    n = texels.shape[axis]
    reach = (width - 1.0) / 2
    whole = int(np.floor(reach))
    rest = reach - whole
    # The spectrum of the box applies it exactly, wrap included.
    offsets = np.arange(-whole - 1, whole + 2)
    weights = np.where(np.abs(offsets) <= whole, 1.0, rest)
    kernel = np.zeros(n)
    np.add.at(kernel, offsets % n, weights / weights.sum())
    shape = [1] * texels.ndim
    shape[axis] = n // 2 + 1
    response = np.fft.rfft(kernel).real.reshape(shape)
    spectrum = np.fft.rfft(texels, axis=axis) * response
    return np.asarray(np.fft.irfft(spectrum, n, axis=axis), np.float32)
