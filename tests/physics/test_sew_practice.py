"""Sewing against common practice: signs and orders. Its sizes are printed, not required.

Practice, no source: pull grows from denim over twill, piqué, jersey and polar fleece to stretch
knit; wide columns pull more than narrow ones and dense ones more than open ones; satin
columns of 3 to 8 mm fall in by 0.1 to 0.25 mm on firm wovens, 0.25 to 0.45 mm on piqué and
jersey, 0.35 to 0.6 mm on fleece and stretch knit.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from samples import Part, fill, running, satin, sewn_of, turned

from render.materials.fabrics import load_fabric
from render.materials.stabilisers import load_hoop, make_holding
from render.model import Fabric, Sewn, SewPlan
from render.sew import sew

Floats = NDArray[np.float64]

BY_PULL = ("denim", "twill", "pique", "jersey", "polar-fleece", "stretch-knit")


def sewn_on(plan: SewPlan, fabric: Fabric | str, **choices: Any) -> Sewn:
    cloth = load_fabric(fabric) if isinstance(fabric, str) else fabric
    return sew(plan, make_holding(cloth, **{"hoop": load_hoop("square-130"), **choices}))


def column(width_mm: float, spacing_mm: float = 0.4) -> SewPlan:
    return sewn_of(Part(satin(30, width_mm, spacing_mm=spacing_mm), "satin")).plan


def pull_in(plan: SewPlan, fabric: Fabric | str, part: int = 0, **choices: Any) -> float:
    return sewn_on(plan, fabric, **choices).objects[part].pull_in_mm


@cache
def pulls(width_mm: float) -> tuple[float, ...]:
    return tuple(pull_in(column(width_mm), name) for name in BY_PULL)


@pytest.mark.parametrize("width_mm", [3.0, 6.0])
def test_soft_cloths_pull_more_than_firm_ones(width_mm: float) -> None:
    found = pulls(width_mm)
    print(f"{width_mm:g} mm column:", ", ".join(f"{n} {p:.3f}" for n, p in zip(BY_PULL, found, strict=True)))
    assert list(found) == sorted(found)
    assert found[0] > 0


def test_light_and_stretchy_cloths_pucker_more_than_firm_ones() -> None:
    """Of a letter of two columns, how much cloth ripples at all (common practice, no source)."""
    letter = sewn_of(
        Part(satin(20, 3.0), "satin"), Part(turned(satin(12, 3.0), 90) + np.array([8.0, 0.0]), "satin")
    ).plan
    found = {}
    for name in ("cap-front", "canvas", "denim", "twill", "pique", "jersey", "nylon-shell"):
        cloth = sewn_on(letter, name).cloth
        assert cloth is not None
        found[name] = float((cloth.pucker > 0).sum())
    print("puckered:", found)
    firm_to_soft = [found[name] for name in found if name != "nylon-shell"]
    assert firm_to_soft == sorted(firm_to_soft)
    assert min(found["jersey"], found["nylon-shell"]) > 1.4 * found["twill"] > 2.8 * found["denim"]


def test_hole_give_alike_stiffness_orders_the_cloths() -> None:
    """On tear-away throughout, so that only the cloth differs; from the firmest to the softest."""
    names = ("denim", "twill", "pique", "jersey", "stretch-knit")
    alike = [replace(load_fabric(n), hole_give_mm=0.2, stabiliser="tear-away") for n in names]
    found = [pull_in(column(4), fabric) for fabric in alike]
    print("hole give alike:", ", ".join(f"{n} {p:.3f}" for n, p in zip(names, found, strict=True)))
    assert found == sorted(found)
    assert found[-1] > 1.1 * found[0]


def test_stiffness_alike_hole_give_orders_the_cloths() -> None:
    base = load_fabric("pique")
    found = [pull_in(column(4), replace(base, hole_give_mm=load_fabric(n).hole_give_mm)) for n in BY_PULL]
    print("stiffness alike:", ", ".join(f"{p:.3f}" for p in found))
    by_give = sorted(zip([load_fabric(n).hole_give_mm for n in BY_PULL], found, strict=True))
    assert [p for _, p in by_give] == sorted(found)


@pytest.mark.parametrize("fabric", ["twill", "jersey"])
def test_wider_columns_pull_more(fabric: str) -> None:
    widths = (1.5, 3, 4, 6, 8)
    found = [pull_in(column(width), fabric) for width in widths]
    print(fabric, ", ".join(f"{w:g} mm {p:.3f}" for w, p in zip(widths, found, strict=True)))
    assert found == sorted(found)


@pytest.mark.parametrize("fabric", ["twill", "jersey"])
def test_denser_columns_pull_more(fabric: str) -> None:
    spacings = (0.8, 0.6, 0.4, 0.3)
    # Without the give of single holes, which does not depend on how many there are.
    cloth = replace(load_fabric(fabric), hole_give_mm=0.0)
    found = [pull_in(column(4, spacing), cloth) for spacing in spacings]
    whole = [pull_in(column(4, spacing), fabric) for spacing in spacings]
    exponent = np.polyfit(np.log(1 / np.array(spacings)), np.log(found), 1)[0]
    both = np.polyfit(np.log(1 / np.array(spacings)), np.log(whole), 1)[0]
    print(f"{fabric}: exponent {exponent:.2f} alone, {both:.2f} with the holes; practice 0.3 to 0.8")
    assert found == sorted(found)
    assert whole == sorted(whole)


def test_a_stronger_thread_tension_pulls_more_and_a_stabiliser_less() -> None:
    found = [pull_in(column(4), "pique", gauge_n=gauge) for gauge in (0.7, 1.15, 1.6)]
    assert found == sorted(found)
    under = [
        pull_in(column(4), "pique", stabiliser=s) for s in ("cut-away-two-layers", "cut-away", "tear-away")
    ]
    print("two cut-aways, one, tear-away:", ", ".join(f"{p:.3f}" for p in under))
    assert under == sorted(under)


def test_mixed_angles_move_the_cloth_clearly_less_than_one() -> None:
    """The same thread on a 50 mm square of knit: in one layer, or in two thinner ones that cross."""
    layer = fill(50, 50, spacing_mm=0.8)
    one = sewn_of(Part(fill(50, 50), "fill")).plan
    mixed = sewn_of(Part(layer, "fill"), Part(turned(layer, 90), "fill")).plan
    thread_mm = [np.hypot(*(plan.end_mm - plan.start_mm).T).sum() for plan in (one, mixed)]
    assert thread_mm[0] == pytest.approx(thread_mm[1], rel=0.02)
    cloth, ends = [], []
    for plan in (one, mixed):
        sewn = sewn_on(plan, "jersey")
        assert sewn.cloth is not None
        cloth.append(float(np.hypot(*np.moveaxis(sewn.cloth.u_mm, 2, 0)).max()))
        ends.append(float(np.hypot(*(sewn.end_mm - plan.end_mm).T).max()))
    print(
        f"most that cloth moves: one angle {cloth[0]:.3f}, crossed {cloth[1]:.3f} mm "
        f"({1 - cloth[1] / cloth[0]:.0%} less); a stitch's end {1 - ends[1] / ends[0]:.0%} less"
    )
    assert cloth[1] < 0.7 * cloth[0]
    assert ends[1] < 0.9 * ends[0]


def bordered(border_first: bool) -> tuple[SewPlan, int]:
    """A filled rectangle, rows along x, with satin borders at the row ends and along the rows."""
    inside = Part(fill(24, 24), "fill")
    side, level = turned(satin(24, 2), 90), satin(24, 2)
    borders = [Part(side - (13, 0), "satin"), Part(side + (13, 0), "satin")]
    borders += [Part(level - (0, 13), "satin"), Part(level + (0, 13), "satin")]
    parts = [*borders, inside] if border_first else [inside, *borders]
    return sewn_of(*parts).plan, 4 if border_first else 0


def gaps(sewn: Sewn, inside: int) -> tuple[float, float]:
    """Cloth that shows between fill and borders: at the row ends, and along the rows, mm."""
    part = sewn.plan.objects[inside]
    own = np.zeros(len(sewn.end_mm), bool)
    own[part.first : part.last + 1] = True
    change_own = []
    for axis in (0, 1):
        opened = 0.0
        for sign in (1, -1):
            edge = (
                own & (sign * sewn.plan.end_mm[:, axis] > 11.7) & (np.abs(sewn.plan.end_mm[:, 1 - axis]) < 9)
            )
            border = ~own & (np.abs(sign * sewn.plan.end_mm[:, axis] - 12) < 0.01)
            border &= np.abs(sewn.plan.end_mm[:, 1 - axis]) < 9
            moved = sewn.end_mm - sewn.plan.end_mm
            opened += sign * float(moved[border, axis].mean() - moved[edge, axis].mean()) / 2
        change_own.append(opened)
    return change_own[0], change_own[1]


def test_a_border_sewn_after_the_fill_opens_gaps_at_the_row_ends() -> None:
    found = gaps(sewn_on(bordered(False)[0], "jersey"), 0)
    first = gaps(sewn_on(bordered(True)[0], "jersey"), 4)
    print(f"border last: {found[0]:.3f} at the row ends, {found[1]:.3f} along the rows")
    print(f"border first: {first[0]:.3f} at the row ends, {first[1]:.3f} along the rows")
    assert found[0] > 0.1
    assert found[1] < 0.5 * found[0]


def test_underlay_narrows_a_column_less_unless_the_layers_are_bonded() -> None:
    """By more than a grid twice as fine changes, of the saving and of the narrowing itself."""
    bare = column(5)
    edges = running((-15, -1.9), (15, -1.9), (15, 1.9), (-15, 1.9), stitch_mm=2.5)
    zigzag = satin(30, 3.6, spacing_mm=3.0)
    under = sewn_of(Part(edges, "underlay"), Part(zigzag, "underlay"), Part(satin(30, 5), "satin")).plan

    def narrowing(held: str, cell_mm: float) -> tuple[float, float]:
        hoop = load_hoop("square-130")
        holding = make_holding(load_fabric("jersey"), hoop=hoop, held=held)
        without, with_it = (sew(plan, holding, cell_mm=cell_mm).objects for plan in (bare, under))
        return without[0].pull_in_mm, with_it[2].pull_in_mm

    loose, fine, bonded = narrowing("hooped", 1.0), narrowing("hooped", 0.5), narrowing("bonded", 1.0)
    saved = [without - with_it for without, with_it in (loose, fine, bonded)]
    off = [coarse - half for coarse, half in zip(loose, fine, strict=True)]
    print(
        f"narrowing saved by underlay: {saved[0]:.4f} mm, on half the grid {saved[1]:.4f}, "
        f"bonded {saved[2]:.4f}; half the grid changes the widths by {off[0]:.4f} and {off[1]:.4f}"
    )
    assert min(saved[:2]) > 3 * abs(saved[0] - saved[1])
    assert min(saved[:2]) > max(abs(o) for o in off)
    assert saved[2] < saved[0]


def test_what_leaves_the_models_range_is_said() -> None:
    bare = sewn_on(column(6), "stretch-knit", stabiliser="none")
    assert any("without stabiliser" in note for note in bare.notes)
    assert any("rough guide" in note for note in bare.notes)
    assert not sewn_on(column(3), "twill").notes
    small = sewn_on(sewn_of(Part(satin(120, 4), "satin")).plan, "twill", hoop=load_hoop("square-100"))
    assert any("larger than the hoop" in note for note in small.notes)


def test_out_of_the_hoop_the_cloth_draws_in_further() -> None:
    plan = sewn_of(Part(fill(20, 20), "fill")).plan
    assert pull_in(plan, "jersey", taken_out=True) > pull_in(plan, "jersey")


def badge(order: list[tuple[int, int]]) -> SewPlan:
    """Filled squares side by side, column and row counted from the middle."""
    square = fill(10, 10)
    return sewn_of(*(Part(square + (10.4 * c, 10.4 * r), "fill") for c, r in order)).plan


def registration(order: list[tuple[int, int]], hoop: str) -> float:
    """Shift of neighbouring squares against each other, rms, mm."""
    sewn = sewn_on(badge(order), "cap-front", hoop=load_hoop(hoop))
    shift = {place: np.array(o.shift_mm) for place, o in zip(order, sewn.objects, strict=True)}
    apart = [
        np.hypot(*(shift[(c + i, r + j)] - shift[(c, r)]))
        for c, r in order
        for i, j in ((1, 0), (0, 1))
        if (c + i, r + j) in shift
    ]
    return float(np.sqrt(np.mean(np.square(apart))))


def test_on_a_cap_frame_the_order_matters_more_than_in_a_flat_hoop() -> None:
    """Caps are sewn from the brim up and from the middle out: common practice, no source."""
    places = [(c, r) for c in range(-2, 3) for r in (-1, 0, 1)]
    down = sorted(places, key=lambda p: (p[1], p[0]))
    up = sorted(places, key=lambda p: (-p[1], abs(p[0]), p[0]))
    cost = {}
    for hoop in ("cap-frame", "square-130"):
        found = registration(down, hoop), registration(up, hoop)
        print(f"{hoop}: {found[0]:.3f} mm top down, {found[1]:.3f} from the brim up and the middle out")
        cost[hoop] = found[0] - found[1]
    assert cost["cap-frame"] > 0
    assert cost["square-130"] < 0.6 * cost["cap-frame"]
