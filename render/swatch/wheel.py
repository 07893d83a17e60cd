"""An angle wheel to sew and photograph: twelve satin wedges in one thread, and a frame around them.

The stitches of each wedge lie at right angles to its spoke, so opposite wedges lie alike and a
half-turn is seen in steps of 30 degrees. The corners of the frame say where the wheel lies on a
photograph; the small square at one of them is the upper left.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from render.swatch.needle import Needle

if TYPE_CHECKING:
    from render.model import Design, Floats

WEDGES, WEDGE_DEG = 12, 24.0
WHEEL_MM = 5.0, 16.0  # inner and outer radius
SPACING_MM = 0.36  # on the outer edge, between needle points of one side (common practice, no source)
HUB_MM = 4.2  # radius on which the thread goes on from wedge to wedge
FRAME_MM = 40.0  # side of the square
CORNER_MM = 4.0


@dataclass(frozen=True, slots=True, eq=False)
class Wheel:
    """The design, its middle at (0, 0); `stitches` counted, and each wedge's first and last of them."""

    design: Design
    stitches: int
    wedges: tuple[tuple[int, int], ...]


@cache
def make_wheel() -> Wheel:
    """The wheel, always the same one."""
    needle, wedges = Needle(), []
    needle.cut_to_run(_frame())
    # On under the first wedge: no thread to cut, on no machine.
    needle.run(_on_spoke(0, HUB_MM))
    for number in range(WEDGES):
        if number:
            needle.run(_on_hub(number))
        # The line under the satin carries the thread out; the satin comes back in over it.
        needle.run(_on_spoke(number, WHEEL_MM[0], WHEEL_MM[1] - 0.4))
        satin = _satin(number)
        needle.sew(satin[:1])
        first = needle.stitches
        needle.sew(satin[1:])
        wedges.append((first, needle.stitches - 1))
    needle.run(_on_hub(WEDGES))
    needle.cut()
    return Wheel(needle.design("wheel"), needle.stitches, tuple(wedges))


def spoke_deg(number: int) -> float:
    """Direction of a wedge's spoke, clockwise from the right; its stitches lie across it."""
    return 360.0 / WEDGES * number


def _frame() -> Floats:
    """A square from the middle of its right side, clockwise, with a smaller one in its upper left."""
    half, inner = FRAME_MM / 2, FRAME_MM / 2 - CORNER_MM
    small = [(-inner, -half), (-inner, -inner), (-half, -inner), (-half, -half)]
    around = [(half, 0.0), (half, half), (-half, half), (-half, -half), *small, (half, -half), (half, 0.0)]
    return np.array(around)


def _on_spoke(number: int, *radii_mm: float) -> Floats:
    turn = np.deg2rad(spoke_deg(number))
    return np.array([(r * np.cos(turn), r * np.sin(turn)) for r in radii_mm])


def _on_hub(number: int) -> Floats:
    """The way along the hub to a wedge, from the one before it."""
    turns = np.deg2rad(np.linspace(spoke_deg(number - 1), spoke_deg(number), 3))
    return HUB_MM * np.column_stack([np.cos(turns), np.sin(turns)])


def _satin(number: int) -> Floats:
    """Needle points from the outer end of a wedge to its inner one, left and right by turns."""
    inner, outer = WHEEL_MM
    count = round((outer - inner) / (SPACING_MM / 2)) + 1
    radius = np.linspace(outer, inner, count)
    side = np.where(np.arange(count) % 2, 1.0, -1.0) * np.deg2rad(WEDGE_DEG / 2)
    turn = np.deg2rad(spoke_deg(number))
    # Straight across the spoke: the edges are the wedge's sides.
    along, across = radius * np.cos(side), radius * np.sin(side)
    return np.column_stack(
        [along * np.cos(turn) - across * np.sin(turn), along * np.sin(turn) + across * np.cos(turn)]
    )
