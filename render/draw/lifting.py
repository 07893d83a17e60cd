"""How dragged thread and tails rise off what they lie on, where nothing is sewn over them.

Lengths in mm, local coordinates as in `Strands`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.compiled import njit
from render.draw.bending import lift
from render.draw.cords import SEWN, STOPS, loose_parts

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.strands import Strands

# A dragged thread spans hollows, but sags by a share of what it would span pulled tight; and rises by so
# much, and so much a mm of its length, at most so much (estimates).
SLACK, RISE_MM, RISE_PER_MM, MOST_RISE_MM = 0.25, 0.10, 0.025, 0.7
SHORTEST = 12  # samples; a shorter stretch between two that are held down stays down, too
UNDER_MM = 0.03  # what lies so much above a loose thread was sewn over it and holds it down


def lift_loose(
    strands: Strands,
    first: NDArray[np.int64],
    height_mm: NDArray[np.float32],
    top_mm: NDArray[np.float32],
    cell_mm: float,
) -> None:
    """Raise dragged thread and tails off what they lie on, where nothing was sewn over them.

    `height_mm` (M,) is that of settled strands, see `Stack`; `top_mm` (rows, cols) how high the
    finished piece is, on the map of cells of `cell_mm` that they settled on.
    """
    parts = loose_parts(strands)
    begins = np.flatnonzero((parts != SEWN) & (strands.along_mm == 0.0))
    stops = np.flatnonzero(parts == STOPS) + 1
    start, end = (np.ascontiguousarray(ends) for ends in (strands.start_mm, strands.end_mm))
    word, held = strands.grain[begins], strands.dives[stops - 1, 1]
    thick = 2 * strands.half_height_mm[begins]
    _lift_each(start, end, begins, stops, word, held, thick, first, height_mm, top_mm, cell_mm)


@njit(cache=True, nogil=True)
def _lift_each(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    begins: NDArray[np.int64],
    stops: NDArray[np.int64],
    words: NDArray[np.uint32],
    held: NDArray[np.bool_],
    thick: NDArray[np.float64],
    first: NDArray[np.int64],
    height: NDArray[np.float32],
    top: NDArray[np.float32],
    cell_mm: float,
) -> None:
    """Lift loose threads, each of strands from `begins` to `stops`, see `lift_loose`."""
    rows, cols = top.shape
    for m in range(len(begins)):
        own, length = height[first[begins[m]] : first[stops[m]]], 0.0
        free, at = np.empty(len(own), np.bool_), 0
        for i in range(begins[m], stops[m]):
            run_x, run_y = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]
            length += np.hypot(run_x, run_y)
            last = first[i + 1] - first[i] - 1
            for k in range(last + 1):
                # To the bit, so that both ends of a turned design are told alike.
                x = start[i, 0] + k * (run_x / last) if k < last else end[i, 0]
                y = start[i, 1] + k * (run_y / last) if k < last else end[i, 1]
                col, row = int(np.floor(x / cell_mm + 0.5)), int(np.floor(y / cell_mm + 0.5))
                over = np.float64(top[row + rows // 2, col + cols // 2])
                free[at] = over <= own[at] + thick[m] + UNDER_MM
                at += 1
        word = int(words[m])
        rise = min(RISE_MM + RISE_PER_MM * length, MOST_RISE_MM) * (0.5 + (word & 255) / 255.0)
        _lift(own, free, rise, held[m], ((word >> 8) & 255) / 255.0)


@njit(cache=True, nogil=True)
def _lift(height: NDArray[np.float32], free: NDArray[np.bool_], rise: float, held: bool, wave: float) -> None:
    """Lift each free stretch of one loose thread: along a chord of its highest places as far as it is not
    slack, and in a bow. The last end of a tail is not `held` and stands up."""
    n = len(height)
    at = 0
    while at < n:
        if not free[at]:
            at += 1
            continue
        stop = at
        while stop < n and free[stop]:
            stop += 1
        m = stop - at
        if m < SHORTEST and at > 0 and stop < n:
            at = stop
            continue
        tight = height[at:stop].copy()
        lift(tight, m, np.empty(m, np.int64))
        upright = not held and stop == n
        for k in range(m):
            u = (k + 0.5) / m
            bow = np.sin(0.5 * np.pi * u) if upright else np.sin(np.pi * u)
            ripple = 1.0 - 0.35 * wave * (1.0 + np.cos(2.0 * np.pi * (u * (1.0 + 2.0 * wave) + wave)))
            z = height[at + k]
            # Stretches that are held down close by cannot rise far.
            height[at + k] = z + (1.0 - SLACK) * (tight[k] - z) + min(rise, 0.0006 * m * m) * bow * ripple
        at = stop
