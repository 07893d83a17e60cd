"""The cells of cloth under stitching: which of them thread covers, and how much of it."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import numpy as np
from numba import njit

from render.draw.dimples import EDGE_CELLS, PIERCED

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.strands import Strands

# Not a binary fraction: no needle point then falls on a border between two cells, which
# would go to the one or the other side as the design is turned.
CELL_MM = 0.0977
PER_MM = 1.0 / CELL_MM
# Places across a thread and how high it is there, in half-widths and half-heights, by how many cells
# lie to either side of its middle: the widest are 8 mm.
MOST_STEPS = 60
ACROSS = np.arange(-MOST_STEPS, MOST_STEPS + 1) / (np.arange(MOST_STEPS + 1)[:, None] + 0.5)
ACROSS = np.array([np.roll(row, steps - MOST_STEPS) for steps, row in enumerate(ACROSS)])
HIGH = 1.0 + np.sqrt(np.maximum(1.0 - ACROSS * ACROSS, 0.0))
# Amounts of thread are summed up in whole steps, so that sums are the same in any order.
STEPS_PER_MM = 4096.0


def map_shape(strands: Strands) -> tuple[int, int]:
    """Rows and columns of the height map: odd, a cell centred on the anchor, with an empty edge.

    It has room for strands as they were laid and as they lie.
    """
    laid = strands.unmoved()
    points = np.abs(np.concatenate([strands.start_mm, strands.end_mm, laid.start_mm, laid.end_mm]))
    reach = points.max(0) if len(points) else np.zeros(2)
    cols, rows = (2 * (np.ceil(reach / CELL_MM).astype(int) + EDGE_CELLS) + 1).tolist()
    return rows, cols


def cover_of(strands: Strands, section: NDArray[np.float32], first: NDArray[np.int64]) -> NDArray[np.float32]:
    """The map (rows, cols), 1 where thread that is sewn presses on the cloth, and its needle holes."""
    cover = np.zeros(map_shape(strands), np.float32)
    sewn, whole = np.flatnonzero(strands.stitch >= 0), np.array([0, 0, *cover.shape])
    start, end = (np.ascontiguousarray(ends) for ends in (strands.start_mm, strands.end_mm))
    cores = os.cpu_count() or 1
    with ThreadPoolExecutor(cores) as pool:  # all write the same, so it matters not who comes first
        some = np.array_split(sewn, cores)
        list(pool.map(lambda own: mark_cover(start, end, section, first, own, whole, cover), some))
    mark_holes(start, end, sewn, whole, cover)
    return cover


def thread_over_mm(
    strands: Strands, section: NDArray[np.float32], first: NDArray[np.int64]
) -> NDArray[np.float32]:
    """How much thread that is sewn lies over each cell of the map (rows, cols) and around it, mm."""
    sewn, shape = np.flatnonzero(strands.stitch >= 0), map_shape(strands)
    start, end = (np.ascontiguousarray(ends) for ends in (strands.start_mm, strands.end_mm))
    cores = os.cpu_count() or 1

    def lay(own: NDArray[np.int64]) -> NDArray[np.int32]:
        steps = np.zeros(shape, np.int32)
        lay_thread(start, end, section, first, own, steps)
        return steps

    with ThreadPoolExecutor(cores) as pool:
        maps = list(pool.map(lay, np.array_split(sewn, cores)))
    # In whole steps, so that the sum is the same in any order.
    total = np.asarray(np.sum(maps, axis=0, dtype=np.int32))
    # Smoothed (1, 2, 1) both ways: how places fall into cells is none of the thread's.
    total[1:-1] = total[:-2] + 2 * total[1:-1] + total[2:]
    total[:, 1:-1] = total[:, :-2] + 2 * total[:, 1:-1] + total[:, 2:]
    return np.asarray(total / np.float32(16.0 * STEPS_PER_MM), np.float32)


@njit(cache=True, nogil=True, error_model="numpy")
def lay_thread(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    section: NDArray[np.float32],
    first: NDArray[np.int64],
    chosen: NDArray[np.int64],
    steps_mm: NDArray[np.int32],
) -> None:
    """Add the thickness of chosen strands, in steps of `STEPS_PER_MM`, to the cells that they cover."""
    rows, cols = steps_mm.shape
    for i in chosen:
        at, n = first[i], first[i + 1] - first[i]
        run_x, run_y = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]
        length = np.sqrt(run_x * run_x + run_y * run_y)
        if length < 1e-6:
            continue
        side_x, side_y = -run_y / length * PER_MM, run_x / length * PER_MM
        for k in range(n):
            t = k / (n - 1.0)
            left, right, b = section[at + k]
            middle, a = 0.5 * (right - left), 0.5 * (right + left)
            steps = min(int(np.ceil(a * (PER_MM / 0.7))), MOST_STEPS)
            across, high = ACROSS[steps], HIGH[steps]
            x = (start[i, 0] + run_x * t) * PER_MM
            y = (start[i, 1] + run_y * t) * PER_MM
            # Each place stands for so much of the thread as lies around it.
            amount = 2.0 * b * (length / n * PER_MM) * (a / (steps + 0.5) * PER_MM) * STEPS_PER_MM
            for j in range(2 * steps + 1):
                d = middle + across[j] * a
                c = np.uintp(int(np.floor(x + side_x * d + 0.5)) + cols // 2)
                r = np.uintp(int(np.floor(y + side_y * d + 0.5)) + rows // 2)
                steps_mm[r, c] += np.int32(np.rint(amount * (high[j] - 1.0)))


@njit(cache=True, nogil=True, error_model="numpy")
def mark_cover(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    section: NDArray[np.float32],
    first: NDArray[np.int64],
    chosen: NDArray[np.int64],
    within: NDArray[np.int64],
    cover: NDArray[np.float32],
) -> None:
    """Mark what chosen strands cover of the rows and columns `within` (top, left, bottom, right)."""
    rows, cols = cover.shape
    for i in chosen:
        at, n = first[i], first[i + 1] - first[i]
        run_x, run_y = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]
        length = np.sqrt(run_x * run_x + run_y * run_y)
        if length < 1e-6:
            continue
        side_x, side_y = -run_y / length, run_x / length
        for k in range(n):
            t = k / (n - 1.0)
            left, right = section[at + k, 0], section[at + k, 1]
            middle, a = 0.5 * (right - left), 0.5 * (right + left)
            steps = int(np.ceil(a / (0.7 * CELL_MM)))
            x = start[i, 0] + run_x * t
            y = start[i, 1] + run_y * t
            x, y = (
                (x + side_x * middle) * PER_MM + (cols // 2 + 0.5),
                (y + side_y * middle) * PER_MM + (rows // 2 + 0.5),
            )
            step = a / (steps + 0.5) * PER_MM
            for j in range(-steps, steps + 1):
                # Never below 0, so that cutting off is rounding down.
                c, r = np.uintp(x + side_x * (step * j)), np.uintp(y + side_y * (step * j))
                if within[0] <= r < within[2] and within[1] <= c < within[3]:
                    cover[r, c] = max(cover[r, c], np.float32(1.0))


@njit(cache=True, nogil=True)
def mark_holes(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    chosen: NDArray[np.int64],
    within: NDArray[np.int64],
    cover: NDArray[np.float32],
) -> None:
    """Mark where chosen strands pierce what `mark_cover` has marked already."""
    rows, cols = cover.shape
    for i in chosen:
        for at in (start[i], end[i]):
            c = int(np.floor(at[0] / CELL_MM + 0.5)) + cols // 2
            r = int(np.floor(at[1] / CELL_MM + 0.5)) + rows // 2
            if within[0] <= r < within[2] and within[1] <= c < within[3]:
                cover[r, c] = 1.0 + PIERCED
