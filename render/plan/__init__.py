"""Plan: the records of a stitch file become stitches, travels, colour blocks and objects."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.model import Command, SewPlan
from render.plan.cover import mark_underlay
from render.plan.objects import objects_of
from render.plan.trace import trace
from render.plan.turn import on_grid, turned

if TYPE_CHECKING:
    from render.model import Design, Machine

__all__ = ["plan"]


def plan(design: Design, machine: Machine, *, rotate_deg: float = 0.0, mirror: bool = False) -> SewPlan:
    """What will be sewn, in order, with the design mirrored and then turned as asked.

    The turn is clockwise as seen, about the middle of all needle points; quarter turns are
    exact. A colour block is what is sewn between two halts of the machine: a colour change
    or a stop, where cloth may be laid, starts a new one; changes with nothing sewn between
    them count once, so block i has the colour `design.colours_srgb[i]`. A block that holds a
    single needle point has no stitches: its `last` is one less than its `first`.
    Raises InputError when nothing is sewn at all.
    """
    xy = on_grid(design.xy_mm)
    points = xy[design.command == Command.STITCH]
    middle = (points.min(0) + points.max(0)) / 2 if len(points) else np.zeros(2)
    traced = trace(design, machine, turned(xy, middle, rotate_deg, mirror=mirror))
    start, end, block = traced.start_mm, traced.end_mm, traced.colour_block
    objects = objects_of(start, end, traced.thread_breaks, block)
    sizes = [thing.last - thing.first + 1 for thing in objects]
    object_index = np.repeat(np.arange(len(objects), dtype=np.int32), sizes)
    return SewPlan(
        start_mm=start,
        end_mm=end,
        thread_breaks=traced.thread_breaks,
        colour_block=block,
        object_index=object_index,
        travels=traced.travels,
        blocks=traced.blocks,
        objects=mark_underlay(objects, start, end, object_index, block),
        sequins_mm=traced.sequins_mm,
        sequin_block=traced.sequin_block,
        trims=traced.trims,
        notes=traced.notes,
    )
