"""Heights of thread and cloth together, and what of the light they keep from each other.

Everything that shades a pixel lies within `HALO_MM`, so a rectangle drawn alone is the
same, bit for bit, as that part of the whole picture.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.compiled import njit
from render.draw.block_rows import (
    choose,
    depth_row,
    dimple_row,
    level_row,
    merge_row,
    pit_row,
    pressed_level,
    share_out,
    slope_row,
    want_row,
)
from render.draw.dimples import MM_PER_STEP, STEPS_PER_MM
from render.draw.mapped import PLACES, mix_down, places_along
from render.draw.raster import NOTHING
from render.draw.sets import any_cloth

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.mapped import Cells

# Nearer than a pixel of 300 dpi, or with sharper edges, shadows would depend on how large a picture is drawn.
# The last of `SHADOW_STEPS` lies at 1.092 mm.
SHADOW_FIRST_MM, SHADOW_GROWTH, SHADOW_SOFT_MM = 0.10, 1.27, 0.04
# So near each other that the dome does not close in steps beside a column. Nothing farther off counts: sums
# of 16 bits would not hold it.
OCCLUSION_MM = (0.06, 0.11, 0.19, 0.34, 0.60)
HALO_MM = 1.1
# A pit is as deep as it lies below the cloth so many cells around it; so deep, half as bright (estimate).
PIT_RIM_CELLS, PIT_WIDE_MM = 3, 0.15
NO_HOLLOW = (0.0, 1.0)  # keeps no light
# A tap this steep closes its share of the sky (calibrated by eye against close photographs).
OCCLUSION_GAIN = 0.62


@njit(cache=True, nogil=True)
def merge_cloth(
    height: NDArray[np.float32],
    strand: NDArray[np.int32],
    cloth_mm: NDArray[np.float32],
    dimple_steps: NDArray[np.int16],
    frame: NDArray[np.float64],
    supersample: int,
) -> None:
    """Put the cloth, pressed down by the stitching, into the height buffer; where its pile
    stands above a thread it hides the thread. `dimple_steps` (map rows, map cols) are as of a `Stack`,
    `frame` is (x, y of the first sub-pixel from the map's middle, step), in map cells."""
    rows, cols = height.shape
    map_rows, map_cols = dimple_steps.shape
    for r in range(rows):
        # Places on a binary grid, so that interpolating is exact, however the map is turned.
        y = np.rint((frame[1] + r * frame[2]) * PLACES) / PLACES + map_rows // 2
        for c in range(cols):
            x = np.rint((frame[0] + c * frame[2]) * PLACES) / PLACES + map_cols // 2
            pressed = _bilinear(dimple_steps, x, y) / STEPS_PER_MM
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
    dimple_steps: NDArray[np.int16],
    frame: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """The pixels where cloth may show whose relief rises to `highest_mm`: some thread lies lower, or none.

    `dimple_steps`, as of a `Stack`, press it down, `frame` is as for `merge_blocks`; where sub-pixels do
    not make blocks of two by two, as for `merge_cloth`.
    """
    side = 2 if supersample % 2 == 0 else 1
    half = supersample // side
    rows, cols = height.shape[0] // side, height.shape[1] // side
    wanted = np.zeros((rows // half, cols // half), np.bool_)
    cell, share, begin = places_along(frame[0], frame[2], cols, dimple_steps.shape[1])
    line, seen = np.empty(cell[-1] + 3, np.float32), np.empty(cols, np.int32)
    for r in range(rows):
        mix_down(dimple_steps, MM_PER_STEP, begin, frame[1] + r * frame[2], 0, 1, line)
        want_row(height[side * r], height[side * r + side - 1], side, highest_mm, line, cell, share, seen)
        share_out(seen, half, wanted[r // half])
    return wanted


@njit(cache=True, nogil=True)
def merge_blocks(
    height: NDArray[np.float32],
    strand: NDArray[np.int32],
    cloth_mm: NDArray[np.float32],
    wanted: NDArray[np.bool_],
    dimple_steps: NDArray[np.int16],
    frame: NDArray[np.float64],
    supersample: int,
    stands: NDArray[np.int16],
    sets: NDArray[np.int32],
) -> None:
    """Heights of thread and cloth together for each block of two by two sub-pixels, as `in_steps`.

    Fills `stands` (4, rows, cols) with that of the strand (or cloth) that is highest in the block, that of
    the others, if any, the mean of all, and -1 where a block shows nothing but cloth, else 0; `sets` with
    what shows, as `told`. `strand` becomes -1 where the cloth's pile stands above a thread. `frame` is (x, y
    of the first block from the map's middle, step), in map cells.
    """
    rows, cols = sets.shape
    per_pixel = supersample // 2
    cell, share, begin = places_along(frame[0], frame[2], cols, dimple_steps.shape[1])
    line, level = np.empty(cell[-1] + 3, np.float32), np.empty(cols, np.float32)
    pixel, open_mm = (np.arange(cols) // per_pixel).astype(np.int32), np.empty(wanted.shape[1], np.float32)
    for r in range(rows):
        mix_down(dimple_steps, MM_PER_STEP, begin, frame[1] + r * frame[2], 0, 1, line)
        own = r // per_pixel
        level_row(cloth_mm[own], wanted[own], pixel, line, cell, share, open_mm, level)
        top, low, names, others = height[2 * r], height[2 * r + 1], strand[2 * r], strand[2 * r + 1]
        heights = stands[0, r], stands[1, r], stands[2, r], stands[3, r]
        merge_row(top, low, names, others, level, *heights, sets[r])


def dimple_light(
    dimple_steps: NDArray[np.int16],
    frame: NDArray[np.float64],
    wanted: NDArray[np.bool_],
    towards: NDArray[np.float64],
    key_share: float,
    cell_mm: float,
    hollow: tuple[float, float] = NO_HOLLOW,
) -> NDArray[np.float32]:
    """Light on the cloth in the `wanted` pixels where stitching presses it down, 1 where it lies level.

    Lambert on the slope of `dimple_steps`, as of a `Stack`: `towards (3,)` is the key lamp, `key_share`
    its part of a level cloth's light. `frame` is (x, y of the first pixel from the map's middle, step),
    in map cells of `cell_mm`. What a `hollow` keeps of the light is as for `dimple_row`.
    """
    out = np.ones(wanted.shape, np.float32)
    facing = towards[:2] / (2.0 * cell_mm * towards[2])
    add_slopes(out, dimple_steps, MM_PER_STEP, frame, wanted, facing, key_share, hollow)
    return out


@njit(cache=True, nogil=True)
def add_slopes(
    out: NDArray[np.float32],
    depth: Cells,
    unit: Any,
    frame: NDArray[np.float64],
    wanted: NDArray[np.bool_],
    facing: NDArray[np.float64],
    key_share: float,
    hollow: tuple[float, float],
) -> None:
    """Add to the light of the `wanted` pixels what the slopes of a map of depths catch more or less of it;
    what a `hollow` keeps of all is as for `dimple_row`.

    The map's `unit` is as for `mix_down`: mm. Two cells apart, a mm turns cloth towards the lamp by
    `facing (2,)`.
    """
    cell, share, begin = places_along(frame[0], frame[2], wanted.shape[1], depth.shape[1])
    lines, chosen = np.empty((5, cell[-1] + 3), np.float32), np.empty(wanted.shape[1], np.int32)
    level, above, below, across, down = lines[0], lines[1], lines[2], lines[3], lines[4]
    for r in range(wanted.shape[0]):
        count = choose(wanted[r], chosen)
        if count == 0:
            continue
        # Dimples lie so close that a whole row is mixed for its few wanted pixels.
        mix_slopes(depth, unit, begin, frame[1] + r * frame[2], level, above, below, across, down)
        dimple_row(count, chosen, level, across, down, cell, share, facing, key_share, hollow, out[r])


@njit(cache=True, nogil=True)
def mix_slopes(
    depth: Cells,
    unit: Any,
    begin: int,
    y: float,
    level: NDArray[np.float32],
    above: NDArray[np.float32],
    below: NDArray[np.float32],
    across: NDArray[np.float32],
    down: NDArray[np.float32],
) -> None:
    """Mix cells from a column on down to a line at row y, with their slopes over two cells; the `unit` is
    as for `mix_down`."""
    mix_down(depth, unit, begin, y, 0, 1, level)
    mix_down(depth, unit, begin, y, -1, 0, above)
    mix_down(depth, unit, begin, y, 1, 2, below)
    slope_row(level, above, below, across, down)


@njit(cache=True, nogil=True)
def darken_pits(
    dimple_steps: NDArray[np.int16],
    frame: NDArray[np.float64],
    sets: NDArray[np.int32],
    edge: int,
    lit: NDArray[np.float32],
    sky: NDArray[np.float32],
) -> None:
    """Take from the light of open cloth what pits keep of it, by how much deeper they are than the cloth
    around them.

    `lit` and `sky` (2, rows, cols) are what of lamp and dome reaches the highest strand of each block, and
    what lies lower: where that is cloth, as `sets` of `merge_blocks` say, they change. These have `edge`
    blocks around them. `frame` is as there, of the first block that is lit.
    """
    rows, cols = lit.shape[1:]
    cell, share, begin = places_along(frame[0], frame[2], cols, dimple_steps.shape[1])
    far = PIT_RIM_CELLS
    size = cell[-1] + 3
    level = np.empty(size + 2 * far, np.float32)
    above, below = np.empty(size, np.float32), np.empty(size, np.float32)
    deep = np.empty(size, np.float32)
    for r in range(rows):
        own = sets[r + edge, edge : edge + cols]
        if not any_cloth(own, 0, cols):
            continue
        y = frame[1] + r * frame[2]
        mix_down(dimple_steps, MM_PER_STEP, begin - far, y, 0, 1, level)
        mix_down(dimple_steps, MM_PER_STEP, begin, y, -far, 1 - far, above)
        mix_down(dimple_steps, MM_PER_STEP, begin, y, far, far + 1, below)
        depth_row(level, above, below, far, deep)
        pit_row(own, deep, cell, share, PIT_WIDE_MM, lit[0, r], lit[1, r], sky[0, r], sky[1, r])


@njit(cache=True, nogil=True, forceinline=True)
def _bilinear(grid: NDArray[np.int16], x: float, y: float) -> float:
    rows, cols = grid.shape
    x = min(max(x, 0.0), cols - 1.0)
    y = min(max(y, 0.0), rows - 1.0)
    c, r = min(int(x), cols - 2), min(int(y), rows - 2)
    u, w = x - c, y - r
    top = grid[r, c] * (1 - u) + grid[r, c + 1] * u
    bottom = grid[r + 1, c] * (1 - u) + grid[r + 1, c + 1] * u
    return float(top * (1 - w) + bottom * w)
