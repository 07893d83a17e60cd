"""Sewing against closed forms, an independent library, symmetry and smoother steps."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from samples import FABRIC, Part, fill, satin, sewn_of, turned

from render.materials.job import make_job
from render.materials.stabilisers import load_hoop, make_holding
from render.model import Fabric, Holding, SewPlan
from render.plan import plan as planned
from render.read import read_design
from render.sew import sew
from render.sew.cloth import Cloth, factorise
from render.sew.grid import Grid, make_grid
from render.sew.hoop import cloth_in_hoop, contact
from render.sew.measure import hole_shift, sewn_ends
from render.sew.membrane import assemble, isotropic, orthotropic
from render.sew.part import part_around
from render.sew.sequence import sew_stitches
from render.sew.settle import Pull, Sewing, holes_of
from render.sew.stitches import BEARING_MM

Floats = NDArray[np.float64]
EXAMPLES = Path(__file__).parents[2] / "examples"

# Membrane stiffnesses from memory; give of the needle hole calibrated to common practice.
JERSEY = replace(
    FABRIC,
    name="jersey",
    e_warp_n_per_m=1000.0,
    e_weft_n_per_m=400.0,
    poisson=0.5,
    shear_n_per_m=120.0,
    hole_give_mm=0.28,
    pretension_n_per_m=30.0,
)
TWILL = replace(
    FABRIC,
    name="twill",
    stabiliser="tear-away",
    e_warp_n_per_m=14000.0,
    e_weft_n_per_m=9000.0,
    poisson=0.25,
    shear_n_per_m=300.0,
    hole_give_mm=0.09,
    pretension_n_per_m=200.0,
)


def ring(radius_mm: float, width_mm: float) -> Floats:
    count = round(4 * np.pi * radius_mm / 0.4)
    angle = np.linspace(0, 2 * np.pi, count + 1)
    r = radius_mm + width_mm / 2 * np.where(np.arange(count + 1) % 2, 1.0, -1.0)
    return np.stack([r * np.cos(angle), r * np.sin(angle)], 1)


def disc(radius_mm: float) -> Floats:
    points: list[tuple[float, float]] = []
    for row, y in enumerate(np.arange(-radius_mm + 0.2, radius_mm, 0.4)):
        half = float(np.sqrt(radius_mm**2 - y * y))
        xs = [-half, *np.arange(-half + 1 + row % 3, half - 0.5, 4.0), half]
        points += [(float(x), float(y)) for x in (xs if row % 2 == 0 else xs[::-1])]
    return np.array(points)


def letters() -> SewPlan:
    """An E and an I of satin columns."""
    stem, bar = turned(satin(16, 2.6), 90), satin(7, 2.2)
    parts = [stem, bar + (5, -7), bar + (5, 0), bar + (5, 7), stem + (14, 0)]
    return sewn_of(*(Part(points, "satin") for points in parts)).plan


DESIGNS = {
    "column": sewn_of(Part(satin(30, 4), "satin")).plan,
    "letters": letters(),
    "fill": sewn_of(Part(fill(20, 16), "fill")).plan,
    "ring on a disc": sewn_of(Part(disc(8), "fill"), Part(ring(9, 2), "satin")).plan,
    "disc in a ring": sewn_of(Part(ring(9, 2), "satin"), Part(disc(8), "fill")).plan,
}


def holding(fabric: Fabric, **choices: Any) -> Holding:
    return make_holding(fabric, **{"hoop": load_hoop("square-100"), **choices})


def sewing_of(plan: SewPlan, held: Holding, cell_mm: float | None = None) -> Sewing:
    cloth = cloth_in_hoop(plan.box_mm, held, cell_mm)
    pull = Pull(held.tension_n, held.fabric.hole_give_mm, held.pin_n_per_mm, held.push_share)
    sewing = Sewing(cloth, pull, plan.start_mm, plan.end_mm, holes_of(plan.thread_breaks))
    sewing.bond = contact(cloth.grid, held)
    return sewing


def ends_of(sewing: Sewing) -> Floats:
    return sewn_ends(sewing)[0]


def rms(a: Floats, b: Floats) -> float:
    return float(np.sqrt(((a - b) ** 2).sum(1).mean()))


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
        at = sum(basis.probes((spots + (x, y)).T) for x in over for y in over).toarray() / len(over) ** 2
        at_x, at_y = np.split(at, 2)
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


@pytest.mark.parametrize("name", ["crest", "cap-badge"])
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


@pytest.mark.parametrize("fabric", [TWILL, JERSEY], ids=lambda f: f.name)
@pytest.mark.parametrize("name", DESIGNS)
def test_blocks_of_four_stitches_say_the_same(name: str, fabric: Fabric) -> None:
    plan = DESIGNS[name]
    usual = ends_of(sew_stitches(sewing_of(plan, holding(fabric))))
    fine = ends_of(sew_stitches(sewing_of(plan, holding(fabric)), block=4))
    programmed = np.stack([plan.start_mm, plan.end_mm], 1).reshape(-1, 2)
    print(f"{name} on {fabric.name}: rms {rms(usual, fine):.4f} mm of {rms(fine, programmed):.3f}")
    assert rms(usual, fine) < 0.05


@pytest.mark.parametrize("fabric", [TWILL, JERSEY], ids=lambda f: f.name)
def test_sewing_part_by_part_says_the_same_as_on_the_whole_cloth(fabric: Fabric) -> None:
    """Three fills wide apart in one frame: each is sewn on its own part of the cloth."""
    square = fill(20, 20)
    plan = sewn_of(*(Part(square + (45.0 * k, 20.0 * (k % 2)), "fill") for k in range(3))).plan
    frame = holding(fabric, hoop=load_hoop("square-240"))
    sewing = sewing_of(plan, frame)
    assert part_around(sewing, 0, len(square) - 1) is not None
    parts = ends_of(sew_stitches(sewing))
    whole = ends_of(sew_stitches(sewing_of(plan, frame), block=25))
    print(f"part by part on {fabric.name}: rms {rms(parts, whole):.4f} mm")
    assert rms(parts, whole) < 0.05


@pytest.mark.parametrize("fabric", [TWILL, JERSEY], ids=lambda f: f.name)
def test_the_coarsest_grid_pulls_as_the_finest(fabric: Fabric) -> None:
    """Columns on cells of 3 mm, which a design of 96 mm gets, against 1 mm."""
    for width, most in ((2.0, 0.04), (4.0, 0.03), (8.0, 0.03)):
        plan = sewn_of(*(Part(satin(30, width) + (0.4, 20.4 * k), "satin") for k in (-1, 0, 1))).plan
        held = holding(fabric, hoop=load_hoop("square-130"))
        coarse, fine = (
            float(np.mean([o.pull_in_mm for o in sew(plan, held, cell_mm=cell).objects]))
            for cell in (3.0, 1.0)
        )
        print(f"{width:g} mm on {fabric.name}: {coarse:.3f} mm on 3 mm cells, {fine:.3f} on 1 mm")
        assert abs(coarse - fine) < most


def test_a_smoother_grid_says_nearly_the_same() -> None:
    for name in ("column", "fill"):
        coarse, fine = (
            ends_of(sew_stitches(sewing_of(DESIGNS[name], holding(JERSEY), cell))) for cell in (1.0, 0.5)
        )
        print(f"{name}: rms {rms(coarse, fine):.4f} mm between 1 mm and 0.5 mm cells")
        assert rms(coarse, fine) < 0.05
