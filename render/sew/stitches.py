"""What a stitch does to the cloth under it: how it draws two points together, and where.

A stitch between material points X1 and X2, along d, contracts by c = -d . (u(X2) - u(X1)).
The compiled kernels work on nodal displacements u (N, 2) of the grid; a point is given by the
lower corner `node` of the nodes about it and their `weights` along x and y. A stitch's end bears
on a spot of the cloth `BEARING_MM` wide, whatever the grid: of a force at a point the answer would
depend on where in its cell it lies, and grow without end on ever finer cells. On cells as wide as
the spot these are the weights of quadratic B-splines. Source: Peskin, Acta Numerica 11 (2002) 479,
section 6, on forces spread over a grid so that it matters little where they lie.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.compiled import njit
from render.model import freeze

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.sew.grid import Grid

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

TAKE_UP_MM, TAKE_UP_SHARE = 0.10, 0.02  # a stitch of length L goes slack after 0.10 + 0.02 L mm
ON_LINE_MM = 1e-6  # as near a point counts as on a line of the grid, whichever way all is turned
BEARING_MM = 1.0  # estimate: needle hole, thread and the yarns beside it


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Points within the grid: lower corner `node (P,)` of the nodes about each, and their `weights`.

    Those `(P, 2, W)` are of columns and of rows. Of a single point W is 2: the corners of its cell.
    """

    node: Ints
    weights: Floats

    def __post_init__(self) -> None:
        freeze(self, node=(-1,), weights=(len(self.node), 2, self.weights.shape[2]))

    def __getitem__(self, part: slice) -> Places:
        return Places(self.node[part], self.weights[part])


@dataclass(slots=True, eq=False)
class Ends:
    """Where ends of stitches (P,) bear on the cloth.

    The first of two `cells (P, 2, 2)` is for movement along x, or y, within cells, and `humps (P, 2, 2)`
    how much of that an end feels, see `Cloth.give_within`: a spot can lie on two cells side by side.
    """

    node: Ints
    weights: Floats
    cells: Ints
    humps: Floats

    def __getitem__(self, some: slice | Ints) -> Ends:
        return Ends(self.node[some], self.weights[some], self.cells[some], self.humps[some])

    def put(self, some: slice, ends: Ends) -> None:
        """Replace some of them."""
        self.node[some], self.weights[some] = ends.node, ends.weights
        self.cells[some], self.humps[some] = ends.cells, ends.humps


def ends_at(grid: Grid, points_mm: Floats, reach: int) -> Ends:
    """The ends of stitches at points (P, 2); `reach` is `reach_of(grid, BEARING_MM)` or more."""
    count, cols = len(points_mm), len(grid.x_mm)
    weights, beside, share = (
        np.empty((count, 2, reach)),
        np.empty((2, count, 2), np.int64),
        np.empty((2, count)),
    )
    first, cell = np.empty((2, 2, count), np.int64)
    bulge = np.empty((2, count))
    for axis, line_mm in enumerate((grid.x_mm, grid.y_mm)):
        at, spot = points_mm[:, axis], weights[:, axis]
        on_lines(line_mm, at, BEARING_MM, first[axis], spot)
        on_cells(line_mm, at, BEARING_MM, cell[axis], bulge[axis], beside[axis], share[axis])
    cells = np.stack([beside[1] * cols + cell[0][:, None], cell[1][:, None] * cols + beside[0]], 1)
    aside = np.stack([share[::-1], 1 - share[::-1]], 2)
    return Ends(first[1] * cols + first[0], weights, cells, np.swapaxes(bulge[:, :, None] * aside, 0, 1))


def reach_of(grid: Grid, wide_mm: float) -> int:
    """Lines of the grid, one way, that a spot so wide can lie on."""
    narrowest = min(np.diff(grid.x_mm).min(), np.diff(grid.y_mm).min())
    return 2 + int(np.ceil(wide_mm / narrowest - 1e-6))


def locate(grid: Grid, points_mm: Floats, wide_mm: float = 0.0) -> Places:
    """Where points (P, 2), or spots about them, lie in the grid; those outside are taken to its edge."""
    weights = np.empty((len(points_mm), 2, reach_of(grid, wide_mm) if wide_mm else 2))
    i, j = np.empty((2, len(points_mm)), np.int64)
    on_lines(grid.x_mm, points_mm[:, 0], wide_mm, i, weights[:, 0])
    on_lines(grid.y_mm, points_mm[:, 1], wide_mm, j, weights[:, 1])
    return Places(j * len(grid.x_mm) + i, weights)


def locate_lines(grid: Grid, x_mm: Floats, y_mm: Floats) -> Places:
    """Where all crossings of lines at `x_mm (C,)` and `y_mm (R,)` lie in the grid, row by row."""
    across, down = np.zeros((len(x_mm), 2)), np.zeros((len(y_mm), 2))
    across[:, 0], down[:, 1] = x_mm, y_mm
    x, y = locate(grid, across + (0, grid.y_mm[0])), locate(grid, down + (grid.x_mm[0], 0))
    node = (y.node[:, None] + x.node).ravel()
    weights = [np.tile(x.weights[:, 0], (len(y_mm), 1)), np.repeat(y.weights[:, 1], len(x_mm), axis=0)]
    return Places(node, np.stack(weights, 1))


@njit(cache=True)
def on_lines(line: Floats, value: Floats, wide: float, first: Ints, weights: Floats) -> None:
    """First line on which each value (P,), or the stretch so wide about it, lies, and the lines' weights.

    The weights (P, W) are the lines' linear shape functions, averaged over the stretch.
    """
    low, high, reach = line[0], line[-1], weights.shape[1]
    for p in range(len(value)):
        middle = min(max(value[p], low), high)
        start, end = max(middle - 0.5 * wide, low), min(middle + 0.5 * wide, high)
        cell, beyond = 0, len(line) - 1
        while beyond - cell > 1:
            between = (cell + beyond) // 2
            if line[between] <= start:
                cell = between
            else:
                beyond = between
        at = min(cell, len(line) - reach)
        first[p] = at
        for k in range(reach):
            weights[p, k] = 0.0
        if wide == 0.0:
            share = (middle - line[cell]) / (line[cell + 1] - line[cell])
            weights[p, cell - at], weights[p, cell + 1 - at] = 1.0 - share, share
            continue
        while cell < len(line) - 1 and line[cell] < end:
            left, right = max(start, line[cell]), min(end, line[cell + 1])
            share = (0.5 * (left + right) - line[cell]) / (line[cell + 1] - line[cell])
            much = (right - left) / (end - start)
            weights[p, cell - at] += much * (1.0 - share)
            weights[p, cell + 1 - at] += much * share
            cell += 1


@njit(cache=True)
def on_cells(
    line: Floats, value: Floats, wide: float, cell: Ints, bulge: Floats, beside: Ints, share: Floats
) -> None:
    """The cell of each value (P,), the height there of a parabola one high in its middle, and cells beside.

    On the two cells `beside (P, 2)` lies the stretch so wide about it, with its `share (P,)` on the first. Of
    a stretch on more than two they are its outermost.
    """
    most = len(line) - 2
    for p in range(len(value)):
        middle = min(max(value[p], line[0]), line[-1])
        start, end = max(middle - 0.5 * wide, line[0]), min(middle + 0.5 * wide, line[-1])
        low = min(np.searchsorted(line, start, "right") - 1, most)
        at = low
        while at < most and line[at + 1] <= middle:
            at += 1
        high = at
        while high < most and line[high + 1] < end:
            high += 1
        a = (middle - line[at]) / (line[at + 1] - line[at])
        cell[p], bulge[p] = at, 4 * a * (1 - a)
        beside[p, 0], beside[p, 1] = low, high
        share[p] = min((line[low + 1] - start) / (end - start), 1.0)


@njit(cache=True)
def at_points(u: Floats, node: Ints, weights: Floats, cols: int, out: Floats) -> None:
    """Values of a nodal field (N, D) at points, into `out (P, D)`."""
    reach = weights.shape[2]
    for p in range(len(node)):
        for d in range(u.shape[1]):
            value = 0.0
            for j in range(reach):
                in_row = 0.0
                for i in range(reach):
                    in_row += weights[p, 0, i] * u[node[p] + j * cols + i, d]
                value += weights[p, 1, j] * in_row
            out[p, d] = value


@njit(cache=True)
def spread(values: Floats, node: Ints, weights: Floats, cols: int, out: Floats) -> None:
    """Add values (P, D) at points to the nodes around them (N, D): the transpose of `at_points`."""
    reach = weights.shape[2]
    for p in range(len(node)):
        for j in range(reach):
            for i in range(reach):
                n, share = node[p] + j * cols + i, weights[p, 1, j] * weights[p, 0, i]
                if share != 0.0:
                    for d in range(values.shape[1]):
                        out[n, d] += share * values[p, d]


@njit(cache=True)
def contractions(u: Floats, node: Ints, weights: Floats, direction: Floats, cols: int, out: Floats) -> None:
    """How far each stitch has been drawn together (S,), mm; rows 2 s and 2 s + 1 are its ends."""
    reach = weights.shape[2]
    for s in range(len(direction)):
        x, y, total = direction[s, 0], direction[s, 1], 0.0
        for p in range(2 * s, 2 * s + 2):
            moved = 0.0
            for j in range(reach):
                in_row = 0.0
                for i in range(reach):
                    n = node[p] + j * cols + i
                    in_row += weights[p, 0, i] * (x * u[n, 0] + y * u[n, 1])
                moved += weights[p, 1, j] * in_row
            total += moved if p == 2 * s else -moved
        out[s] = total


@njit(cache=True)
def pull(tension: Floats, node: Ints, weights: Floats, direction: Floats, cols: int, out: Floats) -> None:
    """Add the forces of stitches under tension (S,) to nodes (N, 2): the transpose of `contractions`."""
    reach = weights.shape[2]
    for s in range(len(direction)):
        for p in range(2 * s, 2 * s + 2):
            force = tension[s] if p == 2 * s else -tension[s]
            x, y = force * direction[s, 0], force * direction[s, 1]
            for j in range(reach):
                for i in range(reach):
                    n, share = node[p] + j * cols + i, weights[p, 1, j] * weights[p, 0, i]
                    out[n, 0] += share * x
                    out[n, 1] += share * y


@njit(cache=True)
def humps_drawn(within: Floats, cells: Ints, humps: Floats, direction: Floats, out: Floats) -> None:
    """Add how far each stitch (S,) is drawn together by the movement within cells (N, 2), see `Ends`."""
    for s in range(len(direction)):
        for d in range(2):
            for p, sign in ((2 * s, 1.0), (2 * s + 1, -1.0)):
                for k in range(2):
                    out[s] += sign * direction[s, d] * humps[p, d, k] * within[cells[p, d, k], d]


@njit(cache=True)
def pull_humps(tension: Floats, cells: Ints, humps: Floats, direction: Floats, out: Floats) -> None:
    """Add the forces of stitches under tension (S,) within cells (N, 2): the transpose of `humps_drawn`."""
    for s in range(len(direction)):
        for d in range(2):
            for p, sign in ((2 * s, 1.0), (2 * s + 1, -1.0)):
                for k in range(2):
                    out[cells[p, d, k], d] += sign * tension[s] * direction[s, d] * humps[p, d, k]


@njit(cache=True)
def within_cells(within: Floats, cells: Ints, humps: Floats, out: Floats) -> None:
    """Add the movement within cells (N, 2) to points (P, 2), see `Ends`."""
    for p in range(len(cells)):
        for d in range(2):
            for k in range(2):
                out[p, d] += humps[p, d, k] * within[cells[p, d, k], d]
