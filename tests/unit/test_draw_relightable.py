"""A picture that is lit anew and half sewn: what lay there before, and which sides light comes from."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import samples

from render.draw import planes
from render.draw.planes import draw_relightable
from render.materials.fabrics import load_fabric
from render.materials.fibres import load_fibres
from render.model import CLOTH, Relightable, Sewn, Window

THREADS = (samples.RED, samples.CREAM, samples.GOLD)
WINDOW = Window((0.0, 0.0), 16.0, 128, 144)


@pytest.fixture(scope="module")
def sewn() -> Sewn:
    return samples.layered()


@pytest.fixture(scope="module")
def drawn(sewn: Sewn) -> Relightable:
    job = replace(samples.JOB, fabric=load_fabric("twill"))
    (whole,) = draw_relightable(
        sewn, threads=THREADS, lobes=load_fibres(), load_fabric=load_fabric, job=job, windows=[WINDOW]
    )
    return whole


def test_what_lay_there_before(drawn: Relightable, sewn: Sewn) -> None:
    """Under the run lies the satin, under that the fill; beside them nothing is hidden."""
    block = np.append(sewn.plan.colour_block, CLOTH)
    top, below, lowest = (block[order] for order in (drawn.planes.order, *(e.order for e in drawn.earlier)))
    middle = np.s_[56:74, 64:82]  # 1 mm around the origin, where all three cross
    crossing = top[middle] == 2
    assert crossing.any()
    assert (below[middle][crossing] == 1).mean() > 0.9
    assert (lowest[middle][crossing] == 0).mean() > 0.9
    satin = np.s_[54:60, 60:84]
    only = (top[satin] == 1) & (block[drawn.final[satin]] == 1)
    assert only.any()
    assert (below[satin][only] == 0).mean() > 0.9
    corner = np.s_[98:104, 100:112]  # fill alone
    assert (top[corner] == 0).mean() > 0.9
    assert (below[corner] == CLOTH).all()
    assert (drawn.final >= drawn.planes.order).all()


def test_a_side_is_dark_where_something_stands_there(drawn: Relightable) -> None:
    """Fill that one side's lamp does not reach has later thread towards that side, and not behind it."""
    block, sides = drawn.planes.block, drawn.planes.sides
    assert planes.SIDES == 8
    seen = {True: 0, False: 0}
    for side, (down, right) in {0: (0, 1), 2: (1, 0), 4: (0, -1), 6: (-1, 0)}.items():
        dark = (block == 0) & ((sides >> side) & 1 == 0)
        near = {}
        for towards in (True, False):
            way = 1 if towards else -1
            steps = [np.roll(block, (-way * k * down, -way * k * right), (0, 1)) for k in range(1, 5)]
            near[towards] = np.maximum.reduce(steps) > 0
        for towards in (True, False):  # what has later thread on both sides tells nothing
            seen[towards] += int((dark & near[towards] & ~near[not towards]).sum())
    assert seen[True] > 20
    assert seen[True] > 20 * seen[False]
