"""How far the cloth that is seen at a place has moved to get there."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numba import njit

from render.draw.apart import Apart

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import ClothMove, Floats


def seen_move_mm(
    move: ClothMove, x_mm: Floats, y_mm: Floats, wanted: NDArray[np.bool_] | None = None
) -> NDArray[np.float64]:
    """How far the cloth seen at columns `x_mm` and rows `y_mm` has moved, (rows, cols, 2).

    In rows with no `wanted (rows, cols)` pixel it stays 0.
    """
    if wanted is None:
        wanted = np.ones((len(y_mm), len(x_mm)), np.bool_)
    return moved_at(move.u_mm, np.array([*move.origin_mm, move.cell_mm]), x_mm, y_mm, wanted)


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def moved_at(
    u: NDArray[np.float64],
    frame: NDArray[np.float64],
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    wanted: NDArray[np.bool_],
) -> NDArray[np.float64]:
    """Solve place = origin + u(origin) for each place by two steps; `frame` is the grid's
    first point and its cell in mm, beyond it the cloth moves as at its edge."""
    out = np.zeros((len(y), len(x), 2))
    flat, across, down = u.ravel(), u.shape[1], u.shape[0]
    for i in range(len(y)):
        if not wanted[i].any():
            continue
        # Whole rows without a branch, which the compiler takes several places of at a time.
        for j in range(len(x)):
            right, below = _move(flat, across, down, frame, x[j], y[i])
            right, below = _move(flat, across, down, frame, x[j] - right, y[i] - below)
            out[i, j, 0], out[i, j, 1] = right, below
    return out


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _move(u: NDArray[np.float64], cols: int, rows: int, frame: NDArray[np.float64], x: Any, y: Any) -> Any:
    """How far the cloth at a place has moved, between four points of the grid."""
    c = min(max((x - frame[0]) / frame[2], 0.0), cols - 1.000001)
    r = min(max((y - frame[1]) / frame[2], 0.0), rows - 1.000001)
    k, h = np.int32(c), np.int32(r)
    p, q = c - k, r - h
    one, two = np.uintp(2 * (h * cols + k)), np.uintp(2 * (h * cols + cols + k))
    a, b, d = np.uintp(1), np.uintp(2), np.uintp(3)
    w00, w01, w10, w11 = (1 - p) * (1 - q), p * (1 - q), (1 - p) * q, p * q
    right = u[one] * w00 + u[one + b] * w01 + u[two] * w10 + u[two + b] * w11
    return right, u[one + a] * w00 + u[one + d] * w01 + u[two + a] * w10 + u[two + d] * w11
