"""The cells of a map that lie under a strand: places across it at each of its samples."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart
from render.compiled import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Room = tuple[Floats, Floats, Floats, Floats, Floats, NDArray[np.int32], Floats]

# Not a binary fraction: no needle point then falls on a border between two cells, which
# would go to the one or the other side as the design is turned.
CELL_MM = 0.0977
PER_MM = 1.0 / CELL_MM
LEAST_MM = 1e-6  # a shorter stitch lies on the spot
APART_CELLS = 0.7  # between two places across a strand, at most
LANES = 8  # samples that are worked on at a time
_f, _i = np.float32, np.int32


@njit(cache=True, nogil=True, error_model="numpy")
def room_for(section: Floats, first: NDArray[np.int64], chosen: NDArray[np.int64]) -> Room:
    """Room to work in for the longest and the widest of chosen strands, see `places`."""
    longest, widest = 0, _f(0.0)
    for i in chosen:
        longest = max(longest, first[i + 1] - first[i])
        for k in range(first[i], first[i + 1]):
            widest = max(widest, section[k, 0] + section[k, 1])
    wide = lanes(longest)
    most = 2 * int(np.ceil(0.5 * widest * PER_MM / APART_CELLS)) + 3
    return (
        np.empty(wide, np.float32),
        np.empty(wide, np.float32),
        np.empty(wide, np.float32),
        np.empty(wide, np.float32),
        np.empty(wide, np.float32),
        np.empty(wide * most, np.int32),
        np.empty(wide * most, np.float32),
    )


@njit(cache=True, nogil=True)
def box_of(start: NDArray[np.float64], end: NDArray[np.float64]) -> NDArray[np.float64]:
    """Left, top, right, bottom of strands (N, 2); of none all are 0."""
    box = np.zeros(4)
    for axis in range(2):
        for i in range(len(start)):
            low, high = min(start[i, axis], end[i, axis]), max(start[i, axis], end[i, axis])
            box[axis] = low if i == 0 else min(box[axis], low)
            box[2 + axis] = high if i == 0 else max(box[2 + axis], high)
    return box


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def lanes(samples: Any) -> Any:
    """Samples with what fills their last lanes."""
    return (samples + LANES - 1) // LANES * LANES


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def way_of(
    i: int, start: NDArray[np.float64], end: NDArray[np.float64], rows: int, cols: int
) -> tuple[Any, Any, Any, Any, Any, Any, Any, Any]:
    """Length in mm of strand i and, in cells of a map around the origin: the number of the cell in which it
    starts, where in that (from its middle), its run, and a mm to its right.

    Told from a cell's middle: small numbers are precise enough then, and alike however the map is turned.
    """
    run_x, run_y = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]
    length = np.sqrt(run_x * run_x + run_y * run_y)
    per_mm = PER_MM / max(length, 1e-9)
    x, y = start[i, 0] * PER_MM, start[i, 1] * PER_MM
    col, row = np.rint(x), np.rint(y)
    cell = (np.int64(row) + rows // 2) * cols + np.int64(col) + cols // 2
    side_x, side_y = _f(-run_y * per_mm), _f(run_x * per_mm)
    return length, cell, _f(x - col), _f(y - row), _f(run_x * PER_MM), _f(run_y * PER_MM), side_x, side_y


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def sample_at(
    k: Any, at: int, n: int, way: tuple[Any, Any, Any, Any, Any, Any, Any, Any], section: Floats
) -> tuple[Any, Any, Any, Any, Any]:
    """Of sample k of a strand of n, whose rows begin with `at`: its share of the way, its middle in cells,
    half-width and half-height there. Beyond the last all are as the last."""
    _, _, x, y, run_x, run_y, side_x, side_y = way
    own = min(_i(k), _i(n - 1))
    row = np.uintp(3 * (at + own))
    left, right, b = section[row], section[row + np.uintp(1)], section[row + np.uintp(2)]
    middle, t = _f(0.5) * (right - left), _f(own) * (_f(1.0) / _f(n - 1))
    return t, x + run_x * t + side_x * middle, y + run_y * t + side_y * middle, _f(0.5) * (right + left), b


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def places(
    at: int,
    n: int,
    way: tuple[Any, Any, Any, Any, Any, Any, Any, Any],
    cols: int,
    section: Floats,
    x: Floats,
    y: Floats,
    step: Floats,
    count: Floats,
    high: Floats,
    cells: NDArray[np.int32],
    bulge: Floats,
) -> int:
    """Fill in `cells`, from the one that a strand starts in, and by how many mm its surface lies above its
    middle there: rows of as many as `lanes` has of n, a row for each place across. Gives their number.

    `way` is that of `way_of`, the strand's sections (flat) begin with row `at`; the other arrays are room for
    a row. Where a strand has fewer places they are the middle's, with no bulge; each `step` is that in mm
    from place to place.
    """
    wide = lanes(n)
    most, room = _i(0), _i((len(cells) // wide - 1) // 2)
    for k in range(wide):
        _, x[k], y[k], a, high[k] = sample_at(k, at, n, way, section)
        steps = min(_i(np.ceil(a * _f(PER_MM / APART_CELLS))), room)
        most = max(most, steps)
        count[k] = _f(steps)
        step[k] = a / (_f(steps) + _f(0.5))
    side_x, side_y = way[6], way[7]
    for m in range(2 * most + 1):
        for k in range(wide):
            j = _f(_i(m) - most)
            within = abs(j) <= count[k]
            j = j if within else _f(0.0)
            aside, v = j * step[k], j / (count[k] + _f(0.5))
            row = _i(np.rint(y[k] + side_y * aside))
            cells[np.uintp(m * wide + k)] = row * _i(cols) + _i(np.rint(x[k] + side_x * aside))
            above = high[k] * np.sqrt(max(_f(1.0) - v * v, _f(0.0)))
            bulge[np.uintp(m * wide + k)] = above if within else _f(0.0)
    return 2 * int(most) + 1
