"""Which threads of an object lie beside each other.

Lengths in mm, strands as straight lines from `start` to `end (N, 2)`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numba import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

ALIKE = 0.85  # cosine of the angle up to which threads side by side press each other
BEYOND_MM = 0.25  # past its end a neighbour still presses: its hole holds the cloth
REACH_MM = 0.42  # how far a neighbour can lie and still matter: `APART` half-widths of a coarse thread, twice
LINE = 8  # numbers of a neighbour
BIN_MM = 0.84  # side of the bins in which neighbours are looked for, over twice `REACH_MM`


@njit(cache=True, nogil=True)
def binned(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    crowd: NDArray[np.int64],
    low: NDArray[np.float64],
    shape: tuple[int, int],
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Which strands of the crowd run through which bin: those of k are `listed[bins[k]:bins[k + 1]]`."""
    bins = np.zeros(shape[0] * shape[1] + 1, np.int64)
    listed = np.empty(0, np.int64)
    for filling in range(2):
        for i in crowd:
            run_x, run_y = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]
            steps = int(np.ceil(np.sqrt(run_x * run_x + run_y * run_y) / (BIN_MM / 2))) + 1
            last = -1
            for k in range(steps):
                share = k / max(steps - 1, 1)
                col = int((start[i, 0] + run_x * share - low[0]) / BIN_MM)
                row = int((start[i, 1] + run_y * share - low[1]) / BIN_MM)
                # A straight line never comes back to a bin.
                if row * shape[1] + col == last:
                    continue
                last = row * shape[1] + col
                if filling:
                    listed[bins[last]] = i
                    bins[last] += 1
                else:
                    bins[last + 1] += 1
        if not filling:
            bins = np.cumsum(bins)
            listed = np.empty(bins[-1], np.int64)
    # Each bin's place has moved to its end.
    bins[1:] = bins[:-1].copy()
    bins[0] = 0
    return bins, listed


@njit(cache=True, nogil=True, error_model="numpy")
def look_around(
    own: tuple[int, int],
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    piece: NDArray[np.int32],
    stitch: NDArray[np.int32],
    low: NDArray[np.float64],
    shape: NDArray[np.int64],
    bins: NDArray[np.int64],
    listed: NDArray[np.int64],
    looks: NDArray[np.int64],
    near: NDArray[np.int32],
) -> None:
    """Fill `near` (K, 2) for the strands from `own[0]` to `own[1]`, see `Crowd`.

    `low` is the corner of the bins, of which there are `shape`.
    """
    # Which strand has asked for a strand and a bin last; and the strands around the one at hand.
    asked, looked = np.full(len(piece), -1, np.int64), np.full(len(bins), -1, np.int64)
    around, lines = np.empty(len(piece), np.int64), np.empty((len(piece), LINE))
    for i in range(own[0], own[1]):
        run_x, run_y = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]
        length = np.sqrt(run_x * run_x + run_y * run_y)
        stations = looks[i + 1] - looks[i]
        near[looks[i] : looks[i + 1]] = -1
        if piece[i] < 0 or length <= 1e-6:
            continue
        tx, ty = run_x / length, run_y / length
        count, last = 0, -1
        for k in range(stations):
            t = k / (stations - 1.0)
            x, y = start[i, 0] + run_x * t, start[i, 1] + run_y * t
            here = int((y - low[1]) / BIN_MM) * shape[1] + int((x - low[0]) / BIN_MM)
            if here == last:
                continue
            last = here
            count = _beside(
                x, y, tx, ty, i, count, start, end, piece, stitch, low, shape, bins, listed, asked, looked,
                around, lines,
            )  # fmt: skip
        for k in range(stations):
            t = k / (stations - 1.0)
            x, y = start[i, 0] + run_x * t, start[i, 1] + run_y * t
            left, right = _neighbours(x, y, tx, ty, count, around, lines)
            near[looks[i] + k, 0], near[looks[i] + k, 1] = left, right


@njit(cache=True, nogil=True, error_model="numpy")
def _beside(
    x: float,
    y: float,
    tx: float,
    ty: float,
    i: int,
    count: int,
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    piece: NDArray[np.int32],
    stitch: NDArray[np.int32],
    low: NDArray[np.float64],
    shape: NDArray[np.int64],
    bins: NDArray[np.int64],
    listed: NDArray[np.int64],
    asked: NDArray[np.int64],
    looked: NDArray[np.int64],
    around: NDArray[np.int64],
    lines: NDArray[np.float64],
) -> int:
    """Add to the `count` strands `around` strand i those near a point of it that may press it, and return how
    many there are then. Of each: where it starts, its run, its length; if it comes from the same hole, where
    its other end lies; one over how far its run goes along."""
    col, row = int((x - low[0]) / BIN_MM), int((y - low[1]) / BIN_MM)
    for r in range(max(row - 1, 0), min(row + 2, shape[0])):
        for c in range(max(col - 1, 0), min(col + 2, shape[1])):
            b = r * shape[1] + c
            if looked[b] == i:
                continue
            looked[b] = i
            for slot in range(bins[b], bins[b + 1]):
                j = listed[slot]
                if asked[j] == i or j == i or piece[j] != piece[i]:
                    continue
                asked[j] = i
                run_x, run_y = end[j, 0] - start[j, 0], end[j, 1] - start[j, 1]
                span = np.sqrt(run_x * run_x + run_y * run_y)
                facing = (run_x * tx + run_y * ty) / max(span, 1e-9)
                same_hole = abs(stitch[j] - stitch[i]) == 1
                # One that goes straight on from the same needle point is no neighbour.
                if abs(facing) < ALIKE or (same_hole and facing > 0.0):
                    continue
                lines[count, 0], lines[count, 1], lines[count, 2] = start[j, 0], start[j, 1], run_x
                lines[count, 3], lines[count, 4], lines[count, 5] = run_y, span, np.inf
                if same_hole:
                    lines[count, 5] = end[j, 0] if stitch[j] > stitch[i] else start[j, 0]
                    lines[count, 6] = end[j, 1] if stitch[j] > stitch[i] else start[j, 1]
                lines[count, 7] = 1.0 / (run_x * tx + run_y * ty)
                around[count] = j
                count += 1
    return count


@njit(cache=True, nogil=True, error_model="numpy")
def _neighbours(
    x: float,
    y: float,
    tx: float,
    ty: float,
    count: int,
    around: NDArray[np.int64],
    lines: NDArray[np.float64],
) -> tuple[int, int]:
    """Which of the strands `around` lie next to a point of one that runs along tx, ty: to the left and to the
    right; -1 for none."""
    left = right = 2.0 * REACH_MM
    on_left = on_right = -1
    # Without branches, which no processor could foresee.
    for k in range(count):
        run_x, run_y = lines[k, 2], lines[k, 3]
        dx, dy = lines[k, 0] - x, lines[k, 1] - y
        # The line straight to the right through the point meets the strand at this share of it.
        share = -(dx * tx + dy * ty) * lines[k, 7]
        away = (dy + share * run_y) * tx - (dx + share * run_x) * ty
        # If it comes from the same hole, the side is that of its other end.
        same_hole = lines[k, 5] < np.inf
        turn = (lines[k, 6] - y) * tx - (lines[k, 5] - x) * ty if same_hole else away
        far = abs(away) if max(-share, share - 1.0) * lines[k, 4] <= BEYOND_MM else np.inf
        is_left, is_right = (turn < 0.0) & (far < left), (turn >= 0.0) & (far < right)
        left, on_left = far if is_left else left, around[k] if is_left else on_left
        right, on_right = far if is_right else right, around[k] if is_right else on_right
    return on_left, on_right
