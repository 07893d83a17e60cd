"""Fabric and stabiliser as two membranes, held at the hoop and joined where something pins them.

Displacements of the layers are one array u (L, N, 2) in mm: fabric first, then the
stabiliser if there is one. The layers are joined node by node by springs `bond (N,)` in N/mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import scipy.sparse as sp
import scipy.sparse.linalg as spla

from render.compiled import njit
from render.errors import InputError
from render.model import freeze
from render.sew.bands import in_bands
from render.sew.grid import nested_dissection
from render.sew.stitches import BEARING_MM

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from render.sew.grid import Grid

    Floats = NDArray[np.float64]
    Apply = Callable[[Floats], Floats]
    Entries = tuple[Floats, tuple[NDArray[np.int32], NDArray[np.int32]]]

SETTLED_MM = 2e-7  # the cloth is at rest when nothing is further from it
MOST_STEPS = 2000  # a layer with rows 0.1 mm apart takes 40, five such layers 343
REFERENCE_CELL_MM = 1.0  # on which the give of needle holes was calibrated
SINGLE_FROM = 10_000  # nodes, those of a design some 250 mm wide
WIDEST_BAND = 36  # nodes across; in bands a narrow cloth is factorised faster


@dataclass(frozen=True, slots=True, eq=False)
class Cloth:
    """Layers on a grid: stiffness matrices (2 N, 2 N) in N/mm, and what is free to move (L, N, 2).

    `stiffness` holds each layer's law (3, 3), N/mm. `shares (L,)` is how a stitch's force divides
    between the layers; what a stitch feels of their movement divides alike.
    """

    grid: Grid
    layers: tuple[sp.csr_matrix, ...]
    shares: Floats
    free: NDArray[np.bool_]
    stiffness: tuple[Floats, ...]

    def __post_init__(self) -> None:
        nodes = len(self.grid.x_mm) * len(self.grid.y_mm)
        freeze(self, shares=(len(self.layers),), free=(len(self.layers), nodes, 2))

    def resist(self, u_mm: Floats, bond_n_per_mm: Floats) -> Floats:
        """Forces (L, N, 2) with which the layers and the bond between them resist a displacement."""
        forces = np.empty(u_mm.shape)
        for layer, u, force in zip(self.layers, u_mm, forces, strict=True):
            times(layer.indptr, layer.indices, layer.data, u.reshape(-1), force.reshape(-1))
        if len(forces) == 2:
            slip = bond_n_per_mm[:, None] * (u_mm[0] - u_mm[1])
            forces[0] += slip
            forces[1] -= slip
        return forces

    def felt(self, u_mm: Floats) -> Floats:
        """The movement (N, 2) that a stitch feels."""
        felt: Floats = self.shares[0] * u_mm[0]
        return felt + self.shares[1] * u_mm[1] if len(u_mm) == 2 else felt

    def shared(self, force_n: Floats) -> Floats:
        """Forces (N, 2) of stitches on the layers (L, N, 2)."""
        return self.shares[:, None, None] * force_n

    def give_within(self, bond_n_per_mm: Floats) -> Floats:
        """How much (N, 2), mm/N, the cloth gives along x and y within the cell at each node.

        A force between the grid's lines moves the cloth about it further than bilinear cells can, and the
        needle holes' give was calibrated on cells of 1 mm: what coarser cells lack against those, see
        `strip_lacks`, is added. It is a hump 4 a (1 - a), a share a of the way across, the bubble of
        incompatible elements (Wilson et al. 1973; Taylor, Beresford & Wilson, IJNME 10 (1976) 1211),
        whose own mean give is 8/15. An end bears on a spot, which can lie on two cells side by side; with
        shares s and 1 - s of it these give s^2 + (1 - s)^2 times as much, 1 - b / 3 w on average over cells
        w wide. Of two layers the stiffness is the sum, and what the stitch's uneven
        share of the force makes them slip comes on top, less what the bond holds back over the width of a
        sine wave.
        """
        wide, high = np.diff(self.grid.x_mm), np.diff(self.grid.y_mm)[:, None]
        rows, cols = len(high) + 1, len(wide) + 1
        bond = (bond_n_per_mm / self.grid.node_area_mm2).reshape(rows, cols)
        bond = 0.25 * (bond[1:, 1:] + bond[1:, :-1] + bond[:-1, 1:] + bond[:-1, :-1])
        give = np.zeros((rows, cols, 2))
        for axis, (length, across) in enumerate(((wide, high), (high, wide))):
            stiff = np.array([law[axis, axis] for law in self.stiffness])
            soft = np.full(bond.shape, 1 / stiff.sum())
            if len(stiff) == 2:
                slipping = stiff.prod() / stiff.sum()
                held_back = slipping + bond * (length / np.pi) ** 2
                soft += (self.shares[0] - stiff[0] / stiff.sum()) ** 2 / held_back
            lacks = np.maximum(strip_lacks(length) - strip_lacks(REFERENCE_CELL_MM), 0.0)
            side_by_side = 1 - BEARING_MM / (3 * np.maximum(across, BEARING_MM))
            give[:-1, :-1, axis] = 15 / 8 * lacks / (across * side_by_side) * soft
        return give.reshape(-1, 2)


def strip_lacks(cell_mm: float | Floats) -> Floats:
    """How much less a strip of stiffness 1 gives on cells so wide than it should, on average, mm.

    A strip that is held at both ends moves under a force a of the way across by a (1 - a) w, which is
    nothing on lines at its ends. Of a force spread over a spot of width b <= w, and of the spot's mean
    movement, wherever it lies: 2 / (b w^2) int_0^b (1 - t / b) (w - t)^3 / 6 dt, w / 6 for a point.
    """
    cell = np.maximum(cell_mm, BEARING_MM)
    rest = 1 - BEARING_MM / cell
    whole, tilted = (1 - rest**4) / 4, (1 - rest**4) / 4 - (1 - rest**5) / 5
    lacks: Floats = cell**2 / (3 * BEARING_MM) * (whole - tilted * cell / BEARING_MM)
    return lacks


@dataclass(frozen=True, slots=True, eq=False)
class Factor:
    """The cloth factorised for one state of the `bond`, roughly: a preconditioner.

    `backwards` solves for the components of u in `order`.
    """

    cloth: Cloth
    bond: Floats
    backwards: Apply
    order: NDArray[np.int64]

    def solve(self, force_n: Floats) -> Floats:
        flat = np.zeros(force_n.size)
        flat[self.order] = self.backwards(force_n.ravel()[self.order])
        return flat.reshape(force_n.shape)

    def solve_well(self, force_n: Floats) -> Floats:
        """The same to double precision or nearly so: what is left of the force is solved for, too."""
        found = self.solve(force_n)
        found += self.solve(force_n - self.cloth.resist(found, self.bond))
        return found


def factorise(cloth: Cloth, bond_n_per_mm: Floats, *, rough: bool = False) -> Factor:
    """Factorise the free part of the cloth: a narrow one in bands, a wide one by nested dissection.

    One where `rough` will do, or a large one, whose blocks of stitches are sewn on parts, in single
    precision. Elsewhere rounding would tell: of a design turned by half some blocks settled a step sooner.
    """
    layers, nodes = len(cloth.layers), len(bond_n_per_mm)
    rows, cols = len(cloth.grid.y_mm), len(cloth.grid.x_mm)
    banded = min(rows, cols) <= WIDEST_BAND
    if banded:
        by_node = np.arange(nodes) if cols <= rows else np.arange(nodes).reshape(rows, cols).T.ravel()
    else:
        by_node = nested_dissection(rows, cols)
    # All components of a node side by side: (N, L, 2) rows in the flat order of u (L, N, 2).
    order = (2 * nodes * np.arange(layers)[None, :, None] + 2 * by_node[:, None, None] + np.arange(2)).ravel()
    order = order[cloth.free.ravel()[order]]
    place = np.full(2 * nodes * layers, -1, np.int32)
    place[order] = np.arange(len(order))
    if banded:
        return Factor(
            cloth,
            bond_n_per_mm,
            in_bands(cloth.layers, bond_n_per_mm, place, len(order), single=rough),
            order,
        )
    values, at = _entries(cloth, bond_n_per_mm, place)
    matrix = sp.csc_matrix((values, at), shape=(len(order), len(order)))
    precision = np.float32 if nodes > SINGLE_FROM else np.float64
    lower_upper = spla.splu(
        matrix.astype(precision),
        permc_spec="NATURAL",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )
    return Factor(cloth, bond_n_per_mm, lambda force_n: lower_upper.solve(force_n.astype(precision)), order)


def _entries(cloth: Cloth, bond_n_per_mm: Floats, place: NDArray[np.int32]) -> Entries:
    """Values, rows and columns of the cloth's matrix, each component of u at its `place`, -1 for nowhere."""
    size = 2 * len(bond_n_per_mm)
    parts = []
    for number, layer in enumerate(cloth.layers):
        own = place[number * size : (number + 1) * size]
        row = np.repeat(own, np.diff(layer.indptr))
        parts.append((layer.data, row, own[layer.indices]))
    if len(cloth.layers) == 2:
        spring, (one, other) = np.repeat(bond_n_per_mm, 2), place.reshape(2, -1)
        parts += [(spring, one, one), (spring, other, other), (-spring, one, other), (-spring, other, one)]
    values, rows, cols = (np.concatenate(both) for both in zip(*parts, strict=True))
    kept = (rows >= 0) & (cols >= 0)
    return values[kept], (rows[kept], cols[kept])


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """Displacements (n,) and the steps that it took."""

    u_mm: Floats
    steps: int


def solve(
    free: NDArray[np.bool_],
    nearly: Apply,
    resist: Apply,
    loads_n: Floats,
    guess_mm: Floats,
    *,
    within_mm: float,
) -> Solved:
    """Preconditioned conjugate gradients (Hestenes & Stiefel, J. Res. NBS 49 (1952) 409), warm start.

    `resist` gives the forces (n,) that answer a displacement (n,), `nearly` the displacement of a cloth
    softer than the sewn one under a force. It ends when that would move nowhere by more than `within_mm`.
    Raises InputError where stitches lie so densely that it does not come to its end.
    """
    u = guess_mm.copy()
    residual = np.where(free, loads_n - resist(u), 0.0)
    direction, size = np.zeros_like(u), np.inf
    for step in range(MOST_STEPS):
        towards = nearly(residual)
        new_size, furthest = turn(direction, residual, towards, size)
        if furthest <= within_mm:
            return Solved(u, step)
        advance(u, residual, direction, resist(direction), free, new_size)
        size = new_size
    raise too_dense()


def too_dense() -> InputError:
    """What is said where the cloth does not come to rest in any sensible time."""
    return InputError(
        "stitches lie too densely to reckon what the cloth does: thin them out, or draw them --as-programmed"
    )


@njit(cache=True)
def turn(direction: Floats, residual: Floats, towards: Floats, size: float) -> tuple[float, float]:
    """Turn the direction `towards` where the cloth is to go, as much as it has gone before.

    Returns the work (the next `size`) of the residual on the way there, and how far that is at most.
    """
    work, furthest = 0.0, 0.0
    for k in range(len(residual)):
        work += residual[k] * towards[k]
        furthest = max(furthest, abs(towards[k]))
    for k in range(len(residual)):
        direction[k] = towards[k] + work / size * direction[k]
    return work, furthest


@njit(cache=True)
def advance(
    u: Floats, residual: Floats, direction: Floats, answer: Floats, free: NDArray[np.bool_], work: float
) -> None:
    """Go along the direction as far as the forces that `answer` it allow, where the cloth is free."""
    against = 0.0
    for k in range(len(u)):
        if free[k]:
            against += direction[k] * answer[k]
    length = work / against
    for k in range(len(u)):
        u[k] += length * direction[k]
        if free[k]:
            residual[k] -= length * answer[k]


@njit(cache=True)
def times(starts: NDArray[np.int32], cols: NDArray[np.int32], values: Floats, u: Floats, out: Floats) -> None:
    """A sparse matrix times u, into `out`: what the library does, without its checks on the way."""
    for row in range(len(out)):
        total = 0.0
        for k in range(starts[row], starts[row + 1]):
            total += values[k] * u[cols[k]]
        out[row] = total
