"""What a stitch does to the cloth under it: how it draws two points together, and where.

A stitch between material points X1 and X2, along d, contracts by c = -d . (u(X2) - u(X1)).
The compiled kernels work on nodal displacements u (N, 2) of the grid; a point is given
by the lower corner `node` of its cell and its shares `fraction` across it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numba import njit

from render.model import freeze

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.sew.grid import Grid

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

TAKE_UP_MM, TAKE_UP_SHARE = 0.10, 0.02  # a stitch of length L goes slack after 0.10 + 0.02 L mm


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Points within the grid: lower corner `node (P,)` of the cell and `fraction (P, 2)` across it."""

    node: Ints
    fraction: Floats

    def __post_init__(self) -> None:
        freeze(self, node=(-1,), fraction=(len(self.node), 2))

    def __getitem__(self, part: slice) -> Places:
        return Places(self.node[part], self.fraction[part])


def locate(grid: Grid, points_mm: Floats) -> Places:
    """Where points (P, 2) lie in the grid; those outside are taken to its edge."""
    cols = len(grid.x_mm)
    i, fx = _between(grid.x_mm, points_mm[:, 0])
    j, fy = _between(grid.y_mm, points_mm[:, 1])
    return Places(j * cols + i, np.stack([fx, fy], 1))


def locate_lines(grid: Grid, x_mm: Floats, y_mm: Floats) -> Places:
    """Where all crossings of lines at `x_mm (C,)` and `y_mm (R,)` lie in the grid, row by row."""
    (i, fx), (j, fy) = _between(grid.x_mm, x_mm), _between(grid.y_mm, y_mm)
    node = (j[:, None] * len(grid.x_mm) + i).ravel()
    return Places(node, np.stack([np.tile(fx, len(fy)), np.repeat(fy, len(fx))], 1))


def _between(line_mm: Floats, value_mm: Floats) -> tuple[Ints, Floats]:
    i = np.clip(np.searchsorted(line_mm, value_mm, side="right") - 1, 0, len(line_mm) - 2)
    return i, np.clip((value_mm - line_mm[i]) / (line_mm[i + 1] - line_mm[i]), 0.0, 1.0)


@njit(cache=True)
def at_points(u: Floats, node: Ints, fraction: Floats, cols: int, out: Floats) -> None:
    """Bilinear values of a nodal field (N, D) at points, into `out (P, D)`."""
    for p in range(len(node)):
        n, a, b = node[p], fraction[p, 0], fraction[p, 1]
        for d in range(u.shape[1]):
            low = u[n, d] * (1 - a) + u[n + 1, d] * a
            high = u[n + cols, d] * (1 - a) + u[n + cols + 1, d] * a
            out[p, d] = low * (1 - b) + high * b


@njit(cache=True)
def spread(values: Floats, node: Ints, fraction: Floats, cols: int, out: Floats) -> None:
    """Add values (P, D) at points to the nodes around them (N, D): the transpose of `at_points`."""
    for p in range(len(node)):
        n, a, b = node[p], fraction[p, 0], fraction[p, 1]
        for d in range(values.shape[1]):
            low, high = values[p, d] * (1 - b), values[p, d] * b
            out[n, d] += low * (1 - a)
            out[n + 1, d] += low * a
            out[n + cols, d] += high * (1 - a)
            out[n + cols + 1, d] += high * a


@njit(cache=True)
def contractions(
    u: Floats, within: Floats, node: Ints, fraction: Floats, direction: Floats, cols: int, out: Floats
) -> None:
    """How far each stitch has been drawn together (S,), mm; rows 2 s and 2 s + 1 are its ends.

    `within (N, 2)` is how far the cloth moves within the cell at each node, see `Cloth.give_within`.
    """
    for s in range(len(direction)):
        total = 0.0
        for end in range(2):
            p = 2 * s + end
            n, a, b = node[p], fraction[p, 0], fraction[p, 1]
            moved = 0.0
            for d in range(2):
                low = u[n, d] * (1 - a) + u[n + 1, d] * a
                high = u[n + cols, d] * (1 - a) + u[n + cols + 1, d] * a
                share = fraction[p, d]
                value = low * (1 - b) + high * b + 4 * share * (1 - share) * within[n, d]
                moved += direction[s, d] * value
            total += moved if end == 0 else -moved
        out[s] = total


@njit(cache=True)
def pull(
    tension: Floats,
    node: Ints,
    fraction: Floats,
    direction: Floats,
    cols: int,
    out: Floats,
    within: Floats,
) -> None:
    """Add the forces of stitches under tension (S,) to nodes (N, 2) and cells (N, 2).

    The transpose of `contractions`.
    """
    for s in range(len(direction)):
        for end in range(2):
            p = 2 * s + end
            n, a, b = node[p], fraction[p, 0], fraction[p, 1]
            for d in range(2):
                share = fraction[p, d]
                force = tension[s] * direction[s, d] * (1.0 - 2.0 * end)
                out[n, d] += force * (1 - a) * (1 - b)
                out[n + 1, d] += force * a * (1 - b)
                out[n + cols, d] += force * (1 - a) * b
                out[n + cols + 1, d] += force * a * b
                within[n, d] += force * 4 * share * (1 - share)


@njit(cache=True)
def within_cells(within: Floats, node: Ints, fraction: Floats, out: Floats) -> None:
    """Add the movement within cells (N, 2) to points (P, 2)."""
    for p in range(len(node)):
        for d in range(2):
            share = fraction[p, d]
            out[p, d] += 4 * share * (1 - share) * within[node[p], d]
