"""Heights of thread and cloth together, and what of the light they keep from each other.

Everything that shades a pixel lies within `HALO_MM`, so a rectangle drawn alone is the
same, bit for bit, as that part of the whole picture.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numba import njit

from render.draw.raster import NOTHING

if TYPE_CHECKING:
    from numpy.typing import NDArray

SHADOW_STEPS = 11
SHADOW_FIRST_MM, SHADOW_GROWTH = 0.05, 1.36  # reaches 1.5 mm
OCCLUSION_MM = (0.06, 0.18, 0.50)
HALO_MM = 1.6
# A tap this steep closes its share of the sky (calibrated by eye against close photographs).
OCCLUSION_GAIN = 0.62


@njit(cache=True, nogil=True)
def key_shadow(
    height: NDArray[np.float32],
    strand: NDArray[np.int32],
    halo: int,
    taps: NDArray[np.int64],
    rise: NDArray[np.float64],
) -> NDArray[np.float32]:
    """How much of the key lamp reaches each pixel, in [0, 1].

    Cloth (`strand` -1) does not shade cloth here: its own light has that already. `taps
    (K, 2)` are pixel steps towards the lamp; `rise (K, 2)` the mm that a ray has climbed
    there and the mm over which the edge of a shadow fades.
    """
    rows, cols = height.shape[0] - 2 * halo, height.shape[1] - 2 * halo
    out = np.empty((rows, cols), np.float32)
    for r in range(rows):
        for c in range(cols):
            here = height[r + halo, c + halo]
            bare = strand[r + halo, c + halo] < 0
            lit = 1.0
            for k in range(len(taps)):
                tr, tc = r + halo + taps[k, 0], c + halo + taps[k, 1]
                if bare and strand[tr, tc] < 0:
                    continue
                over = height[tr, tc] - here - rise[k, 0]
                lit = min(lit, 0.5 - over / rise[k, 1])
            out[r, c] = max(lit, 0.0)
    return out


@njit(cache=True, nogil=True)
def sky_open(
    height: NDArray[np.float32],
    strand: NDArray[np.int32],
    halo: int,
    taps: NDArray[np.int64],
    per_mm: NDArray[np.float64],
) -> NDArray[np.float32]:
    """Share of the dome that each pixel sees, in (0, 1].

    Cloth does not close the sky of cloth, as for `key_shadow`. `taps (K, 2)` are pixel
    steps around it, `per_mm (K,)` what closes per mm of height there. Summed in whole
    numbers: the sum is then the same in any order of directions.
    """
    rows, cols = height.shape[0] - 2 * halo, height.shape[1] - 2 * halo
    out = np.empty((rows, cols), np.float32)
    for r in range(rows):
        for c in range(cols):
            here = height[r + halo, c + halo]
            bare = strand[r + halo, c + halo] < 0
            closed = 0
            for k in range(len(taps)):
                tr, tc = r + halo + taps[k, 0], c + halo + taps[k, 1]
                if bare and strand[tr, tc] < 0:
                    continue
                over = height[tr, tc] - here
                if over > 0.0:
                    closed += int(4096.0 * min(over * per_mm[k], 1.0))
            out[r, c] = 1.0 - closed / (4096.0 * len(taps))
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
            # Stitching flattens the relief under it as far as it presses.
            level = relief * max(1.0 - 3.2 * pressed, 0.25) - pressed
            if level > height[r, c]:
                if height[r, c] > NOTHING * 0.5:
                    strand[r, c] = -1
                height[r, c] = level


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
