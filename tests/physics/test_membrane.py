"""The membrane against published solutions and an independent finite element library."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import scipy.sparse.linalg as spla
from numpy.typing import NDArray

from render.sew.grid import make_grid, nested_dissection
from render.sew.membrane import (
    Mesh,
    assemble,
    assemble_grid,
    centre_strains,
    eigenstress_matrix,
    isotropic,
    orthotropic,
    turned,
)

Floats = NDArray[np.float64]


def solve(matrix: Any, loads: Floats, held: NDArray[np.bool_], given: Floats | None = None) -> Floats:
    """Displacements (N, 2) with the held components at their given values."""
    u = np.zeros(held.shape) if given is None else np.where(held, given, 0.0)
    free = ~held.ravel()
    rest = loads.ravel() - matrix @ u.ravel()
    out = u.ravel()
    out[free] = spla.spsolve(matrix[free][:, free].tocsc(), rest[free])
    return out.reshape(held.shape)


def mapped_mesh(across: int, along: int, place: Any) -> Mesh:
    """Quadrilaterals over the unit square, mapped by `place(s, t) -> (x, y)`."""
    s, t = np.meshgrid(np.linspace(0, 1, across + 1), np.linspace(0, 1, along + 1))
    x, y = place(s.ravel(), t.ravel())
    first = (np.arange(along)[:, None] * (across + 1) + np.arange(across)).ravel()
    return Mesh(np.stack([x, y], 1), np.stack([first, first + 1, first + across + 2, first + across + 1], 1))


def test_patch_of_odd_quadrilaterals_strains_evenly() -> None:
    """MacNeal & Harder, Finite Elements in Analysis and Design 1 (1985) 3-20, plane-stress patch:

    0.24 x 0.12, E 1e6, nu 0.25, u = 1e-3 (x + y/2), v = 1e-3 (y + x/2): stress 1333.33, 1333.33, 400.
    """
    nodes = np.array(
        [(0, 0), (0.24, 0), (0.24, 0.12), (0, 0.12), (0.04, 0.02), (0.18, 0.03), (0.16, 0.08), (0.08, 0.08)]
    )
    elements = np.array([(0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7), (4, 5, 6, 7)])
    mesh, law = Mesh(nodes, elements), isotropic(1e6, 0.25)
    x, y = nodes.T
    given = 1e-3 * np.stack([x + y / 2, y + x / 2], 1)
    held = np.zeros((8, 2), bool)
    held[:4] = True
    u = solve(assemble(mesh, law), np.zeros((8, 2)), held, given)
    assert np.abs(u - given).max() < 1e-9 * np.abs(given).max()
    stress = centre_strains(mesh, u) @ law
    np.testing.assert_allclose(stress, np.tile([4000 / 3, 4000 / 3, 400], (5, 1)), rtol=1e-9)


def cook(cells: int) -> float:
    """Deflection of the middle of the loaded edge of Cook's membrane."""
    mesh = mapped_mesh(cells, cells, lambda s, t: (48 * s, (44 * s) + t * (44 - 28 * s)))
    edge = np.flatnonzero(mesh.nodes_mm[:, 0] == 48)
    loads, held = np.zeros((len(mesh.nodes_mm), 2)), np.zeros((len(mesh.nodes_mm), 2), bool)
    share = np.full(len(edge), 1 / cells)
    share[[0, -1]] /= 2
    loads[edge, 1] = share
    held[mesh.nodes_mm[:, 0] == 0] = True
    u = solve(assemble(mesh, isotropic(1.0, 1 / 3)), loads, held)
    return float(u[np.flatnonzero((mesh.nodes_mm == (48, 52)).all(1))[0], 1])


def test_cooks_membrane() -> None:
    """Cook, J. Struct. Div. ASCE 100 (1974) 1851-1863; Bergan & Felippa, CMAME 50 (1985) 25-69:

    23.96 at (48, 52), the middle of the loaded edge. The bilinear element gives 11.80 with
    2 x 2 elements and 23.92 with 64 x 64 (recomputed apart from this program).
    """
    assert cook(2) == pytest.approx(11.80, abs=0.05)
    assert cook(64) == pytest.approx(23.96, rel=0.01)
    assert cook(64) == pytest.approx(23.92, abs=0.01)


def test_ring_under_inner_pressure() -> None:
    """Lame's ring (Timoshenko & Goodier, Theory of Elasticity, section 28), plane stress:

    a 1, b 2, p 1, E 1000, nu 0.3: u(a) = 1.9667e-3, u(b) = 1.3333e-3, hoop stress 1.6667 and 0.6667.
    """
    mesh = mapped_mesh(
        24, 36, lambda s, t: ((1 + s) * np.cos(t * np.pi / 2), (1 + s) * np.sin(t * np.pi / 2))
    )
    held = np.stack([np.abs(mesh.nodes_mm[:, 0]) < 1e-12, np.abs(mesh.nodes_mm[:, 1]) < 1e-12], 1)
    inner = np.arange(37) * 25
    length = np.linalg.norm(np.diff(mesh.nodes_mm[inner], axis=0), axis=1)
    share = 0.5 * (np.append(length, 0) + np.append(0, length))
    loads = np.zeros(held.shape)
    loads[inner] = mesh.nodes_mm[inner] * share[:, None]
    law = isotropic(1000.0, 0.3)
    u = solve(assemble(mesh, law), loads, held)
    assert np.linalg.norm(u[inner], axis=1) == pytest.approx(1.9667e-3, rel=0.01)
    assert np.linalg.norm(u[inner + 24], axis=1) == pytest.approx(1.3333e-3, rel=0.01)
    stress = centre_strains(mesh, u) @ law
    x, y = mesh.corners_mm.mean(1).T
    r = np.hypot(x, y)
    hoop = (stress[:, 0] * y * y + stress[:, 1] * x * x - 2 * stress[:, 2] * x * y) / r**2
    # Lame: hoop stress p a^2 / (b^2 - a^2) (1 + b^2 / r^2)
    np.testing.assert_allclose(hoop, (1 + 4 / r**2) / 3, rtol=0.01)


def test_a_strip_stretches_and_narrows_by_hand() -> None:
    """Hooke: a stress s along x of an orthotropic strip gives e_x = s / E_x and e_y = -nu_yx s / E_y."""
    law = orthotropic(e_x_n_per_mm=0.4, e_y_n_per_mm=1.0, poisson_yx=0.5, shear_n_per_mm=0.12)
    mesh = mapped_mesh(7, 5, lambda s, t: (70 * s + 3 * np.sin(3 * s) * t, 20 * t))
    x, y = mesh.nodes_mm.T
    right = np.flatnonzero(np.isclose(x, x.max(), atol=4) & (np.arange(len(x)) % 8 == 7))
    strain = np.linalg.solve(law, [0.02, 0.0, 0.0])
    assert strain == pytest.approx([0.05, -0.5 * 0.02, 0.0])
    given = np.stack([strain[0] * x, strain[1] * y], 1)
    held = np.zeros((len(x), 2), bool)
    held[x == 0, 0] = held[0, 1] = held[right] = True
    u = solve(assemble(mesh, law), np.zeros((len(x), 2)), held, given)
    np.testing.assert_allclose(u, given, atol=1e-12)


def test_a_patch_that_shrinks_in_a_wide_sheet() -> None:
    """Eshelby, Proc. R. Soc. A 241 (1957) 376, taken to plane stress:

    a round patch that would shrink by e along x alone, in a wide sheet of the same stiffness,
    strains evenly by (5 + nu) e / 8 along x and (3 nu - 1) e / 8 across it.
    """
    nu, e, radius = 0.3, 0.01, 10.0
    grid = make_grid((-12, -12, 12, 12), (400, 400), 0.5)
    mesh, law = grid.mesh, isotropic(1.0, nu)
    inside = np.linalg.norm(mesh.corners_mm.mean(1), axis=1) < radius
    stress = inside[:, None] * (law @ [e, 0.0, 0.0])
    held = np.abs(mesh.nodes_mm).max(1) > 399
    u = solve(
        assemble(mesh, law),
        (eigenstress_matrix(mesh) @ stress.ravel()).reshape(-1, 2),
        np.stack([held, held], 1),
    )
    middle = np.linalg.norm(mesh.corners_mm.mean(1), axis=1) < 0.7 * radius
    strain = centre_strains(mesh, u)[middle]
    assert -strain[:, 0] == pytest.approx((5 + nu) * e / 8, rel=0.02)
    assert -strain[:, 0].mean() == pytest.approx((5 + nu) * e / 8, rel=0.01)
    assert -strain[:, 1].mean() == pytest.approx((3 * nu - 1) * e / 8, abs=0.01 * 0.6625 * e)
    assert np.abs(strain[:, 2]).max() < 0.01 * e


def test_the_same_matrix_as_an_independent_library() -> None:
    """scikit-fem (Gustafsson & McBain, JOSS 5 (2020) 2369), bilinear elements, turned orthotropic cloth."""
    skfem = pytest.importorskip("skfem")
    law = turned(orthotropic(e_x_n_per_mm=0.4, e_y_n_per_mm=1.0, poisson_yx=0.5, shear_n_per_mm=0.12), 20.0)
    mesh = mapped_mesh(6, 5, lambda s, t: (30 * s + 4 * t * s, 22 * t + 3 * s * s))
    theirs = skfem.MeshQuad(mesh.nodes_mm.T.copy(), mesh.elements.T.copy())

    @skfem.BilinearForm
    def energy(u: Any, v: Any, _: Any) -> Any:
        def strain(w: Any) -> Any:
            g = w.grad
            return np.stack([g[0, 0], g[1, 1], g[0, 1] + g[1, 0]])

        return np.einsum("i...,ij,j...->...", strain(u), law, strain(v))

    basis = skfem.Basis(theirs, skfem.ElementVector(skfem.ElementQuad1()), intorder=2)
    order = basis.nodal_dofs.T.ravel()
    reference = energy.assemble(basis).tocsr()[order][:, order].toarray()
    # Their rule of order 2 on quadrilaterals is the same 2 x 2 Gauss rule.
    assert np.abs(assemble(mesh, law).toarray() - reference).max() < 1e-12


def test_rectangles_have_the_same_matrix_as_any_quadrilaterals() -> None:
    law = turned(orthotropic(e_x_n_per_mm=0.4, e_y_n_per_mm=1.0, poisson_yx=0.5, shear_n_per_mm=0.12), 20.0)
    grid = make_grid((-4, -3, 4, 3), (30, 20), 1.5)
    ours = assemble_grid(grid.x_mm, grid.y_mm, law)
    assert np.abs((ours - assemble(grid.mesh, law)).toarray()).max() < 1e-12


def test_turning_the_cloth() -> None:
    law = orthotropic(e_x_n_per_mm=0.4, e_y_n_per_mm=1.0, poisson_yx=0.5, shear_n_per_mm=0.12)
    swapped = law[np.ix_([1, 0, 2], [1, 0, 2])]
    assert (turned(law, 90) == swapped).all()
    np.testing.assert_allclose(turned(turned(law, 35), -35), law, atol=1e-15)
    np.testing.assert_allclose(turned(isotropic(3.0, 0.3), 27), isotropic(3.0, 0.3), atol=1e-15)


def test_materials_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="nu_xy nu_yx"):
        orthotropic(e_x_n_per_mm=4.0, e_y_n_per_mm=1.0, poisson_yx=0.6, shear_n_per_mm=0.1)


def test_grid_is_even_inside_and_ends_at_the_hoop() -> None:
    grid = make_grid((-20, -10, 20, 10), (60, 45), 1.5)
    for line, half, inner in ((grid.x_mm, 60, 20), (grid.y_mm, 45, 10)):
        assert line[0] == -half
        assert line[-1] == half
        np.testing.assert_allclose(line, -line[::-1], atol=1e-12)
        steps = np.diff(line)
        within = np.abs(line[:-1] + steps / 2) < inner
        np.testing.assert_allclose(steps[within], 1.5)
        assert (steps[1:] / steps[:-1]).max() < 1.8
    assert grid.node_area_mm2.sum() == pytest.approx(120 * 90)


@pytest.mark.parametrize(("rows", "cols"), [(1, 1), (7, 40), (33, 20)])
def test_nested_dissection_orders_every_node_once(rows: int, cols: int) -> None:
    assert sorted(nested_dissection(rows, cols)) == list(range(rows * cols))
