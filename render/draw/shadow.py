"""Heights of thread and cloth together, and what of the light they keep from each other.

Everything that shades a pixel lies within `HALO_MM`, so a rectangle drawn alone is the
same, bit for bit, as that part of the whole picture.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numba import njit

from render.draw.mapped import mix_down, places_along
from render.draw.raster import NOTHING

if TYPE_CHECKING:
    from numpy.typing import NDArray

SHADOW_STEPS = 11
SHADOW_FIRST_MM, SHADOW_GROWTH = 0.05, 1.36  # reaches 1.5 mm
OCCLUSION_MM = (0.06, 0.18, 0.50)
HALO_MM = 1.6
# A pit is as deep as it lies below the cloth so many cells around it; so deep, half as bright (estimate).
PIT_RIM_CELLS, PIT_WIDE_MM = 3, 0.22
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
    line = np.empty(cell[-1] + 3)
    for r in range(rows):
        mix_down(dimple, begin, frame[1] + r * frame[2], 0, 1, line)
        top, low, out = height[side * r], height[side * r + side - 1], wanted[r // half]
        for c in range(cols):
            left, right = side * c, side * c + side - 1
            least = min(min(top[left], top[right]), min(low[left], low[right]))
            if least < highest_mm:
                pressed = line[cell[c]] + (line[cell[c] + 1] - line[cell[c]]) * share[c]
                # A little more than `merge_blocks` may make of it.
                level = pressed_level(highest_mm, pressed) + 1e-6
                out[c // half] |= least < level
    return wanted


@njit(cache=True, nogil=True, inline="always")
def pressed_level(relief: Any, pressed: Any) -> Any:
    """Height of pressed cloth: stitching flattens the relief under it as far as it presses."""
    return relief * max(1.0 - 3.2 * pressed, 0.25) - pressed


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
    line = np.empty(cell[-1] + 3)
    for r in range(rows):
        mix_down(dimple, begin, frame[1] + r * frame[2], 0, 1, line)
        for c in range(cols):
            pixel = c if per_pixel == 1 else c // per_pixel
            if wanted[r // per_pixel, pixel]:
                pressed = line[cell[c]] * (1.0 - share[c]) + line[cell[c] + 1] * share[c]
                level = np.float32(pressed_level(cloth_mm[r // per_pixel, pixel], pressed))
                for part in range(4):
                    down, right = 2 * r + (part >> 1), 2 * c + (part & 1)
                    if level > height[down, right]:
                        height[down, right] = level
                        strand[down, right] = -1
            name = strand[2 * r, 2 * c]
            same = name == strand[2 * r, 2 * c + 1]
            if same and name == strand[2 * r + 1, 2 * c] and name == strand[2 * r + 1, 2 * c + 1]:
                total = _step(height, 2 * r, 2 * c) + _step(height, 2 * r, 2 * c + 1)
                total += _step(height, 2 * r + 1, 2 * c) + _step(height, 2 * r + 1, 2 * c + 1)
                block_mm[r, c] = upper_mm[r, c] = lower_mm[r, c] = total / 65536.0
                bare[r, c] = -1 if name < 0 else 0
                continue
            highest = height[2 * r, 2 * c]
            for part in range(1, 4):
                down, right = 2 * r + (part >> 1), 2 * c + (part & 1)
                if height[down, right] > highest or (
                    height[down, right] == highest and strand[down, right] > name
                ):
                    highest, name = height[down, right], strand[down, right]
            total = upper = 0.0
            many = 0
            for part in range(4):
                down, right = 2 * r + (part >> 1), 2 * c + (part & 1)
                step = _step(height, down, right)
                total += step
                if strand[down, right] == name:
                    upper += step
                    many += 1
            block_mm[r, c] = total / 65536.0
            upper_mm[r, c] = upper / (16384.0 * many)
            lower_mm[r, c] = (total - upper) / (16384.0 * (4 - many))
            bare[r, c] = 0


@njit(cache=True, nogil=True, inline="always")
def _step(height: NDArray[np.float32], r: Any, c: Any) -> Any:
    """A height in whole steps, so that sums are the same in any order."""
    return np.rint(height[r, c] * 16384.0)


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
    for r in range(wanted.shape[0]):
        if not wanted[r].any():
            continue
        # Dimples lie so close that a whole row is mixed for its few wanted pixels.
        y = frame[1] + r * frame[2]
        mix_down(dimple, begin, y, 0, 1, level)
        mix_down(dimple, begin, y, -1, 0, above)
        mix_down(dimple, begin, y, 1, 2, below)
        for c in range(wanted.shape[1]):
            if not wanted[r, c]:
                continue
            k, u = cell[c], share[c]
            across = (level[k + 1] - level[k - 1]) * (1.0 - u) + (level[k + 2] - level[k]) * u
            down = (below[k] - above[k]) * (1.0 - u) + (below[k + 1] - above[k + 1]) * u
            facing = (across * towards[0] + down * towards[1]) / (2.0 * cell_mm * towards[2])
            out[r, c] = 1.0 + key_share * min(max(facing, -0.8), 0.8)
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


@njit(cache=True, nogil=True, inline="always")
def _bilinear(grid: NDArray[np.float32], x: float, y: float) -> float:
    rows, cols = grid.shape
    x = min(max(x, 0.0), cols - 1.0)
    y = min(max(y, 0.0), rows - 1.0)
    c, r = min(int(x), cols - 2), min(int(y), rows - 2)
    u, w = x - c, y - r
    top = grid[r, c] * (1 - u) + grid[r, c + 1] * u
    bottom = grid[r + 1, c] * (1 - u) + grid[r + 1, c + 1] * u
    return float(top * (1 - w) + bottom * w)
