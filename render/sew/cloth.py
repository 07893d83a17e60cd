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

from render.model import freeze
from render.sew.grid import nested_dissection

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from render.sew.grid import Grid

    Floats = NDArray[np.float64]
    Apply = Callable[[Floats], Floats]

TOLERANCE = 2e-7  # of the residual against the load, both by the energy they hold
MOST_STEPS = 200


@dataclass(frozen=True, slots=True, eq=False)
class Cloth:
    """Layers on a grid: stiffness matrices (2 N, 2 N) in N/mm, and what is free to move (L, N, 2).

    `shares (L,)` is how a stitch's force divides between the layers; what a stitch feels of
    their movement divides alike.
    """

    grid: Grid
    layers: tuple[sp.csr_matrix, ...]
    shares: Floats
    free: NDArray[np.bool_]

    def __post_init__(self) -> None:
        nodes = len(self.grid.x_mm) * len(self.grid.y_mm)
        freeze(self, shares=(len(self.layers),), free=(len(self.layers), nodes, 2))

    def resist(self, u_mm: Floats, bond_n_per_mm: Floats) -> Floats:
        """Forces (L, N, 2) with which the layers and the bond between them resist a displacement."""
        forces = np.stack([(k @ u.ravel()).reshape(-1, 2) for k, u in zip(self.layers, u_mm, strict=True)])
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


@dataclass(frozen=True, slots=True, eq=False)
class Factor:
    """The factorised cloth for one state of the bond, in single precision: a preconditioner."""

    lower_upper: spla.SuperLU
    order: NDArray[np.int64]
    bond_n_per_mm: Floats

    def solve(self, force_n: Floats) -> Floats:
        flat = np.zeros(force_n.size)
        packed = np.ascontiguousarray(force_n.ravel()[self.order], np.float32)
        flat[self.order] = self.lower_upper.solve(packed)
        return flat.reshape(force_n.shape)


def factorise(cloth: Cloth, bond_n_per_mm: Floats) -> Factor:
    """Factorise the free part of the cloth, nodes in the order of nested dissection."""
    layers, nodes = len(cloth.layers), len(bond_n_per_mm)
    by_node = nested_dissection(len(cloth.grid.y_mm), len(cloth.grid.x_mm))
    # All components of a node side by side: (N, L, 2) rows in the flat order of u (L, N, 2).
    order = (2 * nodes * np.arange(layers)[None, :, None] + 2 * by_node[:, None, None] + np.arange(2)).ravel()
    order = order[cloth.free.ravel()[order]]
    matrix = sp.block_diag(cloth.layers, format="csr")
    if layers == 2:
        spring = sp.diags(np.repeat(bond_n_per_mm, 2))
        matrix = matrix + sp.bmat([[spring, -spring], [-spring, spring]], format="csr")
    matrix = matrix[order][:, order].tocsc().astype(np.float32)
    lower_upper = spla.splu(
        matrix, permc_spec="NATURAL", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
    )
    return Factor(lower_upper, order, bond_n_per_mm.copy())


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """Displacements (L, N, 2) and the steps that it took."""

    u_mm: Floats
    steps: int


def solve(
    cloth: Cloth, factor: Factor, resist: Apply, loads_n: Floats, guess_mm: Floats, *, tolerance: float
) -> Solved:
    """Preconditioned conjugate gradients (Hestenes & Stiefel, J. Res. NBS 49 (1952) 409), warm start.

    `resist` gives the forces (L, N, 2) that answer a displacement. Raises RuntimeError when it
    does not converge, which a positive definite cloth cannot do.
    """
    u = guess_mm.copy()
    answered = resist(u)
    residual = np.where(cloth.free, loads_n - answered, 0.0)
    energy = _dot(u, answered)
    direction, size = np.zeros_like(u), 1.0
    for step in range(MOST_STEPS):
        towards = factor.solve(residual)
        new_size = _dot(residual, towards)
        energy = energy if step else max(energy, new_size)
        if new_size <= tolerance**2 * energy:
            return Solved(u, step)
        direction = towards + (new_size / size if step else 0.0) * direction
        answer = np.where(cloth.free, resist(direction), 0.0)
        length = new_size / _dot(direction, answer)
        u += length * direction
        residual -= length * answer
        size = new_size
    raise RuntimeError(f"the cloth did not settle in {MOST_STEPS} steps")


def _dot(a: Floats, b: Floats) -> float:
    """The sum in one order, whatever the number of threads of the linear algebra library."""
    return float((a * b).sum())
