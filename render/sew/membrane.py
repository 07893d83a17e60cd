"""Plane-stress membranes: material law, bilinear elements, assembly.

A cloth is a membrane without thickness: stiffness is force per width, N/mm inside the
sew stage. Displacements are mm. Strain and stress vectors are in the order xx, yy, xy
with the engineering shear strain. Source of the element: Hughes, The Finite Element
Method (Dover 2000), sections 3.2 and 3.9 (bilinear quadrilateral, 2 x 2 Gauss points).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import scipy.sparse as sp

from render.compiled import njit
from render.model import freeze

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

CORNERS = np.array([(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)])
GAUSS = CORNERS / np.sqrt(3.0)


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """Quadrilaterals: `nodes_mm (N, 2)` and `elements (E, 4)`, corners in turning order."""

    nodes_mm: Floats
    elements: Ints

    def __post_init__(self) -> None:
        freeze(self, nodes_mm=(-1, 2), elements=(-1, 4))

    @property
    def corners_mm(self) -> Floats:
        """The corners (E, 4, 2) of each element."""
        return self.nodes_mm[self.elements]


def orthotropic(
    *, e_x_n_per_mm: float, e_y_n_per_mm: float, poisson_yx: float, shear_n_per_mm: float
) -> Floats:
    """Stiffness (3, 3) in N/mm of a membrane with its stiff directions along x and y.

    `poisson_yx` is how much it narrows along x when pulled along y; the other follows from
    reciprocity, nu_xy / E_x = nu_yx / E_y. Raises ValueError where no material has these values
    (its energy could be negative).
    """
    poisson_xy = poisson_yx * e_x_n_per_mm / e_y_n_per_mm
    rest = 1 - poisson_yx * poisson_xy
    if min(e_x_n_per_mm, e_y_n_per_mm, shear_n_per_mm, rest) <= 0:
        raise ValueError("a membrane needs positive stiffnesses and nu_xy nu_yx below 1")
    cross = poisson_yx * e_x_n_per_mm / rest
    return np.array(
        [
            [e_x_n_per_mm / rest, cross, 0.0],
            [cross, e_y_n_per_mm / rest, 0.0],
            [0.0, 0.0, shear_n_per_mm],
        ]
    )


def isotropic(e_n_per_mm: float, poisson: float) -> Floats:
    """Stiffness (3, 3) in N/mm of a membrane that is alike in all directions."""
    return orthotropic(
        e_x_n_per_mm=e_n_per_mm,
        e_y_n_per_mm=e_n_per_mm,
        poisson_yx=poisson,
        shear_n_per_mm=e_n_per_mm / (2 * (1 + poisson)),
    )


def turned(stiffness: Floats, turn_deg: float) -> Floats:
    """The stiffness of the same cloth turned from +x towards +y."""
    quarters, rest = divmod(turn_deg % 360.0, 90.0)
    c, s = np.cos(np.deg2rad(rest)), np.sin(np.deg2rad(rest))
    for _ in range(int(quarters)):
        c, s = -s, c
    # Strain in the cloth's own axes from strain in x and y.
    to_own = np.array([[c * c, s * s, c * s], [s * s, c * c, -c * s], [-2 * c * s, 2 * c * s, c * c - s * s]])
    there: Floats = to_own.T @ stiffness @ to_own
    return there


def strain_matrices(corners_mm: Floats, at: tuple[float, float] | Floats) -> tuple[Floats, Floats]:
    """Strain per corner displacement (E, 3, 8), and area per parameter square (E,), at one point."""
    xi, eta = at
    slope = 0.25 * np.stack(
        [CORNERS[:, 0] * (1 + CORNERS[:, 1] * eta), CORNERS[:, 1] * (1 + CORNERS[:, 0] * xi)]
    )
    jacobian = slope @ corners_mm  # (E, 2, 2): d(x, y) / d(xi, eta), rows xi and eta
    area = np.linalg.det(jacobian)
    gradient = np.linalg.solve(jacobian, np.broadcast_to(slope, (len(corners_mm), 2, 4)))
    strain = np.zeros((len(corners_mm), 3, 8))
    strain[:, 0, 0::2] = gradient[:, 0]
    strain[:, 1, 1::2] = gradient[:, 1]
    strain[:, 2, 0::2] = gradient[:, 1]
    strain[:, 2, 1::2] = gradient[:, 0]
    return strain, area


def element_matrices(corners_mm: Floats, stiffness: Floats) -> Floats:
    """Stiffness matrices (E, 8, 8) in N/mm; `stiffness` is (3, 3), or (E, 3, 3) where it varies."""
    total = np.zeros((len(corners_mm), 8, 8))
    for point in GAUSS:
        strain, area = strain_matrices(corners_mm, point)
        total += np.swapaxes(strain, 1, 2) @ stiffness @ strain * area[:, None, None]
    return total


def degrees_of_freedom(elements: Ints) -> Ints:
    """Rows of the matrix (E, 8) that belong to each element: x and y of its corners in turn."""
    return (2 * elements[:, :, None] + np.arange(2)).reshape(len(elements), 8)


@cache
def _unit_strains() -> tuple[Floats, Floats]:
    """Strain of the unit square from slopes along x, and along y, (P, 3, 8) at its Gauss points."""
    strain = np.concatenate([strain_matrices(0.5 * CORNERS[None], point)[0] for point in GAUSS])
    by_x, by_y = strain.copy(), strain.copy()
    by_x[:, 1], by_x[:, 2, 0::2] = 0.0, 0.0
    by_y[:, 0], by_y[:, 2, 1::2] = 0.0, 0.0
    return by_x, by_y


def unit_matrices(stiffness: Floats) -> Floats:
    """Three matrices (3, 8, 8) in N/mm of one law (3, 3) that make up those of all rectangles.

    Strain is a part B_x / w, from slopes along x, and a part B_y / h, so that the matrix of a rectangle
    w wide and h high is h/w B_x' D B_x + w/h B_y' D B_y + B_x' D B_y + B_y' D B_x of the unit square.
    """
    by_x, by_y = _unit_strains()
    from_x, from_y = np.swapaxes(by_x, 1, 2) @ stiffness, np.swapaxes(by_y, 1, 2) @ stiffness
    parts = [from_x @ by_x, from_y @ by_y, from_x @ by_y + from_y @ by_x]
    return np.stack([part.mean(0) for part in parts])


def assemble(mesh: Mesh, stiffness: Floats) -> sp.csr_matrix:
    """The membrane's stiffness matrix (2 N, 2 N) in N/mm, before anything is held."""
    return _put_together(mesh.elements, element_matrices(mesh.corners_mm, stiffness), len(mesh.nodes_mm))


def assemble_grid(x_mm: Floats, y_mm: Floats, stiffness: Floats) -> sp.csr_matrix:
    """The same for rectangles between lines at `x_mm (C,)` and `y_mm (R,)`, node `row * C + col`."""
    size = 2 * len(x_mm) * len(y_mm)
    starts, cols, values = grid_rows(x_mm, y_mm, unit_matrices(stiffness))
    return sp.csr_matrix((values, cols, starts), shape=(size, size))


@njit(cache=True)
def grid_rows(
    x_mm: Floats, y_mm: Floats, unit: Floats
) -> tuple[NDArray[np.int32], NDArray[np.int32], Floats]:
    """Row starts, columns and values of the grid's matrix; `unit` as `unit_matrices` has it."""
    across, down = len(x_mm), len(y_mm)
    # Of each node towards the nine nodes about it, itself in the middle.
    about = np.zeros((across * down, 9, 2, 2))
    right, below = (0, 1, 1, 0), (0, 0, 1, 1)
    for row in range(down - 1):
        for col in range(across - 1):
            ratio = (y_mm[row + 1] - y_mm[row]) / (x_mm[col + 1] - x_mm[col])
            for i in range(4):
                node = (row + below[i]) * across + col + right[i]
                for j in range(4):
                    to = (below[j] - below[i] + 1) * 3 + right[j] - right[i] + 1
                    for a in range(2):
                        for b in range(2):
                            k, m = 2 * i + a, 2 * j + b
                            about[node, to, a, b] += (
                                ratio * unit[0, k, m] + unit[1, k, m] / ratio + unit[2, k, m]
                            )
    starts = np.zeros(2 * across * down + 1, np.int32)
    cols = np.empty(36 * across * down, np.int32)
    values = np.empty(36 * across * down)
    count = 0
    for node in range(across * down):
        row, col = node // across, node % across
        for a in range(2):
            for r in range(max(row - 1, 0), min(row + 2, down)):
                for c in range(max(col - 1, 0), min(col + 2, across)):
                    for b in range(2):
                        cols[count] = 2 * (r * across + c) + b
                        values[count] = about[node, (r - row + 1) * 3 + c - col + 1, a, b]
                        count += 1
            starts[2 * node + a + 1] = count
    return starts, cols[:count], values[:count]


def _put_together(elements: Ints, matrices: Floats, nodes: int) -> sp.csr_matrix:
    dofs = degrees_of_freedom(elements)
    rows, cols = np.repeat(dofs, 8, axis=1), np.tile(dofs, (1, 8))
    shape = 2 * nodes, 2 * nodes
    return sp.coo_matrix((matrices.ravel(), (rows.ravel(), cols.ravel())), shape=shape).tocsr()


def eigenstress_matrix(mesh: Mesh) -> sp.csr_matrix:
    """Nodal forces for a stress (3 E,) that the membrane carries of its own, as a matrix (2 N, 3 E).

    A positive stress is a pull: the membrane would shrink.
    """
    forces = np.zeros((len(mesh.elements), 8, 3))
    for point in GAUSS:
        strain, area = strain_matrices(mesh.corners_mm, point)
        forces -= np.swapaxes(strain, 1, 2) * area[:, None, None]
    rows = np.repeat(degrees_of_freedom(mesh.elements), 3, axis=1)
    cols = np.tile((3 * np.arange(len(mesh.elements))[:, None] + np.arange(3)), (1, 8))
    shape = 2 * len(mesh.nodes_mm), 3 * len(mesh.elements)
    return sp.coo_matrix((forces.ravel(), (rows.ravel(), cols.ravel())), shape=shape).tocsr()


def centre_strains(mesh: Mesh, u_mm: Floats) -> Floats:
    """Strain (E, 3) in the middle of each element for nodal displacements (N, 2)."""
    strain, _ = strain_matrices(mesh.corners_mm, (0.0, 0.0))
    values: Floats = np.einsum("eij,ej->ei", strain, u_mm[mesh.elements].reshape(-1, 8))
    return values
