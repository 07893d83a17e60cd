"""Small pieces for looking closely: one of every kind of stitch, and a wheel of satin wedges."""

from __future__ import annotations

import numpy as np

from designs.club import CREAM, GOLD, NAVY, RED, Step, sew
from digitize.fill import ROW_SPACING_MM, fill
from digitize.lettering import letters_on_line
from digitize.parts import Points, as_points
from digitize.running import STITCH_MM, bean, running
from digitize.satin import satin, satin_path
from digitize.sewing import Sewing, Thread
from digitize.shapes import circle, smooth

WEDGES = 12
WHEEL_MM = (4.0, 15.0)  # inner and outer radius
WEDGE_DEG = 24.0
SIDE_MM = 28.0  # from one sampler to the next


def sampler() -> Sewing:
    """A fill, a satin letter, a satin wave, a bean line and a running line, 24 mm wide, in one thread."""
    return sew(_kinds_of_stitch(RED, 0.0, "R", circle(5.0), angle_deg=20.0, waves=(0.8, 7.5)))


def three_samplers() -> Sewing:
    """The same kinds of stitch three times side by side, each time in a thread and in shapes of its own."""
    flag = [(-4.6, -4.2), (4.4, -3.4), (3.2, 0.2), (4.8, 4.4), (-4.6, 4.4)]
    blade = [(-1.2, -5.0), (3.0, -4.2), (3.8, 1.4), (0.6, 5.0), (-3.2, 2.6), (-3.6, -2.4)]
    left, middle, right = -SIDE_MM, 0.0, SIDE_MM
    return sew(
        _kinds_of_stitch(CREAM, left, "R", circle(5.0), angle_deg=20.0, waves=(0.8, 7.5))
        + _kinds_of_stitch(RED, middle, "C", smooth(blade, closed=True), angle_deg=75.0, waves=(1.0, 11.0))
        + _kinds_of_stitch(NAVY, right, "B", as_points([*flag, flag[0]]), angle_deg=60.0, waves=(0.5, 5.5))
    )


def _kinds_of_stitch(
    thread: Thread,
    right_mm: float,
    letter: str,
    outline: Points,
    *,
    angle_deg: float,
    waves: tuple[float, float],
) -> list[Step]:
    """Around a place so far to the right; the fill's outline lies around its own middle, `waves` are how high
    and how long."""
    high_mm, long_mm = waves
    x = np.linspace(-11.0, 11.0, 90) + right_mm
    wave = np.column_stack([x, 7.2 - high_mm * np.cos(2 * np.pi * (x - right_mm) / long_mm)])
    (satins,) = letters_on_line(letter, height_mm=10.0, left_mm=(1.5 + right_mm, 3.2))
    line = np.column_stack([x, np.full_like(x, 10.4)])
    shape = outline + [right_mm - 6.0, -1.8]
    return [
        Step("fill", thread, fill([shape], angle_deg=angle_deg, turn_mm=ROW_SPACING_MM)),
        Step("letter", thread, satins),
        Step("wave", thread, satin_path(wave, 2.2)),
        Step("bean", thread, bean(line, STITCH_MM)),
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
