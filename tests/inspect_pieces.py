"""Pieces to inspect, put together by hand and sewn exactly as programmed unless a pull is given."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from plan_pieces import Piece as Sewing
from plan_pieces import design_of

from render.compose import window_for
from render.draw.cover import draw_cover
from render.inspect import Piece
from render.inspect.limits import limits_for
from render.materials.job import make_job
from render.materials.stabilisers import holding_for
from render.materials.threads import threads_for
from render.model import Command, Job, ObjectMove, Sewn, View
from render.plan import plan

TRIM = (Command.TRIM, Command.JUMP)
CHANGE = (Command.TRIM, Command.COLOUR_CHANGE, Command.JUMP)
STOP = (Command.TRIM, Command.STOP, Command.JUMP)


def moved(piece: Sewing, x_mm: float, y_mm: float) -> Sewing:
    """The same stitches elsewhere."""
    return piece.turned(0.0, (x_mm, y_mm))


def inspected(*steps: Any, job: Job | None = None, cap: bool = False, pull_in_mm: Any = None) -> Piece:
    """Pieces and, between them, the commands that part them (a trim where none are given).

    `pull_in_mm` is a pair: how much narrower each object sews out, likely and at worst.
    """
    xy: list[Any] = []
    command: list[int] = []
    waiting: tuple[Command, ...] = ()
    for step in steps:
        if isinstance(step, tuple):
            waiting = step
            continue
        points = np.round(step.points_mm, 1)
        points = points[np.concatenate([[True], np.hypot(*np.diff(points, axis=0).T) > 0.01])]
        for what in (waiting or TRIM) if xy else ():
            xy.append(points[0] if what == Command.JUMP else xy[-1])
            command.append(what)
        xy.extend(points)
        command += [Command.STITCH] * len(points)
        waiting = ()
    job = job or make_job()
    blocks = 1 + sum(what in (Command.COLOUR_CHANGE, Command.STOP) for what in command)
    planned = plan(design_of(np.array(xy), command, colours=(None,) * blocks), job.machine)
    threads, _ = threads_for(len(planned.blocks), (None,) * blocks, job.threads, job.thread_changes)
    still = Sewn(planned, planned.start_mm, planned.end_mm)
    likely, high = (_pulled(still, pull) for pull in pull_in_mm or (0.0, 0.0))
    cover = draw_cover(
        still, threads=threads, job=job, window=window_for(planned.box_mm, View(dpi=508.0, margin_mm=1.0))
    )
    limits = tuple(limits_for(job.fabric, thread) for thread in threads)
    holding = holding_for(job, planned.box_mm)
    return Piece(likely, high, job, holding, threads, limits, cover, cover, cap)


def _pulled(still: Sewn, pull_in_mm: float) -> Sewn:
    """The account of each object's width, where all of them lose as much."""
    moves = tuple(
        ObjectMove(part.index, part.width_mm, part.width_mm - pull_in_mm, 0.0, (0.0, 0.0))
        for part in still.plan.objects
    )
    return replace(still, objects=moves)


def shifted(piece: Piece, block: int, likely_mm: tuple[float, float], high_mm: Any = None) -> Piece:
    """The piece with one colour block sewn elsewhere by so much, likely and at most."""
    plan = piece.plan
    own = (plan.colour_block == block)[:, None]
    likely, high = (
        replace(piece.sewn, start_mm=plan.start_mm + own * way, end_mm=plan.end_mm + own * way)
        for way in (np.array(likely_mm), np.array(high_mm or likely_mm))
    )
    cover = draw_cover(likely, threads=piece.threads, job=piece.job, window=piece.sewn_cover.window)
    return replace(piece, sewn=likely, high=high, sewn_cover=cover)
