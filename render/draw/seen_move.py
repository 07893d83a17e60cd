"""How far the cloth that is seen at a place has moved to get there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from render.compiled import njit
from render.model import freeze

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.aside import Aside
    from render.model import ClothMove

    Places = NDArray[np.floating[Any]]

FINER = 4  # places where the way back is solved, to a cell of the cloth's grid: between them it runs straight
ROUNDS = 3  # each brings a place nearer by a factor of the cloth's strain, a tenth at most


@dataclass(frozen=True, slots=True, eq=False)
class SeenMove:
    """How far the cloth seen at evenly spaced places has moved: `back_mm` (rows, cols, 2), x and y.

    Places are numbered from `origin_mm`, `step_mm` apart, `count` (cols, rows) of them in all; those held
    begin with number `first` (col, row). Beyond the last ones the cloth has moved as there.
    Its yarns lie `aside` of where that puts them, by the sum of these.
    """

    back_mm: NDArray[np.float64]
    origin_mm: tuple[float, float]
    step_mm: float
    count: tuple[int, int]
    first: tuple[int, int]
    aside: tuple[Aside, ...] = ()

    def __post_init__(self) -> None:
        freeze(self, back_mm=(-1, -1, 2))

    def cells(self, at_mm: Places, axis: int) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """Of places along x (axis 0) or y (1): which of those held lies before, and the share of the way to
        the next."""
        cell, share = _cells(at_mm, self.origin_mm[axis], self.step_mm, self.count[axis])
        return cell - self.first[axis], share


def seen_move(move: ClothMove, x_mm: Places, y_mm: Places, aside: tuple[Aside, ...] = ()) -> SeenMove:
    """Around columns `x_mm` and rows `y_mm`, which rise."""
    rows, cols = move.u_mm.shape[:2]
    count, step = (FINER * (cols - 1) + 1, FINER * (rows - 1) + 1), move.cell_mm / FINER
    held = [
        _cells(at[[0, -1]], origin, step, n)[0]
        for at, origin, n in zip((x_mm, y_mm), move.origin_mm, count, strict=True)
    ]
    (left, right), (top, bottom) = (ends.tolist() for ends in held)
    frame = np.array([*move.origin_mm, move.cell_mm])
    back = way_back(move.u_mm, frame, np.array([left, top, right + 2, bottom + 2]))
    return SeenMove(back, (float(frame[0]), float(frame[1])), step, count, (left, top), aside)


def _cells(
    at_mm: Places, origin_mm: float, step_mm: float, count: int
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    place = np.clip((at_mm - origin_mm) / step_mm, 0.0, count - 1.0)
    cell = np.minimum(place.astype(np.int64), count - 2)
    return cell, place - cell


@njit(cache=True, nogil=True, error_model="numpy")
def way_back(u: NDArray[np.float64], frame: NDArray[np.float64], held: NDArray[np.int64]) -> Any:
    """Solve place = first + u(first) for places numbered `held` (left, top, right, bottom), `FINER` to a
    cell of the grid; `frame` is its first point and its cell in mm. Gives how far each has moved."""
    rows, cols = u.shape[:2]
    out = np.empty((held[3] - held[1], held[2] - held[0], 2))
    for i in range(out.shape[0]):
        for j in range(out.shape[1]):
            x, y = (held[0] + j) / FINER, (held[1] + i) / FINER
            right = down = 0.0
            for _ in range(ROUNDS):
                c = min(max(x - right / frame[2], 0.0), cols - 1.0)
                r = min(max(y - down / frame[2], 0.0), rows - 1.0)
                k, h = min(int(c), cols - 2), min(int(r), rows - 2)
                p, q = c - k, r - h
                right = (u[h, k, 0] * (1 - p) + u[h, k + 1, 0] * p) * (1 - q)
                right += (u[h + 1, k, 0] * (1 - p) + u[h + 1, k + 1, 0] * p) * q
                down = (u[h, k, 1] * (1 - p) + u[h, k + 1, 1] * p) * (1 - q)
                down += (u[h + 1, k, 1] * (1 - p) + u[h + 1, k + 1, 1] * p) * q
            out[i, j, 0], out[i, j, 1] = right, down
    return out
