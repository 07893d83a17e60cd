"""Where on its strand each pixel lies that shows it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart
from render.compiled import njit
from render.draw.profile import ASIDE, SLIMNESS, course_at
from render.draw.span import columns_in

if TYPE_CHECKING:
    from numpy.typing import NDArray

_f = np.float32
_i = np.int32


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def note_places(
    i: int,
    low: int,
    stop: int,
    cols: int,
    lean: Any,
    higher: NDArray[np.float32],
    frame: NDArray[np.float64],
    shape: NDArray[np.float32],
    first: int,
    last: int,
    course: NDArray[np.float32],
    strands: NDArray[np.int32],
    along: NDArray[np.float32],
    across: NDArray[np.float32],
) -> None:
    """Where on strand i each of its pixels lies that shows it, as `lay_strand`."""
    for r in range(low, stop):
        left, count = columns_in(r, cols, frame)
        x, y, at = _f(left - frame[0]) + (lean if r & 1 == 0 else -lean), _f(r - frame[1]), r * cols + left
        from_left = np.uintp(left)
        for j in range(count):
            c = np.uintp(at + j)
            down = y - higher[from_left + np.uintp(j)]
            inside, v = _surface(x + _f(_i(j)), down, shape, first, last, course)
            shown = strands[c] == i
            along[c], across[c] = inside / shape[2] if shown else along[c], v if shown else across[c]


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _surface(
    x: Any, y: Any, shape: NDArray[np.float32], first: Any, last: Any, course: NDArray[np.float32]
) -> tuple[Any, Any]:
    """Of a place x, y from a strand's start: how far along and across it is. `shape` is the strand's
    direction, its length, samples a pixel and one over the length of its caps."""
    tx, ty, length = shape[0], shape[1], shape[2]
    inside = min(max(x * tx + y * ty, _f(0.0)), length)
    k = inside * shape[3]
    whole = min(_i(k), _i(last))
    w, here = k - _f(whole), np.uintp(first + whole)
    return inside, (y * tx - x * ty - course_at(course, here, w, ASIDE)) * course_at(
        course, here, w, SLIMNESS
    )
