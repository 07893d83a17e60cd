"""How much thread lies over each place, and how far the cloth below shows through it.

Light passes between and through filaments and is thrown back by what lies below. A layer of thread of
some thickness over cloth is taken as Kubelka and Munk (1931) take a layer of paint: its colour, that
of the cloth and how strongly thread scatters say what it shows. On cloth of its own colour thread shows
itself, however thin.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart
from render.compiled import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Thicknesses at which what thread shows is worked out; the last is as good as opaque.
PER_MM, STEPS = 100.0, 64
FINE = 64.0  # places in a cell between which no difference is made: products of weights are exact then
PALEST = 0.98


def shown_shares(
    thread_linear: NDArray[np.float64], below_linear: NDArray[np.float64], scatter_per_mm: NDArray[np.float64]
) -> NDArray[np.float32]:
    """What threads (T, 3) lying on something of that colour (3,) show of their light, relative to what
    they show of it where they lie deep: (T, STEPS, 3), by thickness in steps of 1 / `PER_MM` mm.

    `scatter_per_mm (T,)` is Kubelka and Munk's S.
    """
    deep = np.clip(thread_linear, 1e-4, PALEST)[:, None, :]
    below = np.clip(below_linear, 0.0, 1.0)
    thickness = np.arange(STEPS)[:, None] / PER_MM
    a = 0.5 * (1.0 / deep + deep)
    b = 0.5 * (1.0 / deep - deep)
    # The hyperbolic cotangent, without its pole at no thickness.
    tanh = np.tanh(b * scatter_per_mm[:, None, None] * thickness)
    shown = ((1.0 - a * below) * tanh + b * below) / ((a - below) * tanh + b)
    return np.asarray(shown / deep, np.float32)


@njit(cache=True, nogil=True)
def thickness_at(
    thread_mm: NDArray[np.float32], frame: NDArray[np.float64], out: NDArray[np.float32]
) -> None:
    """Fill `out` with the thickness of thread at each pixel, smoothed between the cells of the map by a
    quadratic spline. `frame` is (x, y of the first pixel from the map's middle, step), in map cells; beyond
    the map there is none."""
    rows, cols = out.shape
    map_rows, map_cols = thread_mm.shape
    cells, weights, down = np.empty(cols, np.int32), np.empty((3, cols)), np.empty(3)
    begin = _nearest(frame[0], map_cols, down) - 1
    for c in range(cols):
        cells[c] = _nearest(frame[0] + c * frame[2], map_cols, down) - begin
        weights[0, c], weights[1, c], weights[2, c] = down
    line = np.zeros(cells[-1] + 2)
    first, stop = max(-begin, 0), min(map_cols - begin, len(line))
    for r in range(rows):
        row = _nearest(frame[1] + r * frame[2], map_rows, down)
        if row < 1 or row >= map_rows - 1 or stop <= first:
            out[r] = 0.0
            continue
        some = slice(begin + first, begin + stop)
        above, level, below = thread_mm[row - 1, some], thread_mm[row, some], thread_mm[row + 1, some]
        blend(above, level, below, down, line[first:stop])
        read_line(line, cells, weights[0], weights[1], weights[2], out[r])


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def blend(
    above: NDArray[np.float32],
    level: NDArray[np.float32],
    below: NDArray[np.float32],
    weights: NDArray[np.float64],
    out: NDArray[np.float64],
) -> None:
    """Three rows in one."""
    for c in range(len(out)):
        out[c] = weights[0] * above[c] + weights[1] * level[c] + weights[2] * below[c]


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def read_line(
    line: NDArray[np.float64],
    cells: NDArray[np.int32],
    before: NDArray[np.float64],
    here: NDArray[np.float64],
    after: NDArray[np.float64],
    out: NDArray[np.float32],
) -> None:
    """What a line holds around each cell, weighted."""
    for c in range(len(out)):
        k = np.uintp(cells[c])
        total = before[c] * line[k - np.uintp(1)] + here[c] * line[k] + after[c] * line[k + np.uintp(1)]
        out[c] = np.float32(total)


@njit(cache=True, nogil=True, inline="always")
def _nearest(place: float, cells: int, weights: NDArray[np.float64]) -> Any:
    """The cell that a place is in, and the weights of the one before, of it and of the one after."""
    fine = np.rint(place * FINE) / FINE
    whole = np.floor(fine + 0.5)
    off = fine - whole
    weights[0] = 0.5 * (0.5 - off) ** 2
    weights[1] = 0.75 - off * off
    weights[2] = 0.5 * (0.5 + off) ** 2
    return np.int64(whole) + cells // 2
