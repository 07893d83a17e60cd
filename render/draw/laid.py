"""The cells of cloth under stitching: which of them thread covers, and how much of it."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import numpy as np
from numba import njit

from render.draw.apart import Apart
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


def laid_maps(
    strands: Strands, section: NDArray[np.float32], first: NDArray[np.int64]
) -> tuple[NDArray[np.uint8], NDArray[np.float32]]:
    """Where thread that is sewn presses on the cloth and pierces it, (rows, cols) as `dimples_mm` wants it;
    and how much of it lies over each cell of the map and around it, mm."""
    shape = map_shape(strands)
    cover, steps, thread_mm = (np.zeros(shape, kind) for kind in (np.uint8, np.int32, np.float32))
    sewn = np.flatnonzero(strands.stitch >= 0)
    start, end = (np.ascontiguousarray(ends) for ends in (strands.start_mm, strands.end_mm))
    cores = os.cpu_count() or 1
    bounds = np.linspace(0, shape[0], 4 * cores + 1).astype(int).tolist()
    reach = float(section[:, :2].max(initial=0.0)) / CELL_MM + 1.0
    ends_cells = np.sort(np.stack([start[sewn, 1], end[sewn, 1]]) / CELL_MM + shape[0] // 2, axis=0)

    def lay(low: int, stop: int) -> None:
        own = sewn[(ends_cells[0] - reach < stop) & (ends_cells[1] + reach > low)]
        lay_thread(start, end, section, first, own, low, stop, steps, cover)

    with ThreadPoolExecutor(cores) as pool:
        list(pool.map(lay, bounds[:-1], bounds[1:]))
        mark_holes(start, end, sewn, np.array([0, 0, *shape]), cover)
        list(pool.map(lambda low, stop: smooth_rows(steps, low, stop, thread_mm), bounds[:-1], bounds[1:]))
    return cover, thread_mm


def thread_over_mm(
    strands: Strands, section: NDArray[np.float32], first: NDArray[np.int64]
) -> NDArray[np.float32]:
    """How much thread that is sewn lies over each cell of the map (rows, cols) and around it, mm."""
    return laid_maps(strands, section, first)[1]


@njit(cache=True, nogil=True, error_model="numpy")
def lay_thread(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    section: NDArray[np.float32],
    first: NDArray[np.int64],
    chosen: NDArray[np.int64],
    low: int,
    stop: int,
    steps_mm: NDArray[np.int32],
    cover: NDArray[np.uint8],
) -> None:
    """Add the thickness of chosen strands, in steps of `STEPS_PER_MM`, to the cells that they cover in rows
    from `low` on, and mark those; places as in `mark_cover`."""
    rows, cols = steps_mm.shape
    steps_of, marks = steps_mm.ravel(), cover.ravel()
    for i in chosen:
        at, n = first[i], first[i + 1] - first[i]
        run_x, run_y = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]
        length = np.sqrt(run_x * run_x + run_y * run_y)
        if length < 1e-6:
            continue
        side_x, side_y = -run_y / length * PER_MM, run_x / length * PER_MM
        share, along = 1.0 / (n - 1.0), 2.0 * length / n * PER_MM * PER_MM * STEPS_PER_MM
        x0, y0 = start[i, 0] * PER_MM + (cols // 2 + 0.5), start[i, 1] * PER_MM + (rows // 2 + 0.5)
        for k in range(n):
            t = k * share * PER_MM
            left, right, b = section[at + k]
            middle, a = 0.5 * (right - left), 0.5 * (right + left)
            steps = min(int(np.ceil(a * (PER_MM / 0.7))), MOST_STEPS)
            step, high = a / (steps + 0.5), HIGH[steps]
            x, y = x0 + run_x * t + side_x * middle, y0 + run_y * t + side_y * middle
            # Each place stands for so much of the thread as lies around it.
            amount = b * along * step
            right_step, down_step = side_x * step, side_y * step
            for j in range(-steps, steps + 1):
                # Never below 0, so that cutting off is rounding down.
                c, r = np.int64(x + right_step * j), np.int64(y + down_step * j)
                if low <= r < stop:
                    cell = np.uintp(r * cols + c)
                    steps_of[cell] += np.int32(np.rint(amount * (high[np.uintp(j + steps)] - 1.0)))
                    marks[cell] = 1


@njit(cache=True, nogil=True)
def smooth_rows(steps_mm: NDArray[np.int32], low: int, stop: int, thread_mm: NDArray[np.float32]) -> None:
    """Fill rows from `low` on with the thickness in mm, smoothed (1, 2, 1) both ways: how places fall into
    cells is none of the thread's. The map's edge stays empty."""
    rows, cols = steps_mm.shape
    line = np.empty(cols, np.int32)
    for r in range(max(low, 1), min(stop, rows - 1)):
        smooth_row(steps_mm[r - 1], steps_mm[r], steps_mm[r + 1], line, thread_mm[r])


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def smooth_row(
    above: NDArray[np.int32],
    level: NDArray[np.int32],
    below: NDArray[np.int32],
    line: NDArray[np.int32],
    thread_mm: NDArray[np.float32],
) -> None:
    """One row, see `smooth_rows`; `line` is room to work in."""
    for c in range(len(line)):
        line[c] = above[c] + np.int32(2) * level[c] + below[c]
    for c in range(len(line) - 2):
        before, here, after = np.uintp(c), np.uintp(c + 1), np.uintp(c + 2)
        total = np.int32(line[before] + np.int32(2) * line[here] + line[after])
        thread_mm[here] = np.float32(total) * np.float32(1.0 / (16.0 * STEPS_PER_MM))


@njit(cache=True, nogil=True, error_model="numpy")
def mark_cover(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    section: NDArray[np.float32],
    first: NDArray[np.int64],
    chosen: NDArray[np.int64],
    within: NDArray[np.int64],
    cover: NDArray[np.uint8],
) -> None:
    """Mark what chosen strands cover of the rows and columns `within` (top, left, bottom, right)."""
    rows, cols = cover.shape
    for i in chosen:
        at, n = first[i], first[i + 1] - first[i]
        run_x, run_y = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]
        length = np.sqrt(run_x * run_x + run_y * run_y)
        if length < 1e-6:
            continue
        side_x, side_y = -run_y / length * PER_MM, run_x / length * PER_MM
        share = 1.0 / (n - 1.0)
        x0, y0 = start[i, 0] * PER_MM + (cols // 2 + 0.5), start[i, 1] * PER_MM + (rows // 2 + 0.5)
        for k in range(n):
            t = k * share * PER_MM
            left, right = section[at + k, 0], section[at + k, 1]
            middle, a = 0.5 * (right - left), 0.5 * (right + left)
            steps = min(int(np.ceil(a * (PER_MM / 0.7))), MOST_STEPS)
            step = a / (steps + 0.5)
            x, y = x0 + run_x * t + side_x * middle, y0 + run_y * t + side_y * middle
            right_step, down_step = side_x * step, side_y * step
            for j in range(-steps, steps + 1):
                # Never below 0, so that cutting off is rounding down.
                c, r = np.int64(x + right_step * j), np.int64(y + down_step * j)
                if within[0] <= r < within[2] and within[1] <= c < within[3]:
                    cover[r, c] |= 1


@njit(cache=True, nogil=True)
def mark_holes(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    chosen: NDArray[np.int64],
    within: NDArray[np.int64],
    cover: NDArray[np.uint8],
) -> None:
    """Mark where chosen strands pierce what `mark_cover` has marked already."""
    rows, cols = cover.shape
    for i in chosen:
        for at in (start[i], end[i]):
            c = int(np.floor(at[0] / CELL_MM + 0.5)) + cols // 2
            r = int(np.floor(at[1] / CELL_MM + 0.5)) + rows // 2
            if within[0] <= r < within[2] and within[1] <= c < within[3]:
                cover[r, c] = 1 + PIERCED
