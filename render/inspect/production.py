"""What sewing the piece once takes: time at the machine, needle and bobbin thread."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.materials.production import usual_effort
from render.model import Production

if TYPE_CHECKING:
    from render.inspect.piece import Piece
    from render.materials.production import Effort
    from render.model import Floats

STABILISER_MM = 0.4  # thickness of a sheet under the cloth (estimate)


def production_of(piece: Piece, effort: Effort | None = None) -> Production:
    """Run time, trims, changes and thread of one piece."""
    effort = effort if effort is not None else usual_effort()
    plan, machine = piece.plan, piece.job.machine
    length = np.hypot(*(plan.end_mm - plan.start_mm).T)
    changes = sum(block.ends_with == "colour-change" for block in plan.blocks)
    stops = sum(block.ends_with == "stop" for block in plan.blocks)
    speed_spm = machine.cap_speed_spm if piece.cap else machine.speed_spm
    run_time = sewing_time_s(length, speed_spm, effort)
    run_time += plan.trims * effort.trim_s + changes * effort.colour_change_s + stops * effort.stop_s
    thickness = piece.job.fabric.thickness_mm
    if piece.holding is not None and piece.holding.stabiliser is not None:
        thickness += STABILISER_MM
    needle, bobbin = lockstitch_mm(length, thickness, effort.bobbin_share)
    by_block = np.bincount(plan.colour_block, needle, len(plan.blocks)) / 1000
    # What is dragged is needle thread, too.
    for travel in plan.travels:
        if travel.cut == "no" and 0 <= travel.colour_block < len(by_block):
            by_block[travel.colour_block] += travel.length_mm / 1000
    return Production(
        run_time_s=float(run_time),
        trims=plan.trims,
        colour_changes=changes,
        stops=stops,
        needle_thread_m=tuple(float(metres) for metres in by_block),
        bobbin_thread_m=float(bobbin.sum() / 1000),
    )


def sewing_time_s(length_mm: Floats, speed_spm: float, effort: Effort) -> float:
    """Seconds for stitches (S,) of these lengths: each at the machine's speed, long ones slower.

    8,000 short stitches at 800 a minute take 10 minutes.
    """
    room = max(effort.slowest_mm - effort.full_speed_mm, 1e-9)
    over = np.clip((length_mm - effort.full_speed_mm) / room, 0.0, 1.0)
    share = 1.0 - over * (1.0 - effort.slowest_share)
    return float((60.0 / (speed_spm * share)).sum())


def lockstitch_mm(length_mm: Floats, thickness_mm: float, bobbin_share: float) -> tuple[Floats, Floats]:
    """Needle and bobbin thread (S,), mm, of lockstitches of these lengths in cloth so thick.

    Both threads together take 2 (l + t) a stitch wherever they lock. Where the bobbin shows on a
    share of the back, the needle thread covers the rest of it: with the usual third
    needle 5 l / 3 + 2 t, bobbin l / 3. With the lock in the middle of the cloth (share 1 and
    half of each thickness) both take l + t.
    """
    if bobbin_share >= 1.0:
        return length_mm + thickness_mm, length_mm + thickness_mm
    bobbin = bobbin_share * length_mm
    return 2 * (length_mm + thickness_mm) - bobbin, bobbin
