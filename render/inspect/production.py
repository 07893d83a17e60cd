"""What sewing the piece once takes: time at the machine, needle and bobbin thread."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.inspect.jumps import clipped_mm
from render.materials.groups import group_of
from render.materials.production import usual_effort
from render.model import Production

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.inspect.piece import Piece
    from render.materials.production import Effort
    from render.model import Floats


def production_of(piece: Piece, effort: Effort | None = None) -> Production:
    """Run time, trims, changes and thread of one piece; what a machine may or may not cut is dragged."""
    effort = effort if effort is not None else usual_effort()
    plan, machine = piece.plan, piece.job.machine
    length = np.hypot(*(plan.end_mm - plan.start_mm).T)
    changes = sum(block.ends_with == "colour-change" for block in plan.blocks)
    stops = sum(block.ends_with == "stop" for block in plan.blocks)
    speed_spm = machine.cap_speed_spm if piece.cap else machine.speed_spm
    run_time = sewing_time_s(length, speed_spm, effort)
    run_time += plan.trims * effort.trim_s + changes * effort.colour_change_s + stops * effort.stop_s
    bobbin = bobbin_mm(plan.start_mm, plan.end_mm, plan.thread_breaks, effort.bobbin_share)
    needle = needle_mm(length, thickness_mm(piece, effort), bobbin)
    by_block = np.bincount(plan.colour_block, needle, len(plan.blocks))
    dragged = [t for t in plan.travels if t.cut != "yes" and 0 <= t.after_stitch < len(length) - 1]
    for travel in dragged:  # both threads, one above and one below
        by_block[travel.colour_block] += travel.length_mm
    return Production(
        run_time_s=float(run_time),
        trims=plan.trims,
        colour_changes=changes,
        stops=stops,
        needle_thread_m=tuple(float(millimetres / 1000) for millimetres in by_block),
        bobbin_thread_m=float((bobbin.sum() + sum(travel.length_mm for travel in dragged)) / 1000),
        clipped_mm=clipped_mm(piece),
    )


def thickness_mm(piece: Piece, effort: Effort) -> float:
    """Of cloth and stabiliser between the two threads, mm; a pile is pressed down under them."""
    fabric = piece.job.fabric
    pressed = effort.pressed_pile_share if group_of(fabric) == "pile" else 1.0
    held = piece.holding is not None and piece.holding.stabiliser is not None
    return fabric.thickness_mm * pressed + (effort.stabiliser_mm if held else 0.0)


def sewing_time_s(length_mm: Floats, speed_spm: float, effort: Effort) -> float:
    """Seconds for stitches (S,) of these lengths: each at the machine's speed, long ones slower.

    8,000 short stitches at 800 a minute take 10 minutes.
    """
    return float(stitch_times_s(length_mm, speed_spm, effort).sum())


def stitch_times_s(length_mm: Floats, speed_spm: float, effort: Effort) -> Floats:
    """Seconds (S,) of each stitch, see `sewing_time_s`."""
    room = max(effort.slowest_mm - effort.full_speed_mm, 1e-9)
    over = np.clip((length_mm - effort.full_speed_mm) / room, 0.0, 1.0)
    share = 1.0 - over * (1.0 - effort.slowest_share)
    times: Floats = 60.0 / (speed_spm * share)
    return times


def needle_mm(length_mm: Floats, thickness_mm: float, bobbin_mm: Floats) -> Floats:
    """Needle thread (S,), mm, of lockstitches that take so much bobbin thread, in cloth so thick.

    Both threads together take 2 (l + t) a stitch wherever they lock: l + t each where they lock
    in the middle of the cloth, and 5 l / 3 + 2 t with l / 3 where the bobbin shows on a third of
    a satin's back.
    """
    return 2 * (length_mm + thickness_mm) - bobbin_mm


def bobbin_mm(start_mm: Floats, end_mm: Floats, breaks: NDArray[np.bool_], share: float) -> Floats:
    """Bobbin thread (S,), mm, of stitches from `start_mm` to `end_mm` (S, 2) on the back of the cloth.

    It draws each loop of needle thread from its hole towards the holes before and after it, so far
    that on a satin's back it spans `share` of the width; along a straight run the two draw
    against each other, and it spans every stitch in full. `breaks` (S,) are stitches that do not
    come from the one before.
    """
    run = end_mm - start_mm
    drawn = np.zeros((len(run) + 1, 2))  # of the hole where stitch i starts, towards its neighbours' middle
    drawn[1:-1] = np.where(breaks[1:, None], 0.0, (run[1:] - run[:-1]) / 2)
    spanned = run + (1.0 - share) / 2 * (drawn[1:] - drawn[:-1])
    bobbin: Floats = np.minimum(np.hypot(*spanned.T), np.hypot(*run.T))
    return bobbin
