"""Designs that are as they should be."""

from __future__ import annotations

from typing import Any

import numpy as np

from designs.club import CREAM, NAVY, RED, Step
from digitize.fill import fill
from digitize.lettering import letters_on_line
from digitize.running import running
from digitize.shapes import circle
from planting.faults import CENTRE
from planting.scenes import Scene, column, company, panel
from render.model import BlockTreatment


def clean(rng: np.random.Generator) -> Scene:
    """A design that is as it should be, some of it open on purpose."""
    kind = rng.integers(5)
    steps: list[Any] = company(rng)
    if kind == 0:  # a blend of two sparse fills, declared open
        at = CENTRE
        pair = [
            Step(f"blend {k}", (NAVY, CREAM)[k], fill([circle(9.0, at)], angle_deg=20.0, row_spacing_mm=0.9))
            for k in range(2)
        ]
        open_ = len({step.thread.label for step in steps})
        blocks = {open_: BlockTreatment("open"), open_ + 1: BlockTreatment("open")}
        return Scene(steps + pair, None, {}, blocks)
    if kind == 1:  # knock-down stitching under pile
        ground = panel("knock-down", CREAM, CENTRE, (16.0, 14.0), 45.0, row_spacing_mm=1.2, underlay=False)
        mark = column("mark on it", NAVY, CENTRE, 10.0, 3.5)
        return Scene([ground, mark], None, {"fabric": "terry"}, {0: BlockTreatment("open")})
    if kind == 2:  # open sketch work: loose lines
        lines = [
            Step(f"line {k}", RED, running(np.array([[0.0, 2.5 * k], [18.0, 2.5 * k + 1.0]]) + CENTRE))
            for k in range(4)
        ]
        return Scene(steps + lines)
    if kind == 3:  # 4 mm lettering
        letters = letters_on_line("OTTER CLUB", height_mm=4.0, left_mm=CENTRE, tracking_mm=0.3)
        names = "OTTER CLUB".replace(" ", "")
        small = [Step(f"small {k} {c}", NAVY, p) for k, (c, p) in enumerate(zip(names, letters, strict=True))]
        return Scene(steps + small)
    return Scene(steps + company(rng, right=True))
