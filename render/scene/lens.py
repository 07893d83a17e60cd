"""Depth of field: each point spreads over its circle of confusion."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import numpy as np
from numba import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

SHARP_PX = 0.7  # a circle of confusion smaller than this changes nothing that shows
LEVEL_PX = 7.5  # larger circles are spread on a picture of half the size, and so on
REDUCED_VAR = 0.45  # square pixels of the reduced picture (measured on a point of light)
BAND = 48


def blurred(light: NDArray[np.float32], confusion_px: NDArray[np.float32]) -> NDArray[np.float32]:
    """Spread `light (rows, cols, K)` by the diameters `confusion_px (rows, cols)`.

    A pixel gathers from those whose own circle reaches it; diameters are negative behind the plane
    of focus, and such light does not spread over what is sharp before it. Wide circles are gathered
    from reduced copies.
    """
    widest = float(np.abs(confusion_px).max())
    if widest <= SHARP_PX:
        return light
    levels = [(light, confusion_px)]
    while widest / 2 ** (len(levels) - 1) > LEVEL_PX and min(levels[-1][1].shape) > 16:
        levels.append((_halved(levels[-1][0]), _halved(levels[-1][1][..., None])[..., 0] / np.float32(2)))
    spread: NDArray[np.float32] | None = None
    for level in reversed(range(len(levels))):
        here, circle = levels[level]
        # Reducing and enlarging spreads light by itself; variances add.
        own = (
            circle if level == 0 else np.sign(circle) * np.sqrt(np.maximum(circle**2 - 16 * REDUCED_VAR, 0.5))
        )
        result = _spread(here, own.astype(np.float32))
        if spread is not None:
            # Circles too wide for this level come from the coarser one, eased in.
            ease = np.clip((np.abs(circle) - 0.6 * LEVEL_PX) / (0.4 * LEVEL_PX), 0.0, 1.0)[..., None]
            result = result + ease * (_doubled(spread, here.shape) - result)
        spread = np.asarray(result, np.float32)
    assert spread is not None
    return spread


def _spread(light: NDArray[np.float32], circle: NDArray[np.float32]) -> NDArray[np.float32]:
    out = np.empty_like(light)
    reach = int(np.ceil(min(float(np.abs(circle).max()), LEVEL_PX) / 2 + 1))
    padded = np.pad(light, ((reach, reach), (reach, reach), (0, 0)), mode="edge")
    most = np.float32(LEVEL_PX)
    circles = np.pad(np.clip(circle, -most, most), reach, mode="edge")

    def band(top: int) -> None:
        gather_light(padded, circles, reach, top, min(top + BAND, len(light)), out)

    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        list(pool.map(band, range(0, len(light), BAND)))
    return out


def _halved(plane: NDArray[np.float32]) -> NDArray[np.float32]:
    rows, cols = plane.shape[:2]
    even = np.pad(plane, ((0, rows % 2), (0, cols % 2), (0, 0)), mode="edge")
    mean = even[::2, ::2] + even[1::2, ::2] + even[::2, 1::2] + even[1::2, 1::2]
    return np.asarray(mean * np.float32(0.25))


def _doubled(plane: NDArray[np.float32], shape: tuple[int, ...]) -> NDArray[np.float32]:
    """Twice the size, linear between pixel centres."""
    for axis in (0, 1):
        places = (np.arange(shape[axis]) + 0.5) / 2 - 0.5
        low = np.clip(np.floor(places).astype(int), 0, plane.shape[axis] - 1)
        high = np.minimum(low + 1, plane.shape[axis] - 1)
        share = np.clip(places - low, 0, 1).astype(np.float32)
        share = share[:, None, None] if axis == 0 else share[None, :, None]
        plane = plane.take(low, axis) * (1 - share) + plane.take(high, axis) * share
    return plane


@njit(cache=True, nogil=True)
def gather_light(
    light: NDArray[np.float32],
    circle: NDArray[np.float32],
    reach: int,
    first: int,
    last: int,
    out: NDArray[np.float32],
) -> None:
    """Rows `first` to `last` of the spread picture; `light` and `circle` have `reach` pixels all round."""
    cols, kinds = out.shape[1], out.shape[2]
    away = np.empty((2 * reach + 1, 2 * reach + 1), np.float32)
    for j in range(-reach, reach + 1):
        for k in range(-reach, reach + 1):
            away[j + reach, k + reach] = np.sqrt(float(j * j + k * k)) - 0.5
    for r in range(first, last):
        for c in range(cols):
            own = abs(circle[r + reach, c + reach])
            if own <= SHARP_PX and _widest(circle, r, c, reach) <= SHARP_PX:
                out[r, c] = light[r + reach, c + reach]
                continue
            total = 0.0
            out[r, c] = 0.0
            for j in range(-reach, reach + 1):
                for k in range(-reach, reach + 1):
                    there = circle[r + reach + j, c + reach + k]
                    if there < 0.0:
                        there = min(-there, own)
                    radius = 0.5 * max(there, 1.0)
                    inside = radius - away[j + reach, k + reach]
                    if inside <= 0.0:
                        continue
                    weight = min(inside, 1.0) / (radius * radius)
                    total += weight
                    for m in range(kinds):
                        out[r, c, m] += weight * light[r + reach + j, c + reach + k, m]
            for m in range(kinds):
                out[r, c, m] /= total


@njit(cache=True, nogil=True, inline="always")
def _widest(circle: NDArray[np.float32], r: int, c: int, reach: int) -> float:
    """Widest circle at a few places that could reach this pixel."""
    widest = 0.0
    for j in (0, reach, 2 * reach):
        for k in (0, reach, 2 * reach):
            widest = max(widest, abs(circle[r + j, c + k]))
    return widest
