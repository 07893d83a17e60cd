"""What changes slowly over laid cloth, known at a lattice of places in the design and straight between them:
how far from a place the cloth that is seen there lay, and how light it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart
from render.compiled import njit
from render.model import freeze

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.seen_move import SeenMove

    Floats = NDArray[np.floating[Any]]
    Lines = tuple[NDArray[np.int64], NDArray[np.float64]]

# Closer than the yarns that a needle draws aside are to those that it does not reach; and every fourth lies
# at a whole millimetre, where the slow fields are known.
STEP_MM = 0.25
SLOW = 3  # of the slow fields: gain, wander x, wander y
KNOWN = 3  # of each place: how far the cloth lay off in u and in v, its own wander included; and its gain


@dataclass(frozen=True, slots=True, eq=False)
class Lattice:
    """Places on lines `STEP_MM` apart, of which the first are number `first` (col, row), around a rectangle.

    `columns` and `rows` say of the columns and rows of pixels after which line they lie and what share of
    the way to the next; `back_mm` (R, C, 2) how far the cloth seen at the places has moved.
    """

    first: tuple[int, int]
    columns: Lines
    rows: Lines
    back_mm: NDArray[np.float64]

    def __post_init__(self) -> None:
        freeze(self, back_mm=(-1, -1, 2))

    def cloth_box(self, axes: Floats) -> Floats:
        """Cloth coordinates ((u0, u1), (v0, v1)) around all that is seen at the places."""
        # An axis at a time: over both at once it takes twenty times as long.
        reach = [float(np.abs(self.back_mm[..., axis]).max(initial=0.0)) for axis in (0, 1)]
        x, y = (
            np.array([first * STEP_MM - far, (first + count - 1) * STEP_MM + far])
            for first, count, far in zip(self.first, self.back_mm.shape[1::-1], reach, strict=True)
        )
        corners = np.array([[a, b] for a in x for b in y]) @ axes.T
        return np.stack([corners.min(axis=0), corners.max(axis=0)], axis=1)

    def known(self, axes: Floats, nodes: Floats, first: NDArray[np.int64]) -> NDArray[np.float64]:
        """Of each place the numbers of `KNOWN` (R, C, 3), from slow fields at whole millimetres of the cloth
        from `first` on."""
        out = np.empty((*self.back_mm.shape[:2], KNOWN))
        fill_known(self.back_mm, np.array(self.first), np.asarray(axes, np.float64), nodes, first, out)
        return out


def lattice_around(x_mm: Floats, y_mm: Floats, moved: SeenMove | None) -> Lattice:
    """Around pixels whose columns lie at `x_mm` and rows at `y_mm`, which rise; the cloth has `moved` as is
    known as far as `reached_mm`."""
    columns, rows = (_lines(at_mm) for at_mm in (x_mm, y_mm))
    first, last = ((columns[0][k], rows[0][k]) for k in (0, -1))
    shape = last[1] - first[1] + 2, last[0] - first[0] + 2
    back = np.zeros((*shape, 2))
    if moved is not None:
        x, y = (STEP_MM * (at + np.arange(count)) for at, count in zip(first, shape[::-1], strict=True))
        between(moved.back_mm, *moved.cells(x, 0), *moved.cells(y, 1), back)
    begin = int(first[0]), int(first[1])
    for aside in () if moved is None else moved.aside:
        aside.add_to(back, begin)
    own = [(cell - at, share) for (cell, share), at in zip((columns, rows), begin, strict=True)]
    return Lattice(begin, own[0], own[1], back)


def reached_mm(at_mm: Floats) -> NDArray[np.float64]:
    """The first and the last line around columns or rows: as far it must be known how the cloth has moved."""
    lines = _lines(at_mm[[0, -1]])[0]
    return np.array([lines[0], lines[1] + 1]) * STEP_MM


def _lines(at_mm: Floats) -> Lines:
    place = at_mm / STEP_MM
    line = np.floor(place)
    return line.astype(np.int64), np.asarray(place - line)


@njit(cache=True, nogil=True, error_model="numpy")
def between(
    values: NDArray[np.float64],
    cell_x: NDArray[np.int64],
    share_x: NDArray[np.float64],
    cell_y: NDArray[np.int64],
    share_y: NDArray[np.float64],
    out: NDArray[np.float64],
) -> None:
    """Fill `out` with what lies between values at the four corners of cells."""
    for r in range(out.shape[0]):
        h, q = cell_y[r], share_y[r]
        for c in range(out.shape[1]):
            k, p = cell_x[c], share_x[c]
            for axis in range(2):
                top = values[h, k, axis] + (values[h, k + 1, axis] - values[h, k, axis]) * p
                low = values[h + 1, k, axis] + (values[h + 1, k + 1, axis] - values[h + 1, k, axis]) * p
                out[r, c, axis] = top + (low - top) * q


@njit(cache=True, nogil=True, error_model="numpy")
def fill_known(
    back: NDArray[np.float64],
    begin: NDArray[np.int64],
    axes: NDArray[np.float64],
    nodes: NDArray[np.float32],
    first: NDArray[np.int64],
    out: NDArray[np.float64],
) -> None:
    """Fill `out`, see `Lattice.known`; lines begin with number `begin`."""
    count, wide, flat = out.shape[1], nodes.shape[1], nodes.reshape(-1)
    node, way = np.empty(count, np.int32), np.empty((4, count))
    for r in range(out.shape[0]):
        own, y = back[r].reshape(-1), (begin[1] + r) * STEP_MM
        find_nodes(own, begin[0], y, axes, first, wide, node, way[0], way[1], way[2], way[3])
        mix_nodes(node, way[0], way[1], way[2], way[3], wide, flat, out[r].reshape(-1))


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def find_nodes(
    back: NDArray[np.float64],
    begin: int,
    y_mm: float,
    axes: NDArray[np.float64],
    first: NDArray[np.int64],
    wide: int,
    node: NDArray[np.int32],
    p: NDArray[np.float64],
    q: NDArray[np.float64],
    right: NDArray[np.float64],
    down: NDArray[np.float64],
) -> None:
    """Of a row of places the node before each and the shares of the way to the next, and how far each has
    moved in cloth coordinates: what is to be looked up there is worked out before it is."""
    for c in range(len(node)):
        at = np.uintp(2 * c)
        off_x, off_y = back[at], back[at + np.uintp(1)]
        x, y = (begin + c) * STEP_MM - off_x, y_mm - off_y
        u, v = axes[0, 0] * x + axes[0, 1] * y, axes[1, 0] * x + axes[1, 1] * y
        i, j = np.floor(u), np.floor(v)
        p[c], q[c] = u - i, v - j
        node[c] = np.int32(np.int32(j - first[1]) * np.int32(wide) + np.int32(i - first[0]))
        right[c] = axes[0, 0] * off_x + axes[0, 1] * off_y
        down[c] = axes[1, 0] * off_x + axes[1, 1] * off_y


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def mix_nodes(
    node: NDArray[np.int32],
    p: NDArray[np.float64],
    q: NDArray[np.float64],
    right: NDArray[np.float64],
    down: NDArray[np.float64],
    wide: int,
    nodes: NDArray[np.float32],
    out: NDArray[np.float64],
) -> None:
    """What is known of a row of places, one after the other."""
    for c in range(len(node)):
        at, to = np.uintp(SLOW * node[c]), np.uintp(KNOWN * c)
        after, below = at + np.uintp(SLOW), at + np.uintp(SLOW * wide)
        last = below + np.uintp(SLOW)
        out[to] = _mixed(nodes, at, after, below, last, 1, p[c], q[c]) - right[c]
        out[to + np.uintp(1)] = _mixed(nodes, at, after, below, last, 2, p[c], q[c]) - down[c]
        out[to + np.uintp(2)] = _mixed(nodes, at, after, below, last, 0, p[c], q[c])


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _mixed(
    nodes: NDArray[np.float32], at: Any, after: Any, below: Any, last: Any, field: int, p: Any, q: Any
) -> Any:
    """A field between four nodes."""
    k = np.uintp(field)
    above = nodes[at + k] + (nodes[after + k] - nodes[at + k]) * p
    low = nodes[below + k] + (nodes[last + k] - nodes[below + k]) * p
    return above + (low - above) * q
