"""Sewing says the same in smaller steps, part by part, and on other grids."""

from __future__ import annotations

import numpy as np
import pytest
from samples import Part, fill, satin, sewn_of
from sewn_cloths import DESIGNS, JERSEY, TWILL, ends_of, holding, rms, sewing_of

from render.materials.stabilisers import load_hoop
from render.model import Fabric
from render.sew import sew
from render.sew.part import part_around
from render.sew.sequence import sew_stitches


@pytest.mark.slow
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
