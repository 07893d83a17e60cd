"""The cells of cloth under stitching: which of them thread covers, and how much of it."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import numpy as np

from render.apart import Apart
from render.compiled import njit
from render.draw.across import CELL_MM, LEAST_MM, PER_MM, box_of, lanes, places, room_for, way_of
from render.draw.dimples import EDGE_CELLS, PIERCED

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.strands import Strands

# Amounts of thread are summed up in whole steps, so that sums are the same in any order; never more than so
# many, which are 16 mm.
STEPS_PER_MM, MOST_STEPS = 4096.0, 65535
_f, _i = np.float32, np.int32


def map_shape(strands: Strands) -> tuple[int, int]:
    """Rows and columns of the height map: odd, a cell centred on the anchor, with an empty edge.

    It has room for strands as they were laid and as they lie.
    """
    ends = (strands.start_mm, strands.end_mm), strands.laid_ends_mm()
    boxes = [box_of(*(np.ascontiguousarray(places) for places in both)) for both in ends]
    reach = np.abs(boxes).reshape(-1, 2).max(0)
    cols, rows = (2 * (np.ceil(reach / CELL_MM).astype(int) + EDGE_CELLS) + 1).tolist()
    return rows, cols


def laid_maps(
    strands: Strands, section: NDArray[np.float32], first: NDArray[np.int64], thread_mm: NDArray[np.float32]
) -> tuple[NDArray[np.uint8], NDArray[np.float32]]:
    """Where thread that is sewn presses on the cloth and pierces it, (rows, cols) as `dimples_in_steps` wants
    it; and in `thread_mm`, whatever that held before, how much of it lies over each cell of the map and
    around it, mm."""
    rows, cols = thread_mm.shape
    cover = np.zeros((rows, cols), np.uint8)
    sewn = np.flatnonzero(strands.stitch >= 0)
    start, end = (np.ascontiguousarray(ends) for ends in (strands.start_mm, strands.end_mm))
    cores = os.cpu_count() or 1
    bounds = np.linspace(0, rows, 4 * cores + 1).astype(int).tolist()
    # No half-width is more; to look through these alone would take seven times as long.
    reach = float(section.max(initial=0.0)) / CELL_MM + 1.0
    ends_cells = start[sewn, 1] / CELL_MM + rows // 2, end[sewn, 1] / CELL_MM + rows // 2
    first_cell, last_cell = np.minimum(*ends_cells) - reach, np.maximum(*ends_cells) + reach

    def lay(low: int, stop: int) -> None:
        # With a row to either side: what lies there is smoothed into these.
        above, below = max(low - 1, 0), min(stop + 1, rows)
        own = sewn[(first_cell < below) & (last_cell > above)]
        steps = np.zeros((below - above, cols), np.uint16)
        lay_thread(start, end, section, first, own, (rows, cols), above, steps)
        smooth_rows(steps, low - above, stop - above, thread_mm[above:below], cover[above:below])

    with ThreadPoolExecutor(cores) as pool:
        list(pool.map(lay, bounds[:-1], bounds[1:]))
    mark_holes(start, end, sewn[leave_pits(strands)[sewn]], np.array([0, 0, rows, cols]), cover)
    return cover, thread_mm


def leave_pits(strands: Strands) -> NDArray[np.bool_]:
    """Which strands (N,) leave pits at their holes: around a thread that lies by itself cloth closes over
    them, and there it goes down between yarns (common practice, no source)."""
    return np.asarray((strands.stitch >= 0) & (strands.piece >= 0))


def thread_over_mm(
    strands: Strands, section: NDArray[np.float32], first: NDArray[np.int64]
) -> NDArray[np.float32]:
    """How much thread that is sewn lies over each cell of the map (rows, cols) and around it, mm."""
    return laid_maps(strands, section, first, np.empty(map_shape(strands), np.float32))[1]


@njit(cache=True, nogil=True, error_model="numpy")
def lay_thread(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    section: NDArray[np.float32],
    first: NDArray[np.int64],
    chosen: NDArray[np.int64],
    shape: tuple[int, int],
    low: int,
    steps_mm: NDArray[np.uint16],
) -> None:
    """Add the thickness of chosen strands, in steps of `STEPS_PER_MM`, to the cells that they cover, at least
    one: to those of some rows, from `low` on, of a map of that shape."""
    rows, cols = shape
    sections, steps = section.reshape(-1), steps_mm.reshape(-1)
    x, y, step, count, high, cells, bulge = room_for(section, first, chosen)
    for i in chosen:
        at, n = first[i], first[i + 1] - first[i]
        way = way_of(i, start, end, rows, cols)
        if way[0] < LEAST_MM:
            continue
        # Each place stands for so much of the thread as lies around it.
        along = 2.0 * way[0] / n * PER_MM * PER_MM * STEPS_PER_MM
        number = places(at, n, way, cols, sections, x, y, step, count, high, cells, bulge)
        thicken(n, number, way[1] - low * cols, along, cells, bulge, step, steps)


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def thicken(
    n: int,
    number: int,
    cell: int,
    along: float,
    cells: NDArray[np.int32],
    bulge: NDArray[np.float32],
    step: NDArray[np.float32],
    steps_mm: NDArray[np.uint16],
) -> None:
    """Add the thickness of a strand, which starts in a `cell`, at its `places`, as far as there are cells."""
    for m in range(number):
        for k in range(n):
            place = np.uintp(m * lanes(n) + k)
            here, mm = cell + cells[place], bulge[place]
            more = max(_i(np.rint(mm * step[k] * _f(along))), _i(mm > _f(0.0)))
            if 0 <= here < len(steps_mm):
                steps_mm[np.uintp(here)] = min(_i(steps_mm[np.uintp(here)]) + more, _i(MOST_STEPS))


@njit(cache=True, nogil=True)
def smooth_rows(
    steps_mm: NDArray[np.uint16],
    low: int,
    stop: int,
    thread_mm: NDArray[np.float32],
    cover: NDArray[np.uint8],
) -> None:
    """Fill rows from `low` on with the thickness in mm, smoothed (1, 2, 1) both ways: how places fall into
    cells is none of the thread's; and mark what is covered. The map's edge stays empty."""
    rows, cols = steps_mm.shape
    line = np.empty(cols, np.int32)
    for r in range(low, stop):
        if r in (0, rows - 1):
            thread_mm[r] = 0.0
        else:
            smooth_row(steps_mm[r - 1], steps_mm[r], steps_mm[r + 1], line, thread_mm[r], cover[r])


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def smooth_row(
    above: NDArray[np.uint16],
    level: NDArray[np.uint16],
    below: NDArray[np.uint16],
    line: NDArray[np.int32],
    thread_mm: NDArray[np.float32],
    cover: NDArray[np.uint8],
) -> None:
    """One row, see `smooth_rows`; `line` is room to work in."""
    for c in range(len(line)):
        line[c] = _i(above[c]) + _i(2) * _i(level[c]) + _i(below[c])
        cover[c] = level[c] > 0
    thread_mm[0] = thread_mm[-1] = 0.0
    for c in range(len(line) - 2):
        before, here, after = np.uintp(c), np.uintp(c + 1), np.uintp(c + 2)
        total = np.int32(line[before] + np.int32(2) * line[here] + line[after])
        thread_mm[here] = np.float32(total) * np.float32(1.0 / (16.0 * STEPS_PER_MM))


@njit(cache=True, nogil=True)
def mark_holes(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    chosen: NDArray[np.int64],
    within: NDArray[np.int64],
    cover: NDArray[np.uint8],
) -> None:
    """Mark where chosen strands pierce the cloth within rows and columns: top, left, bottom, right."""
    rows, cols = cover.shape
    for i in chosen:
        for at in (start[i], end[i]):
            c = int(np.floor(at[0] / CELL_MM + 0.5)) + cols // 2
            r = int(np.floor(at[1] / CELL_MM + 0.5)) + rows // 2
            if within[0] <= r < within[2] and within[1] <= c < within[3]:
                cover[r, c] = 1 + PIERCED
