"""Depth of field: each point spreads over its circle of confusion."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numba import njit

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

SHARP_PX = 0.7  # a circle of confusion smaller than this changes nothing that shows
LEVEL_PX = 7.5  # larger circles are spread on a picture of half the size, and so on
REDUCED_VAR = 0.45  # square pixels of the reduced picture (measured on a point of light)
BAND = 48


@dataclass(frozen=True, slots=True, eq=False)
class Spreading:
    """A picture whose points are spread as they are asked for: its light (rows, cols, K), its circles of
    confusion with `reach` pixels all round, and the wider circles, spread on half the size (rows / 2, cols
    / 2, K); empty where there are none."""

    light: NDArray[np.float32]
    circle: NDArray[np.float32]
    reach: int
    wider: NDArray[np.float32]


def spreading(light: NDArray[np.float32], confusion_px: NDArray[np.float32]) -> Spreading:
    """Spread `light (rows, cols, K)` by the diameters `confusion_px (rows, cols)`.

    A pixel gathers from those whose own circle reaches it; diameters are negative behind the plane
    of focus, and such light does not spread over what is sharp before it. Wide circles are gathered
    from reduced copies.
    """
    return _level(light, confusion_px, confusion_px)


def _level(light: NDArray[np.float32], circle: NDArray[np.float32], own: NDArray[np.float32]) -> Spreading:
    """`own` is what is left of each circle, the light having been spread by reducing it."""
    widest = float(np.abs(circle).max())
    wider = np.zeros((0, 0, light.shape[2]), np.float32)
    if widest > LEVEL_PX and min(circle.shape) > 16:
        half_circle = _halved(circle[..., None])[..., 0] / np.float32(2)
        # Reducing and enlarging spreads light by itself; variances add.
        left = np.sign(half_circle) * np.sqrt(np.maximum(half_circle**2 - 16 * REDUCED_VAR, 0.5))
        half = _level(_halved(light), half_circle, np.asarray(left, np.float32))
        wider = np.empty_like(half.light)
        _in_bands(len(wider), lambda top, last: spread_rows(half, top, last, wider[top:last]))
    reach = int(np.ceil(min(float(np.abs(own).max()), LEVEL_PX) / 2 + 1))
    most = np.float32(LEVEL_PX)
    return Spreading(light, np.pad(np.clip(own, -most, most), reach, mode="edge"), reach, wider)


def spread_rows(picture: Spreading, first: int, last: int, out: NDArray[np.float32]) -> None:
    """Rows `first` to `last` of the spread picture, into `out (rows, cols, K)`."""
    gather_light(picture.light, picture.circle, picture.reach, picture.wider, first, last, out)


def blurred(light: NDArray[np.float32], confusion_px: NDArray[np.float32]) -> NDArray[np.float32]:
    """The whole picture spread, see `spreading`."""
    picture = spreading(light, confusion_px)
    out = np.empty_like(light)
    _in_bands(len(out), lambda top, last: spread_rows(picture, top, last, out[top:last]))
    return out


def _in_bands(rows: int, task: Callable[[int, int], None]) -> None:
    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        list(pool.map(lambda top: task(top, min(top + BAND, rows)), range(0, rows, BAND)))


def _halved(plane: NDArray[np.float32]) -> NDArray[np.float32]:
    out = np.empty(((plane.shape[0] + 1) // 2, (plane.shape[1] + 1) // 2, plane.shape[2]), np.float32)
    _in_bands(len(out), lambda top, last: halve_rows(plane, top, last, out))
    return out


@njit(cache=True, nogil=True)
def halve_rows(plane: NDArray[np.float32], first: int, last: int, out: NDArray[np.float32]) -> None:
    """Rows of the picture of half the size; edges count twice where a side is odd."""
    rows, cols, kinds = plane.shape
    for r in range(first, last):
        low = min(2 * r + 1, rows - 1)
        for c in range(out.shape[1]):
            right = min(2 * c + 1, cols - 1)
            for m in range(kinds):
                pair = plane[2 * r, 2 * c, m] + plane[low, 2 * c, m]
                out[r, c, m] = np.float32(0.25) * (pair + plane[2 * r, right, m] + plane[low, right, m])


@njit(cache=True, nogil=True)
def gather_light(
    light: NDArray[np.float32],
    circle: NDArray[np.float32],
    reach: int,
    wider: NDArray[np.float32],
    first: int,
    last: int,
    out: NDArray[np.float32],
) -> None:
    """Rows `first` to `last` of the spread picture; `circle` has `reach` pixels all round."""
    rows, cols, kinds = light.shape
    away = np.empty((2 * reach + 1, 2 * reach + 1), np.float32)
    for j in range(-reach, reach + 1):
        for k in range(-reach, reach + 1):
            away[j + reach, k + reach] = np.sqrt(float(j * j + k * k)) - 0.5
    at_row = np.array([min(max(r, 0), rows - 1) for r in range(-reach, rows + reach)])
    at_col = np.array([min(max(c, 0), cols - 1) for c in range(-reach, cols + reach)])
    for r in range(first, last):
        for c in range(cols):
            own = abs(circle[r + reach, c + reach])
            spread = out[r - first, c]
            # Circles too wide for this level come from the coarser one, eased in.
            ease = min(max((own - 0.6 * LEVEL_PX) / (0.4 * LEVEL_PX), 0.0), 1.0) if len(wider) else 0.0
            if ease < 1.0:
                if own <= SHARP_PX and _widest(circle, r, c, reach) <= SHARP_PX:
                    spread[:] = light[r, c]
                    continue
                total = np.float32(0.0)
                spread[:] = 0.0
                for j in range(2 * reach + 1):
                    row = at_row[r + j]
                    for k in range(2 * reach + 1):
                        there = circle[r + j, c + k]
                        if there < 0.0:
                            there = min(-there, own)
                        radius = np.float32(0.5) * max(there, np.float32(1.0))
                        inside = radius - away[j, k]
                        if inside <= 0.0:
                            continue
                        weight = min(inside, np.float32(1.0)) / (radius * radius)
                        total += weight
                        other = light[row, at_col[c + k]]
                        for m in range(kinds):
                            spread[m] += weight * other[m]
                scale = np.float32(1.0 - ease) / total
                for m in range(kinds):
                    spread[m] *= scale
            else:
                spread[:] = 0.0
            if ease > 0.0:
                _add_doubled(wider, r, c, np.float32(ease), spread)


@njit(cache=True, nogil=True, inline="always")
def _add_doubled(
    wider: NDArray[np.float32], r: int, c: int, share: np.float32, out: NDArray[np.float32]
) -> None:
    """Add a share of the picture of half the size at pixel (r, c), linear between pixel centres."""
    rows, cols = wider.shape[:2]
    y, x = max((r + 0.5) / 2 - 0.5, 0.0), max((c + 0.5) / 2 - 0.5, 0.0)
    top, left = min(int(y), rows - 1), min(int(x), cols - 1)
    low, right = min(top + 1, rows - 1), min(left + 1, cols - 1)
    b, a = np.float32(y - top), np.float32(x - left)
    for m in range(len(out)):
        upper = wider[top, left, m] * (1 - a) + wider[top, right, m] * a
        lower = wider[low, left, m] * (1 - a) + wider[low, right, m] * a
        out[m] += share * (upper * (1 - b) + lower * b)


@njit(cache=True, nogil=True, inline="always")
def _widest(circle: NDArray[np.float32], r: int, c: int, reach: int) -> float:
    """Widest circle at a few places that could reach this pixel."""
    widest = 0.0
    for j in (0, reach, 2 * reach):
        for k in (0, reach, 2 * reach):
            widest = max(widest, abs(circle[r + j, c + k]))
    return widest
