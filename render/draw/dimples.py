"""How deep stitching presses the cloth down: what is covered, blurred near and far, and its needle holes."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import numpy as np
from numba import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Three boxes so wide blur like a Gaussian of 0.25 and of 0.8 mm.
NEAR_CELLS, FAR_CELLS = 5, 17
NEAR_MM, FAR_MM = 0.12, 0.24  # depth under full cover that either adds (calibrated by eye)
PIERCED = 2.0  # what a needle hole adds to the map of cover
# A hole is a pit so deep, as wide as two boxes make it; where several run together no more than `MOST_PITS`
# (estimates: a 75/11 needle is 0.75 mm thick, and cloth closes to about half of that around the thread).
PIT_MM, PIT_CELLS, MOST_PITS = 0.22, 3, 1.3
EDGE_CELLS = 24  # empty border of the map, so dimples fade out inside it
BAND_ROWS = 128


def dimples_mm(cover: NDArray[np.float32], pit_mm: float = PIT_MM) -> NDArray[np.float32]:
    """Depth in mm for a map that is 1 where thread lies, `PIERCED` more at needle holes, else 0, with a
    border of `EDGE_CELLS` zeros."""
    depth = np.empty(cover.shape, np.float32)

    def fill(top: int) -> None:
        press(cover, top, pit_mm, depth[top : top + BAND_ROWS])

    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        list(pool.map(fill, range(0, len(cover), BAND_ROWS)))
    return depth


@njit(cache=True, nogil=True)
def press(cover: NDArray[np.float32], top: int, pit_mm: float, depth: NDArray[np.float32]) -> None:
    """Fill rows of the depth, from row `top` of the map on; a needle hole is so deep."""
    rows, cols = depth.shape
    around = 3 * (FAR_CELLS // 2)
    near = np.zeros((rows + 2 * around, cols), np.int32)
    far = np.zeros((rows + 2 * around, cols), np.int32)
    pits = np.zeros((rows + 2 * around, cols), np.int32)
    any_cover = False
    for r in range(rows + 2 * around):
        row = top + r - around
        if 0 <= row < cover.shape[0]:
            for c in range(cols):
                near[r, c] = far[r, c] = np.int32(cover[row, c]) & 1
                pits[r, c] = np.int32(cover[row, c]) >> 1
                any_cover |= near[r, c] > 0
    if not any_cover:
        depth[:] = 0.0
        return
    # Sums of whole numbers are exact: the same however the map is turned.
    for _ in range(3):
        _sum_along(near, NEAR_CELLS)
        _sum_along(far, FAR_CELLS)
        _sum_down(near, NEAR_CELLS)
        _sum_down(far, FAR_CELLS)
    for _ in range(2):
        _sum_along(pits, PIT_CELLS)
        _sum_down(pits, PIT_CELLS)
    whole = PIT_CELLS * PIT_CELLS  # of a single one in its middle
    near_step, far_step = NEAR_MM / NEAR_CELLS**6, FAR_MM / FAR_CELLS**6
    for r in range(rows):
        for c in range(cols):
            mm = near_step * near[r + around, c] + far_step * far[r + around, c]
            mm += pit_mm * min(pits[r + around, c] / whole, MOST_PITS)
            # On a binary grid, so that turning the map by a quarter changes no bit of it.
            depth[r, c] = np.rint(mm * 4096.0) / 4096.0


@njit(cache=True, nogil=True)
def _sum_along(grid: NDArray[np.int32], cells: int) -> None:
    """Replace each cell by the sum of `cells` around it in its row; beyond the grid is nothing."""
    rows, cols = grid.shape
    half = cells // 2
    line = np.zeros(cols + cells, np.int32)
    for r in range(rows):
        for c in range(cols):
            line[c + half + 1] = grid[r, c]
        total = np.int32(0)
        for c in range(half + 1, cells):
            total += line[c]
        for c in range(cols):
            total += line[c + cells] - line[c]
            grid[r, c] = total


@njit(cache=True, nogil=True)
def _sum_down(grid: NDArray[np.int32], cells: int) -> None:
    """The same in its column. Rows at the grid's top and bottom lack what lies beyond."""
    rows, cols = grid.shape
    half = cells // 2
    old = np.zeros((cells, cols), np.int32)
    total = np.zeros(cols, np.int32)
    for r in range(half):
        for c in range(cols):
            total[c] += grid[r, c]
    for r in range(rows):
        gone, kept = old[(r - half - 1) % cells], old[r % cells]
        if r + half < rows:
            for c in range(cols):
                total[c] += grid[r + half, c]
        for c in range(cols):
            total[c] -= gone[c]
            kept[c] = grid[r, c]
            grid[r, c] = total[c]
