"""Coarse maps read between their cells along rows of pixels: cells are first mixed down to a line.

A place is (x, y) from the map's middle, in cells, on a binary grid: where the cells' values are on
one as well, mixing is exact, however the map is turned. Beyond the map lies what lies at its edge.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numba import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

PLACES = 65536.0  # steps of a place in a cell


@njit(cache=True, nogil=True)
def places_along(
    first: float, step: float, count: int, cells: int
) -> tuple[NDArray[np.int64], NDArray[np.float64], int]:
    """Of evenly spaced places along a side of so many cells: each one's cell, counted from one before
    the first place's, and its share of the way to the next; and the cell that is counted from."""
    cell, share = np.empty(count, np.int64), np.empty(count)
    begin = int(np.floor(np.rint(first * PLACES) / PLACES)) - 1
    for k in range(count):
        place = np.rint((first + k * step) * PLACES) / PLACES
        whole = np.floor(place)
        cell[k], share[k] = np.int64(whole) - begin, place - whole
    return cell, share, begin + cells // 2


@njit(cache=True, nogil=True)
def mix_down(
    grid: NDArray[np.float32], first_col: int, at: float, above: int, below: int, line: NDArray[np.float64]
) -> None:
    """Fill `line` with what lies `at` rows from the map's middle, from a column of the map on: between
    the rows `above` and `below` the one that the place lies in."""
    rows, cols = grid.shape
    place = np.rint(at * PLACES) / PLACES
    whole = np.floor(place)
    share, row = place - whole, np.int64(whole) + rows // 2
    top, low = grid[min(max(row + above, 0), rows - 1)], grid[min(max(row + below, 0), rows - 1)]
    for k in range(len(line)):
        c = min(max(first_col + k, 0), cols - 1)
        line[k] = top[c] * (1.0 - share) + low[c] * share
