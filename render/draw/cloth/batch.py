"""The pixels of a row that are laid at once, and where they lie on the cloth.

What is known of them lies in rows of `BATCH` numbers of one array, as in `render.draw.lit_thread`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numba import njit

from render.apart import Apart

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Places = NDArray[np.floating[Any]]
    Wholes = NDArray[np.int32]

BATCH = 512
# What a place shows of the tile: one corner's share always, sometimes those of two more.
SEEN = 3 * BATCH
# Rows of numbers: the place's lightness, shares of its second and third corner; of all that is seen its
# share, and what comes of it, RGB and height.
GAIN, SECOND, THIRD = (BATCH * row for row in range(3))
SHARE, RED, GREEN, BLUE, LEVEL, NUMBERS = (3 * BATCH + SEEN * row for row in range(6))
# And of whole numbers: the place in steps of 1/65536 texel, shifts of its second and third corner; of all
# that is seen its column in the rectangle and its place in the tile.
AT_X, AT_Y, TWO, THREE = (BATCH * row for row in range(4))
COLUMN, X, Y, NAMES = (4 * BATCH + SEEN * row for row in range(4))


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def choose(wanted: NDArray[np.bool_], begin: int, names: Wholes) -> tuple[int, int]:
    """The wanted columns from `begin` on, as many as make a batch, and where the next one begins."""
    count = 0
    while begin < len(wanted) and count < BATCH:
        names[COLUMN + count] = begin
        count += wanted[begin]
        begin += 1
    return count, begin


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def go_to(count: int, names: Wholes, places: Places, x_mm: Places, y_mm: float, axes: Places) -> None:
    """Where on the cloth the chosen columns lie, mm."""
    for j in range(count):
        x = x_mm[np.uintp(names[COLUMN + j])]
        places[j] = axes[0, 0] * x + axes[0, 1] * y_mm
        places[BATCH + j] = axes[1, 0] * x + axes[1, 1] * y_mm


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def go_back(
    count: int,
    names: Wholes,
    places: Places,
    x_mm: Places,
    y_mm: float,
    axes: Places,
    line: Places,
    cell: NDArray[np.int64],
    share: Places,
) -> None:
    """The same on cloth that has moved, as a `line` of places says, (x, y) of one after the other."""
    for j in range(count):
        c = np.uintp(names[COLUMN + j])
        k, w = np.uintp(2 * cell[c]), share[c]
        right = line[k] + (line[k + np.uintp(2)] - line[k]) * w
        down = line[k + np.uintp(1)] + (line[k + np.uintp(3)] - line[k + np.uintp(1)]) * w
        x, y = x_mm[c] - right, y_mm - down
        places[j] = axes[0, 0] * x + axes[0, 1] * y
        places[BATCH + j] = axes[1, 0] * x + axes[1, 1] * y


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def mix_rows(above: Places, below: Places, share: float, line: Places) -> None:
    """Fill `line` with what lies between two rows."""
    for k in range(len(line)):
        line[k] = above[k] + (below[k] - above[k]) * share
