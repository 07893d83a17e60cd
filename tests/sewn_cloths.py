"""Two cloths and a few designs to be sewn on them, for tests."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from samples import FABRIC, Part, fill, satin, sewn_of, turned

from render.materials.stabilisers import load_hoop, make_holding
from render.model import Fabric, Holding, SewPlan
from render.sew.hoop import cloth_in_hoop, contact
from render.sew.measure import sewn_ends
from render.sew.settle import Pull, Sewing, holes_of

Floats = NDArray[np.float64]

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
