"""Heights of thread and cloth together, and what of the light they keep from each other.

Everything that shades a pixel lies within `HALO_MM`, so a rectangle drawn alone is the
same, bit for bit, as that part of the whole picture.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numba import njit

from render.draw.block_rows import level_row, merge_row, pressed_level, share_out, slope_row, want_row
from render.draw.mapped import mix_down, places_along
from render.draw.raster import NOTHING

if TYPE_CHECKING:
    from numpy.typing import NDArray

SHADOW_STEPS = 11
SHADOW_FIRST_MM, SHADOW_GROWTH = 0.05, 1.36  # reaches 1.5 mm
OCCLUSION_MM = (0.06, 0.18, 0.50)
HALO_MM = 1.6
# A pit is as deep as it lies below the cloth so many cells around it; so deep, half as bright (estimate).
PIT_RIM_CELLS, PIT_WIDE_MM = 3, 0.15
# A tap this steep closes its share of the sky (calibrated by eye against close photographs).
OCCLUSION_GAIN = 0.62


@njit(cache=True, nogil=True)
def key_shadow(
    here_mm: NDArray[np.float32],
    height: NDArray[np.float32],
    strand: NDArray[np.int32],
    halo: int,
    taps: NDArray[np.int64],
    rise: NDArray[np.float64],
) -> NDArray[np.float32]:
    """How much of the key lamp reaches what lies at `here_mm` in each pixel, in [0, 1].

    `height` is that of all that may stand in the way. Cloth (`strand` -1) does not shade cloth
    here: its own light has that already. `taps (K, 2)` are pixel steps towards the lamp; `rise
    (K, 2)` the mm that a ray has climbed there and the mm over which the edge of a shadow fades.
    """
    rows, cols = height.shape[0] - 2 * halo, height.shape[1] - 2 * halo
    out = np.ones((rows, cols), np.float32)
    half = np.float32(0.5)
    # Tap by tap along whole rows and without branches: the compiler then takes many pixels at once.
    for r in range(rows):
        lit = out[r]
        here = here_mm[r + halo, halo : halo + cols]
        bare = strand[r + halo, halo : halo + cols]
        for k in range(len(taps)):
            left = halo + taps[k, 1]
            there = height[r + halo + taps[k, 0], left : left + cols]
            other = strand[r + halo + taps[k, 0], left : left + cols]
            ray, per_mm = np.float32(rise[k, 0]), np.float32(1.0 / rise[k, 1])
            for c in range(cols):
                share = half - (there[c] - here[c] - ray) * per_mm
                share = np.float32(1.0) if (bare[c] & other[c]) < 0 else share
                lit[c] = min(lit[c], max(share, np.float32(0.0)))
    return out


@njit(cache=True, nogil=True)
def sky_open(
    here_mm: NDArray[np.float32],
    height: NDArray[np.float32],
    strand: NDArray[np.int32],
    halo: int,
    taps: NDArray[np.int64],
    per_mm: NDArray[np.float64],
) -> NDArray[np.float32]:
    """Share of the dome that what lies at `here_mm` in each pixel sees, in (0, 1].

    `height` is that of all that may stand in the way. Cloth does not close the sky of cloth, as
    for `key_shadow`. `taps (K, 2)` are pixel steps around it, `per_mm (K,)` what closes per mm of
    height there. Summed in whole numbers: the sum is then the same in any order of directions.
    """
    rows, cols = height.shape[0] - 2 * halo, height.shape[1] - 2 * halo
    out = np.empty((rows, cols), np.float32)
    closed = np.empty(cols, np.int32)
    whole = np.float32(4096.0)
    for r in range(rows):
        closed[:] = 0
        here = here_mm[r + halo, halo : halo + cols]
        bare = strand[r + halo, halo : halo + cols]
        for k in range(len(taps)):
            left = halo + taps[k, 1]
            there = height[r + halo + taps[k, 0], left : left + cols]
            other = strand[r + halo + taps[k, 0], left : left + cols]
            gain = np.float32(per_mm[k] * 4096.0)
            for c in range(cols):
                over = min(max((there[c] - here[c]) * gain, np.float32(0.0)), whole)
                closed[c] += np.int32(0) if (bare[c] & other[c]) < 0 else np.int32(over)
        for c in range(cols):
            out[r, c] = 1.0 - closed[c] / (4096.0 * len(taps))
    return out


@njit(cache=True, nogil=True)
def merge_cloth(
    height: NDArray[np.float32],
    strand: NDArray[np.int32],
    cloth_mm: NDArray[np.float32],
    dimple: NDArray[np.float32],
    frame: NDArray[np.float64],
    supersample: int,
) -> None:
    """Put the cloth, pressed down by the stitching, into the height buffer; where its pile
    stands above a thread it hides the thread. `frame` is (x, y of the first sub-pixel from
    the map's middle, step), in map cells."""
    rows, cols = height.shape
    map_rows, map_cols = dimple.shape
    for r in range(rows):
        # Places on a binary grid, so that interpolating is exact, however the map is turned.
        y = np.rint((frame[1] + r * frame[2]) * 65536.0) / 65536.0 + map_rows // 2
        for c in range(cols):
            x = np.rint((frame[0] + c * frame[2]) * 65536.0) / 65536.0 + map_cols // 2
            pressed = _bilinear(dimple, x, y)
            relief = cloth_mm[r // supersample, c // supersample]
            level = pressed_level(relief, pressed)
            if level > height[r, c]:
                if height[r, c] > NOTHING * 0.5:
                    strand[r, c] = -1
                height[r, c] = level


@njit(cache=True, nogil=True)
def cloth_wanted(
    height: NDArray[np.float32],
    highest_mm: float,
    supersample: int,
    dimple: NDArray[np.float32],
    frame: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """The pixels where cloth may show whose relief rises to `highest_mm`: some thread lies lower, or none.

    `dimple` presses it down, `frame` is as for `merge_blocks`; where sub-pixels do not make blocks of
    two by two, as for `merge_cloth`.
    """
    side = 2 if supersample % 2 == 0 else 1
    half = supersample // side
    rows, cols = height.shape[0] // side, height.shape[1] // side
    wanted = np.zeros((rows // half, cols // half), np.bool_)
    cell, share, begin = places_along(frame[0], frame[2], cols, dimple.shape[1])
    line, seen = np.empty(cell[-1] + 3), np.empty(cols, np.int32)
    for r in range(rows):
        mix_down(dimple, begin, frame[1] + r * frame[2], 0, 1, line)
        want_row(height[side * r], height[side * r + side - 1], side, highest_mm, line, cell, share, seen)
        share_out(seen, half, wanted[r // half])
    return wanted


@njit(cache=True, nogil=True)
def merge_blocks(
    height: NDArray[np.float32],
    strand: NDArray[np.int32],
    cloth_mm: NDArray[np.float32],
    wanted: NDArray[np.bool_],
    dimple: NDArray[np.float32],
    frame: NDArray[np.float64],
    supersample: int,
    block_mm: NDArray[np.float32],
    upper_mm: NDArray[np.float32],
    lower_mm: NDArray[np.float32],
    bare: NDArray[np.int32],
) -> None:
    """Heights of thread and cloth together for each block of two by two sub-pixels.

    Fills `block_mm` with their mean, `upper_mm` with that of the strand (or cloth) that is highest in
    the block and `lower_mm` with that of the others, if any; `bare` with -1 where a block shows nothing
    but cloth, else 0. `strand` becomes -1 where the cloth's pile stands above a thread, and `height` the
    cloth's where that shows. `frame` is (x, y of the first block from the map's middle, step), in map cells.
    """
    rows, cols = block_mm.shape
    per_pixel = supersample // 2
    cell, share, begin = places_along(frame[0], frame[2], cols, dimple.shape[1])
    line, level = np.empty(cell[-1] + 3), np.empty(cols, np.float32)
    pixel, open_mm = (np.arange(cols) // per_pixel).astype(np.int32), np.empty(wanted.shape[1], np.float32)
    for r in range(rows):
        mix_down(dimple, begin, frame[1] + r * frame[2], 0, 1, line)
        own = r // per_pixel
        level_row(cloth_mm[own], wanted[own], pixel, line, cell, share, open_mm, level)
        top, low, names, others = height[2 * r], height[2 * r + 1], strand[2 * r], strand[2 * r + 1]
        merge_row(top, low, names, others, level, block_mm[r], upper_mm[r], lower_mm[r], bare[r])


@njit(cache=True, nogil=True)
def dimple_light(
    dimple: NDArray[np.float32],
    frame: NDArray[np.float64],
    wanted: NDArray[np.bool_],
    towards: NDArray[np.float64],
    key_share: float,
    cell_mm: float,
) -> NDArray[np.float32]:
    """Light on the cloth in the `wanted` pixels where stitching presses it down, 1 where it lies level.

    Lambert on the slope of the dimple: `towards (3,)` is the key lamp, `key_share` its part
    of a level cloth's light. `frame` is (x, y of the first pixel from the map's middle,
    step), in map cells of `cell_mm`.
    """
    out = np.ones(wanted.shape, np.float32)
    cell, share, begin = places_along(frame[0], frame[2], wanted.shape[1], dimple.shape[1])
    level, above, below = np.empty(cell[-1] + 3), np.empty(cell[-1] + 3), np.empty(cell[-1] + 3)
    right, down = towards[:2] / (2.0 * cell_mm * towards[2])
    for r in range(wanted.shape[0]):
        if not wanted[r].any():
            continue
        # Dimples lie so close that a whole row is mixed for its few wanted pixels.
        y = frame[1] + r * frame[2]
        mix_down(dimple, begin, y, 0, 1, level)
        mix_down(dimple, begin, y, -1, 0, above)
        mix_down(dimple, begin, y, 1, 2, below)
        slope_row(level, above, below, cell, share, right, down, key_share, wanted[r], out[r])
    return out


@njit(cache=True, nogil=True)
def darken_pits(
    dimple: NDArray[np.float32],
    frame: NDArray[np.float64],
    strand: NDArray[np.int32],
    lit: NDArray[np.float32],
    sky: NDArray[np.float32],
) -> None:
    """Take from the light of open cloth what pits keep of it, by how much deeper they are than the cloth
    around them.

    `lit` and `sky` (2, rows, cols) are what of lamp and dome reaches the highest strand of each block of
    two by two of `strand`, and what lies lower: where that is cloth they change. `frame` is as for
    `merge_blocks`.
    """
    rows, cols = lit.shape[1:]
    cell, share, begin = places_along(frame[0], frame[2], cols, dimple.shape[1])
    far = PIT_RIM_CELLS
    size = cell[-1] + 3 + 2 * far
    level, above, below = np.empty(size), np.empty(size), np.empty(size)
    for r in range(rows):
        mixed = False
        for c in range(cols):
            a, b = strand[2 * r, 2 * c], strand[2 * r, 2 * c + 1]
            d, e = strand[2 * r + 1, 2 * c], strand[2 * r + 1, 2 * c + 1]
            if min(min(a, b), min(d, e)) >= 0:
                continue
            if not mixed:
                y = frame[1] + r * frame[2]
                mix_down(dimple, begin - far, y, 0, 1, level)
                mix_down(dimple, begin - far, y, -far, 1 - far, above)
                mix_down(dimple, begin - far, y, far, far + 1, below)
                mixed = True
            k, u = cell[c] + far, share[c]
            here = level[k] * (1.0 - u) + level[k + 1] * u
            # Opposite sides are added first: the same sum, however the map is turned.
            across = (level[k - far] + level[k + far]) * (1.0 - u)
            across += (level[k + 1 - far] + level[k + 1 + far]) * u
            down = (above[k] + below[k]) * (1.0 - u) + (above[k + 1] + below[k + 1]) * u
            deep = max(here - 0.25 * (across + down), 0.0) / PIT_WIDE_MM
            left = np.float32(1.0 / (1.0 + deep * deep))
            # Thread beside a pit stands higher than the cloth in it.
            for layer in range(0 if max(max(a, b), max(d, e)) < 0 else 1, 2):
                lit[layer, r, c] *= left
                sky[layer, r, c] *= left


@njit(cache=True, nogil=True, forceinline=True)
def _bilinear(grid: NDArray[np.float32], x: float, y: float) -> float:
    rows, cols = grid.shape
    x = min(max(x, 0.0), cols - 1.0)
    y = min(max(y, 0.0), rows - 1.0)
    c, r = min(int(x), cols - 2), min(int(y), rows - 2)
    u, w = x - c, y - r
    top = grid[r, c] * (1 - u) + grid[r, c + 1] * u
    bottom = grid[r + 1, c] * (1 - u) + grid[r + 1, c + 1] * u
    return float(top * (1 - w) + bottom * w)
