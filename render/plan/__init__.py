"""Plan: the records of a stitch file become stitches, travels, colour blocks and objects."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.model import Command, SewPlan
from render.plan.cover import mark_underlay
from render.plan.objects import name_objects
from render.plan.rows import rows_of
from render.plan.trace import trace
from render.plan.turn import turned

if TYPE_CHECKING:
    from render.model import Design, Machine

__all__ = ["plan"]


def plan(design: Design, machine: Machine, *, rotate_deg: float = 0.0, mirror: bool = False) -> SewPlan:
    """What will be sewn, in order, with the design mirrored and then turned as asked.

    A stop starts a new block as a colour change does. A block that holds a single needle
    point has no stitches: its `last` is one less than its `first`. Raises InputError when
    nothing is sewn at all.
    """
    points = design.xy_mm[design.command == Command.STITCH]
    middle = (points.min(0) + points.max(0)) / 2 if len(points) else np.zeros(2)
    traced = trace(design, machine, turned(design.xy_mm, middle, rotate_deg, mirror=mirror))
    start, end, block = traced.start_mm, traced.end_mm, traced.colour_block
    change = np.concatenate([[0], np.diff(block)]) != 0
    piece = np.cumsum(traced.thread_breaks | change)
    objects = name_objects(rows_of(start, end, piece), start, end, piece, block)
    object_index = np.repeat(
        np.arange(len(objects), dtype=np.int32), [thing.last - thing.first + 1 for thing in objects]
    )
    return SewPlan(
        start,
        end,
        traced.thread_breaks,
        block,
        object_index,
        traced.travels,
        traced.blocks,
        mark_underlay(objects, start, end, object_index, block),
        traced.sequins_mm,
        traced.sequin_block,
        traced.trims,
        traced.notes,
    )
