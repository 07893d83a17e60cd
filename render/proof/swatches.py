"""Swatches of the threads as they lie sewn: a short satin column each, on the order's cloth."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from render.model import Command, Design, Picture, Window
from render.preview import draw_sewn, sew_design

if TYPE_CHECKING:
    from collections.abc import Sequence

    from render.model import Job, Thread

WIDTH_MM, HEIGHT_MM = 14.0, 6.0  # of a swatch
COLUMN_MM = (11.0, 4.4)  # length and width of the stitching in it
APART_MM = 10.0
SPACING_MM = 0.36
PX_PER_MM = 20.0


def thread_swatches(threads: Sequence[Thread], job: Job) -> tuple[Picture, ...]:
    """A picture of each thread, 14 x 6 mm at 20 px/mm; threads that look alike share one."""
    plain = [replace(thread, label="", needle=None) for thread in threads]
    kinds = list(dict.fromkeys(plain))
    sewn = replace(
        job, threads=tuple(kinds), thread_changes={}, blocks={}, topping=None, hoop=None, as_programmed=True
    )
    ready = sew_design(_columns(len(kinds)), sewn)
    windows = [
        Window((0.0, APART_MM * number), PX_PER_MM, round(HEIGHT_MM * PX_PER_MM), round(WIDTH_MM * PX_PER_MM))
        for number in range(len(kinds))
    ]
    pictures = dict(zip(kinds, draw_sewn(ready, sewn, windows), strict=True))
    return tuple(pictures[thread] for thread in plain)


def _columns(count: int) -> Design:
    """A satin column each colour, one under the other, the middle of the first in the origin."""
    length, width = COLUMN_MM
    steps = round(length / SPACING_MM) * 2
    x = np.linspace(-length / 2, length / 2, steps)
    y = np.where(np.arange(steps) % 2, width / 2, -width / 2)
    xy, command = [], []
    for number in range(count):
        column = np.stack([x, y + APART_MM * number], 1)
        xy.append(np.concatenate([column, column[-1:]]))
        command.append(np.concatenate([np.full(steps, Command.STITCH), [Command.COLOUR_CHANGE]]))
    return Design(
        name="swatches",
        format="",
        xy_mm=np.concatenate(xy),
        command=np.concatenate(command).astype(np.uint8),
        colours_srgb=(None,) * count,
        trim_rule="explicit",
        long_stitches_split=False,
        sha256="",
    )
