"""Two pictures of the same window, in fine levels, and what lies between them."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart
from render.compiled import njit
from render.compose.encoding import level_at, level_begins, level_steps, parts_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Layers

FINE = 128  # steps of a level of sRGB


def paint_finely(fine: NDArray[np.uint16], part: tuple[int, int, int, int], layers: Layers) -> None:
    """Compose a part of a picture `fine (rows, cols, 3)` in steps of 1 / `FINE` of a level.

    What lies from half a level below a level to half a level above it shows as it does in `paint`.
    """
    thread, cloth = (np.ascontiguousarray(one) for one in (layers.thread_linear, layers.cloth_linear))
    finely_onto(fine, *part[:2], thread, cloth, layers.cloth_share, level_steps(), *_steps())


@cache
def _steps() -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Of each level the light at its low end, and how many fine levels it climbs a unit from there."""
    begins = level_begins().astype(np.float64)
    low, high = begins[:256].copy(), begins[1:].copy()
    low[0], high[255] = 0.0, np.inf
    climb = np.where(np.arange(256) == 0, FINE // 2, FINE) / (high - low)
    return low.astype(np.float32), climb.astype(np.float32)


@njit(cache=True, nogil=True)
def finely_onto(
    fine: NDArray[np.uint16],
    top: int,
    left: int,
    thread_linear: NDArray[np.float32],
    cloth_linear: NDArray[np.float32],
    cloth_share: NDArray[np.float32],
    steps: NDArray[np.uint32],
    low: NDArray[np.float32],
    climb: NDArray[np.float32],
) -> None:
    """As `paint_finely`."""
    numbers = 3 * cloth_share.shape[1]
    light, parts = np.empty(numbers, np.float32), np.empty(numbers, np.int32)
    for r in range(len(cloth_share)):
        thread, cloth = thread_linear[r].reshape(-1), cloth_linear[r].reshape(-1)
        out = fine[top + r].reshape(-1)[3 * left :]
        finely_row(thread, cloth, cloth_share[r], steps, low, climb, light, parts, out)


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def finely_row(
    thread: NDArray[np.float32],
    cloth: NDArray[np.float32],
    cloth_share: NDArray[np.float32],
    steps: NDArray[np.uint32],
    low: NDArray[np.float32],
    climb: NDArray[np.float32],
    light: NDArray[np.float32],
    parts: NDArray[np.int32],
    out: NDArray[np.uint16],
) -> None:
    """Fine levels of a row of pixels, RGB one after the other; `light` and `parts` are room."""
    for c in range(len(cloth_share)):
        red = np.uintp(3 * c)
        light[red] = light[red + np.uintp(1)] = light[red + np.uintp(2)] = cloth_share[c]
    for i in range(len(parts)):
        light[i] = thread[i] + cloth[i] * light[i]
        parts[i] = parts_of(light[i])
    for i in range(len(parts)):
        level = level_at(parts[i], steps)
        # Half of the lowest level lies below black.
        below = np.int32(level == 0) * np.int32(FINE // 2)
        first = np.int32(FINE) * level - np.int32(FINE // 2)
        within = np.int32((light[i] - low[np.uintp(level)]) * climb[np.uintp(level)])
        out[i] = first + below + min(max(within, np.int32(0)), np.int32(FINE - 1) - below)


@njit(cache=True, nogil=True)
def show_between(
    one: NDArray[np.uint16],
    other: NDArray[np.uint16],
    shares: NDArray[np.int32],
    tile_px: int,
    edge_px: int,
    pixels: NDArray[np.uint8],
) -> NDArray[np.float64]:
    """Fill `pixels (rows, cols, 3)` with what lies between two fine pictures.

    `shares` are of 256, how far on the way from one to the other each tile of `tile_px` is; the first tile
    begins `edge_px` before the first pixel. Gives how many levels the two are apart in each tile, in the
    mean of its pixels and colours; 0 where a tile has none.
    """
    rows, cols = pixels.shape[0], pixels.shape[1]
    apart, samples = np.zeros(shares.shape), np.zeros(shares.shape)
    of_one, of_other, shown = one.ravel(), other.ravel(), pixels.ravel()
    for r in range(rows):
        row, begin = (r + edge_px) // tile_px, 0
        while begin < cols:
            tile = (begin + edge_px) // tile_px
            end = min((tile + 1) * tile_px - edge_px, cols)
            first, stop = 3 * (r * cols + begin), 3 * (r * cols + end)
            apart[row, tile] += fade(of_one, of_other, shares[row, tile], first, stop, shown)
            samples[row, tile] += stop - first
            begin = end
    return np.asarray(apart / (FINE * np.maximum(samples, 1.0)))


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def fade(
    one: NDArray[np.uint16],
    other: NDArray[np.uint16],
    share: int,
    begin: int,
    end: int,
    shown: NDArray[np.uint8],
) -> Any:
    """Levels of what lies by a `share` of 256 between one and other, from number `begin` up to `end`; gives
    the sum of how many fine ones they are apart."""
    near, far, half = np.int32(256 - share), np.int32(share), np.int32(128 * FINE)
    apart = np.int32(0)
    for i in range(begin, end):
        k = np.uintp(i)
        first, second = np.int32(one[k]), np.int32(other[k])
        shown[k] = (first * near + second * far + half) >> np.int32(15)
        apart += abs(first - second)
    return apart
