"""Small pieces for looking closely: one of every kind of stitch, and a wheel of satin wedges."""

from __future__ import annotations

import numpy as np

from designs.club import CREAM, GOLD, NAVY, RED, Step, sew
from digitize.fill import fill
from digitize.lettering import letters_on_line
from digitize.running import bean, running
from digitize.satin import satin, satin_path
from digitize.sewing import Sewing, Thread
from digitize.shapes import circle

WEDGES = 12
WHEEL_MM = (4.0, 15.0)  # inner and outer radius
WEDGE_DEG = 24.0
SIDE_MM = 28.0  # from one sampler to the next


def sampler() -> Sewing:
    """A fill, a satin letter, a satin wave, a bean line and a running line, 24 mm wide, in one thread."""
    return sew(_kinds_of_stitch(RED, 0.0))


def three_samplers() -> Sewing:
    """The sampler three times side by side, each in a thread of its own."""
    return sew(
        [
            step
            for k, thread in enumerate((CREAM, RED, NAVY))
            for step in _kinds_of_stitch(thread, SIDE_MM * (k - 1))
        ]
    )


def _kinds_of_stitch(thread: Thread, right_mm: float) -> list[Step]:
    x = np.linspace(-11.0, 11.0, 90) + right_mm
    wave = np.column_stack([x, 7.2 - 0.8 * np.cos(2 * np.pi * (x - right_mm) / 7.5)])
    (letter,) = letters_on_line("R", height_mm=10.0, left_mm=(1.5 + right_mm, 3.2))
    line = np.column_stack([x, np.full_like(x, 10.4)])
    return [
        Step("fill", thread, fill([circle(5.0, (-6.0 + right_mm, -1.8))], angle_deg=20.0)),
        Step("letter", thread, letter),
        Step("wave", thread, satin_path(wave, 2.2)),
        Step("bean", thread, bean(line)),
        Step("running", thread, running(line + [0.0, 1.5])),
    ]


def angle_wheel() -> Sewing:
    """Twelve satin wedges, the stitches of each at right angles to its spoke; in one thread."""
    steps = []
    for k in range(WEDGES):
        spoke = np.deg2rad(360.0 / WEDGES * k)
        way = np.linspace(*WHEEL_MM, 40)
        edges = [
            np.column_stack([way * np.cos(spoke + turn), way * np.sin(spoke + turn)])
            for turn in np.deg2rad([-WEDGE_DEG / 2, WEDGE_DEG / 2])
        ]
        steps.append(Step(f"wedge {k + 1}", RED, satin(edges[0], edges[1])))
    return sew(steps)


def medallion() -> Sewing:
    """A filled disc in a satin ring with a letter on it, 22 mm, in four threads."""
    (letter,) = letters_on_line("O", height_mm=8.0, left_mm=(-3.5, 4.0))
    return sew(
        [
            Step("ground", NAVY, fill([circle(9.0)], angle_deg=15.0)),
            Step("ring", GOLD, satin_path(circle(9.6), 2.6)),
            Step("letter", CREAM, letter),
            Step("line", RED, bean(circle(6.6))),
        ]
    )
