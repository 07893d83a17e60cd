"""Coarse maps read between their cells along rows of pixels: cells are first mixed down to a line.

A place is (x, y) from the map's middle, in cells, on a binary grid: where the cells' values are on
one as well, mixing is exact, however the map is turned. Beyond the map lies what lies at its edge.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart
from render.compiled import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Cells = NDArray[np.int16] | NDArray[np.float32]

# Steps of a place in a cell. Depths on a grid of 1/4096 mm below a mm are then mixed exactly both ways in
# single precision, which holds 24 bits.
PLACES = 64.0
_f = np.float32


@njit(cache=True, nogil=True)
def places_along(
    first: float, step: float, count: int, cells: int
) -> tuple[NDArray[np.int32], NDArray[np.float32], int]:
    """Of evenly spaced places along a side of so many cells: each one's cell, counted from one before
    the first place's, and its share of the way to the next; and the cell that is counted from."""
    cell, share = np.empty(count, np.int32), np.empty(count, np.float32)
    begin = int(np.floor(np.rint(first * PLACES) / PLACES)) - 1
    for k in range(count):
        place = np.rint((first + k * step) * PLACES) / PLACES
        whole = np.floor(place)
        cell[k], share[k] = np.int64(whole) - begin, place - whole
    return cell, share, begin + cells // 2


@njit(cache=True, nogil=True)
def mix_down(
    grid: Cells, unit: Any, first_col: int, at: float, above: int, below: int, line: NDArray[np.float32]
) -> None:
    """Fill `line` with what lies `at` rows from the map's middle, from a column of the map on: between
    the rows `above` and `below` the one that the place lies in. A cell's 1 is one `unit` (float32) of what
    the line holds: where that is a power of two, nothing is rounded."""
    rows, cols = grid.shape
    place = np.rint(at * PLACES) / PLACES
    whole = np.floor(place)
    share, row = _f(place - whole), np.int64(whole) + rows // 2
    top, low = grid[min(max(row + above, 0), rows - 1)], grid[min(max(row + below, 0), rows - 1)]
    begin, stop = min(max(-first_col, 0), len(line)), max(min(cols - first_col, len(line)), 0)
    inside = slice(first_col + begin, first_col + stop)
    mix_rows(top[inside], low[inside], share, unit, line[begin:stop])
    for k in range(begin):
        line[k] = _in_units(top[0], low[0], share, unit)
    for k in range(max(stop, begin), len(line)):
        line[k] = _in_units(top[cols - 1], low[cols - 1], share, unit)


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def mix_rows(top: Cells, low: Cells, share: Any, unit: Any, line: NDArray[np.float32]) -> None:
    """Fill `line` with what lies so far between two rows: counted from 0, cells are taken many at a time."""
    for k in range(len(line)):
        line[k] = _in_units(top[k], low[k], share, unit)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _in_units(before: Any, after: Any, share: Any, unit: Any) -> Any:
    return mixed(_f(before), _f(after), share) * unit


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def mixed(before: Any, after: Any, share: Any) -> Any:
    """What lies so far between two numbers: exact where they are on a binary grid."""
    return before + (after - before) * share
