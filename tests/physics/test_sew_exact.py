"""Sewing against closed forms, an independent library and symmetry."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from samples import Part, satin, sewn_of, turned
from sewn_cloths import DESIGNS, JERSEY, TWILL, holding, rms

from render.materials.job import make_job
from render.materials.stabilisers import load_hoop
from render.model import SewPlan
from render.plan import plan as planned
from render.read import read_design
from render.sew import sew
from render.sew.cloth import Cloth, factorise
from render.sew.grid import Grid, make_grid
from render.sew.measure import hole_shift
from render.sew.membrane import assemble, isotropic, orthotropic
from render.sew.settle import Pull, Sewing, holes_of
from render.sew.stitches import BEARING_MM

Floats = NDArray[np.float64]
EXAMPLES = Path(__file__).parents[2] / "examples"


def test_long_column_by_hand() -> None:
    """A column much longer than wide strains only across: of one isotropic sheet without Poisson's

    effect, c = s0 x / (1 + x), x = n T0 (W (1 - W / L) - b / 3) / (E s0), where n stitches per mm pull
    with T0 - k c, L is the distance of the hoop's edges and b the width of the spots that the stitches'
    ends bear on: the sheet's force grows evenly over them, from none. Closed form of the model's own law.
    """
    width, spacing, hoop, stiff = 6.0, 0.4, 60.0, 12.0
    points = satin(300, width, spacing_mm=spacing)
    plan = sewn_of(Part(points, "satin")).plan
    fine = np.arange(-5, 5.1, 0.25)
    grid = Grid(
        np.arange(-170.0, 171, 2),
        np.concatenate([np.arange(-30, -5, 2.5), fine, -np.arange(-30, -5, 2.5)[::-1]]),
        0.25,
    )
    nodes = grid.nodes_mm
    free = np.ones((1, len(nodes), 2), bool)
    free[0, (np.abs(nodes[:, 0]) > 169.9) | (np.abs(nodes[:, 1]) > hoop / 2 - 1e-6)] = False
    law = isotropic(stiff, 0.0)
    cloth = Cloth(grid, (assemble(grid.mesh, law),), np.ones(1), free, (law,))
    tension, give = 0.35, 0.2
    sewing = Sewing(
        cloth, Pull(tension, give, 0.0, 0.0), plan.start_mm, plan.end_mm, holes_of(plan.thread_breaks)
    )
    # All stitches set on cloth at rest: no order, so that the closed form holds.
    sewing.sewn = len(plan.start_mm)
    sewing.pierce(0, sewing.sewn, np.zeros((2 * sewing.sewn, 4)))
    sewing.settle(factorise(cloth, np.zeros(len(nodes))))
    length = float(np.hypot(width, spacing / 2))
    s0 = 0.10 + 0.02 * length + give
    n = 2 / spacing
    x = n * tension * (width * (1 - width / hoop) - BEARING_MM / 3) / (stiff * s0)
    expected = s0 * x / (1 + x)
    middle = np.abs(plan.start_mm[:, 0]) < 100
    found = (tension - sewing.tension_n) / (tension / s0)
    assert found[middle].mean() == pytest.approx(expected, rel=0.01)
    # The visible narrowing adds the give of the holes, as far as the thread is still taut.
    shift = hole_shift(sewing)
    narrowed = (shift[0::2] - shift[1::2])[:, 1] * np.sign(plan.end_mm - plan.start_mm)[:, 1]
    assert narrowed[middle].mean() == pytest.approx(give * (1 - expected / s0), rel=0.02)


def test_a_stitched_cloth_as_an_independent_library_solves_it() -> None:
    """scikit-fem (Gustafsson & McBain, JOSS 5 (2020) 2369) on the same orthotropic cloth.

    Its bilinear elements, solved directly, must give the same. Its biquadratic ones have the
    same nodes: the movement under a force at a point grows with the logarithm of the cell, so
    only grids that are equally fine compare. A stitch's end bears on a spot: there, on its many points.
    """
    skfem = pytest.importorskip("skfem")
    import scipy.sparse as sp
    from scipy.sparse.linalg import splu

    law = orthotropic(e_x_n_per_mm=4.0, e_y_n_per_mm=10.0, poisson_yx=0.4, shear_n_per_mm=1.2)
    points = np.concatenate([turned(satin(12, 4, spacing_mm=0.8), angle) for angle in (0, 30)])
    plan = sewn_of(Part(points, "satin")).plan
    grid = make_grid((-8, -8, 8, 8), (30, 30), 0.5)
    nodes = grid.nodes_mm
    free = np.repeat((np.abs(nodes).max(1) < 29.99)[:, None], 2, axis=1)[None]
    cloth = Cloth(grid, (assemble(grid.mesh, law),), np.ones(1), free, (law,))
    sewing = Sewing(
        cloth, Pull(0.35, 0.2, 0.0, 0.0), plan.start_mm, plan.end_mm, holes_of(plan.thread_breaks)
    )
    sewing.sewn = len(plan.start_mm)
    sewing.pierce(0, sewing.sewn, np.zeros((2 * sewing.sewn, 4)))
    sewing.settle(factorise(cloth, np.zeros(len(nodes))))

    ours = (0.35 - sewing.tension_n) / sewing.stiffness

    @skfem.BilinearForm
    def energy(u: Any, v: Any, _: Any) -> Any:
        def strain(w: Any) -> Any:
            return np.stack([w.grad[0, 0], w.grad[1, 1], w.grad[0, 1] + w.grad[1, 0]])

        return np.einsum("i...,ij,j...->...", strain(u), law, strain(v))

    def theirs(element: Any, step: int) -> Floats:
        mesh = skfem.MeshQuad.init_tensor(grid.x_mm[::step], grid.y_mm[::step])
        basis = skfem.Basis(mesh, skfem.ElementVector(element), intorder=4)
        over = BEARING_MM * ((np.arange(16) + 0.5) / 16 - 0.5)
        spots = np.concatenate([plan.start_mm, plan.end_mm])
        around = np.concatenate([spots + (x, y) for x in over for y in over])
        at = basis.probes(around.T).tocsr()  # of all points along x, then along y
        mean = sp.kron(np.full((1, len(over) ** 2), 1 / len(over) ** 2), sp.eye(len(spots)))
        at_x, at_y = ((mean @ part).toarray() for part in (at[: len(around)], at[len(around) :]))
        d, n = sewing.direction, len(plan.start_mm)
        b = d[:, :1] * (at_x[:n] - at_x[n:]) + d[:, 1:] * (at_y[:n] - at_y[n:])
        edge = basis.get_dofs(lambda x: np.abs(x).max(0) > 29.99).all()
        inside = np.setdiff1d(np.arange(basis.N), edge)
        matrix = energy.assemble(basis).tocsr()[inside][:, inside].tocsc()
        drawn = b[:, inside] @ splu(matrix).solve(np.ascontiguousarray(b[:, inside].T))
        return np.linalg.solve(np.eye(n) + drawn * sewing.stiffness, drawn @ np.full(n, 0.35))

    np.testing.assert_allclose(ours, theirs(skfem.ElementQuad1(), 1), rtol=2e-3)
    smoother = theirs(skfem.ElementQuad2(), 2)
    assert ours.mean() == pytest.approx(smoother.mean(), rel=0.01)
    assert rms(ours[:, None], smoother[:, None]) < 0.02 * smoother.mean()


def test_without_holding_nothing_moves() -> None:
    plan = DESIGNS["letters"]
    still = sew(plan)
    assert (still.start_mm == plan.start_mm).all()
    assert still.cloth is None
    assert still.objects == ()


def mapped(plan: SewPlan, change: Any) -> SewPlan:
    return replace(plan, start_mm=change(plan.start_mm), end_mm=change(plan.end_mm))


@pytest.mark.parametrize("taken_out", [False, True])
@pytest.mark.parametrize("quarters", [1, 2, 3])
def test_quarter_turns_of_design_cloth_and_hoop_change_nothing(quarters: int, taken_out: bool) -> None:
    plan, degrees = DESIGNS["letters"], 90 * quarters
    one = sew(plan, holding(JERSEY, taken_out=taken_out))
    other = sew(
        mapped(plan, lambda p: turned(p, degrees)),
        holding(JERSEY, fabric_turn_deg=degrees, taken_out=taken_out),
    )
    assert np.abs(other.end_mm - turned(one.end_mm, degrees)).max() < 1e-6
    assert np.abs(other.start_mm - turned(one.start_mm, degrees)).max() < 1e-6


@pytest.mark.parametrize("degrees", [30, 45])
@pytest.mark.parametrize("name", ["letters", "ring on a disc"])
def test_a_turn_by_any_angle_in_a_round_hoop_changes_little(name: str, degrees: int) -> None:
    plan = DESIGNS[name]
    held = holding(JERSEY, hoop=load_hoop("round-120"))
    one = sew(plan, held)
    other = sew(mapped(plan, lambda p: turned(p, degrees)), replace(held, fabric_turn_deg=float(degrees)))
    ends = [np.stack([s.start_mm, s.end_mm], 1).reshape(-1, 2) for s in (one, other)]
    off = np.hypot(*(ends[1] - turned(ends[0], degrees)).T)
    most = ", ".join(f"{q:.0%} {np.quantile(off, q):.3f}" for q in (0.5, 0.95, 0.99, 1))
    print(f"{name} turned by {degrees}: rms {np.sqrt((off**2).mean()):.4f} mm, within {most} mm")
    assert off.max() < 0.05


def test_a_mirrored_design_mirrors() -> None:
    plan = DESIGNS["letters"]
    one = sew(plan, holding(JERSEY))
    other = sew(mapped(plan, lambda p: p * (-1, 1)), holding(JERSEY))
    assert np.abs(other.end_mm - one.end_mm * (-1, 1)).max() < 1e-6


@pytest.mark.parametrize("name", [pytest.param("crest", marks=pytest.mark.slow), "cap-badge"])
def test_a_whole_design_turned_by_quarters_or_mirrored_is_sewn_alike(name: str) -> None:
    """Thousands of stitches, many of them on lines of the grid, sewn block by block and on parts."""
    plan = planned(read_design(EXAMPLES / f"{name}.dst"), make_job().machine)
    held = holding(JERSEY, hoop=load_hoop("square-130"))
    one = sew(plan, held)
    turns = ((90.0, lambda p: turned(p, 90)), (180.0, lambda p: -p), (0.0, lambda p: p * (-1, 1)))
    for degrees, turn in turns:
        other = sew(mapped(plan, turn), replace(held, fabric_turn_deg=degrees))
        assert np.abs(other.end_mm - turn(one.end_mm)).max() < 1e-6


def test_a_moved_design_moves() -> None:
    plan = DESIGNS["letters"]
    one = sew(plan, holding(JERSEY))
    other = sew(mapped(plan, lambda p: p + (312.7, -45.1)), holding(JERSEY))
    assert np.abs(other.end_mm - one.end_mm - (312.7, -45.1)).max() < 1e-6


def test_twice_the_same_is_the_same() -> None:
    one, other = (sew(DESIGNS["column"], holding(TWILL)) for _ in range(2))
    assert (one.end_mm == other.end_mm).all()
