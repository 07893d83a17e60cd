"""What no two sewn pieces have alike, and no inspection counts on: where needles are turned aside by the
cloth's yarns, how deep lines sink into it, how unevenly threads are drawn tight.

It is drawn, not predicted: sewn places and all that is measured on them know nothing of it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from render.compiled import njit
from render.draw.bending import AMONG, HELD_UP_MM
from render.draw.cords import snap, snapped
from render.draw.crowd import TAPER_MM, TAPERED, runs_on
from render.draw.grain import hash_unit, unit_of
from render.draw.profile import SEEN_HEIGHT
from render.draw.strands import LINES

if TYPE_CHECKING:
    from collections.abc import Collection

    from numpy.typing import NDArray

    from render.draw.stack import Stack
    from render.draw.strands import Strands
    from render.model import Fabric, Floats, Sewn

# A needle's point slips off yarns into the gap between them: to either side by such a share of their
# distance, at most so far (common practice, no source).
ASIDE_SHARE, MOST_ASIDE_MM = 0.08, 0.02
# Those of lines of single stitches by more, with no thread beside them that would hold them, and what lies
# between two of their holes bows out to either side by up to so much of its length (by eye).
LINE_ASIDE_SHARE, MOST_LINE_ASIDE_MM = 0.22, 0.07
LINE_BOW = 0.02
# What fills between their holes is drawn tight unevenly: that brings a hole along its row by up to so much to
# either side, so that no two rows end alike (by eye).
ALONG_MM = 0.08
FIBRES_APART_MM = 0.16  # in cloth without yarns that a needle would meet (estimate)
HOLES_PER_MM = 20  # needle points that are programmed closer are one hole
# Lines of single stitches lie so deep in the cloth: in any, and the deeper the more it gives at a hole; by
# such a share more or less, and by so much more at their holes, over such a length (estimates).
SUNK_MM, SUNK_PER_GIVE, SUNK_UNEVEN = 0.01, 0.02, 0.5
HOLE_DIP_MM, HOLE_DIP_LONG_MM = 0.20, 0.40
# Of those beside each other, some ends are drawn into their hole by up to so much more (estimate). One that
# lies on other thread is let in by as much as it gets rounder, so that its upper side does not rise.
END_DIP_MM, END_DIP_LONG_MM = 0.015, TAPER_MM[AMONG]
# Stitches that lie beside each other are drawn tight unevenly: their crown is so much higher or lower, and
# lies before or behind their middle as a wave of such a height brings it, by their length and at most (by
# eye, from where gloss wanders on satin).
CROWN_PER_MM, MOST_CROWN_MM = 0.005, 0.015
WAVE_PER_MM, MOST_WAVE_MM = 0.007, 0.020
# Short ones among them, as from row to row, are drawn into the cloth: the shorter than that, the deeper
# (estimates).
SHORT_MM, SHORT_SUNK_MM = 0.7, 0.40
# Underlay is pressed into the cloth by what covers it, or its crossings would stand up between the ends of
# rows, which bend down there (by eye).
UNDER_SUNK_MM = 0.09
# Tie stitches are drawn into the thread that they lie on, or each would be a bead (by eye).
TIE_SUNK_MM = 0.11
CROWN, WAVE, SUNK, DIPS, PER_LONG, ASKED = 0, 1, 2, 3, 5, 6  # columns of what `tighten` is asked for
HIGHEST = 6.0 * 3.0**0.5  # t (1 - t) (1 - 2 t) is at most one over that
BOW_UNEVEN = 0.3  # of how far the passes of a bean stitch lie aside


def turned_aside(strands: Strands, sewn: Sewn, fabric: Fabric, seed: int) -> Strands:
    """The strands as their needle points were turned aside by yarns: all that goes down one hole alike."""
    if not len(strands.stitch):
        return strands
    among, alone = (
        min(share * yarn_mm(fabric), most_mm)
        for share, most_mm in ((ASIDE_SHARE, MOST_ASIDE_MM), (LINE_ASIDE_SHARE, MOST_LINE_ASIDE_MM))
    )
    line, rows = lines_of(strands, sewn), along_rows(sewn)
    reach, ends = np.where(line, alone, among), (strands.start_mm.copy(), strands.end_mm.copy())
    for k, aimed in enumerate((sewn.plan.start_mm, sewn.plan.end_mm)):
        turn_aside(strands.stitch, aimed, reach, rows[:, k], seed, ends[k])
    bow = strands.bow_mm
    if bow is not None:
        more = 2.0 * hash_unit(strands.grain.astype(np.int64), seed + 1103) - 1.0
        length = np.hypot(*(ends[1] - ends[0]).T)
        bow = snap(bow * (1.0 + BOW_UNEVEN * more) + np.where(line, LINE_BOW * length * more, 0.0))
    return replace(strands, start_mm=ends[0], end_mm=ends[1], bow_mm=bow)


@njit(cache=True, nogil=True, error_model="numpy")
def turn_aside(
    stitch: NDArray[np.integer[Any]],
    aimed: Floats,
    reach: Floats,
    rows: Floats,
    seed: int,
    lie: NDArray[np.float64],
) -> None:
    """Move the ends of strands, which `lie` (N, 2) where stitches were `aimed` (S, 2), mm: by up to a reach
    (N,) to any side, and along their `rows` (S, 2), see `along_rows`."""
    for i in range(len(stitch)):
        own = stitch[i]
        if own < 0:
            continue
        across, down = int(np.rint(aimed[own, 0] * HOLES_PER_MM)), int(np.rint(aimed[own, 1] * HOLES_PER_MM))
        hole = (across & 0xFFFF) | (down & 0xFFFF) << 16
        tight = ALONG_MM * (2.0 * unit_of(hole, seed + 1110) - 1.0)
        for axis in range(2):
            aside = unit_of(hole, seed + 1101 + axis) - 0.5
            lie[i, axis] += snapped(2.0 * reach[i] * aside + tight * rows[own, axis])


def along_rows(sewn: Sewn) -> NDArray[np.float64]:
    """Which way the thread runs at the start and end of each stitch (S, 2, 2): as the longer one does of the
    two that share the hole. Nothing but in fills."""
    plan = sewn.plan
    fills = np.array([one.kind == "fill" for one in plan.objects] or [False])[plan.object_index]
    out = np.zeros((len(fills), 2, 2))
    fill_along(plan.start_mm, plan.end_mm, plan.thread_breaks, fills, out)
    return out


@njit(cache=True, nogil=True, error_model="numpy")
def fill_along(
    start: Floats, end: Floats, thread_breaks: NDArray[np.bool_], fills: NDArray[np.bool_], out: Floats
) -> None:
    """Fill in the ways of `along_rows` of those stitches that are of fills."""
    before = 0.0
    for i in range(len(out)):
        if not fills[i]:
            continue
        x, y = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]
        length = np.hypot(x, y)
        per_mm = 1.0 / max(length, 1e-6)
        out[i, :, 0], out[i, :, 1] = x * per_mm, y * per_mm
        if i > 0 and fills[i - 1] and not thread_breaks[i]:
            if before >= length:
                out[i, 0] = out[i - 1, 1]
            else:
                out[i - 1, 1] = out[i, 0]
        before = length


def yarn_mm(fabric: Fabric) -> float:
    """How far the yarns of a cloth are apart, on the whole."""
    made = fabric.structure
    if made.get("kind") == "weave":
        return 0.5 * float(made["warp"]["spacing_mm"] + made["weft"]["spacing_mm"])
    if made.get("kind") == "knit":
        return 0.5 * float(0.5 * made["wale_mm"] + made["course_mm"])
    return FIBRES_APART_MM


def drawn_tight(stacked: Stack, strands: Strands, sewn: Sewn, fabric: Fabric, seed: int) -> Stack:
    """The stack with its threads drawn tight unevenly; lines of single stitches sink into cloth, and underlay
    is pressed into it."""
    laid, lines = strands.unmoved(), lines_of(strands, sewn)
    beside = (strands.piece >= 0) & (strands.stitch >= 0)
    pressed = np.where(lines_of(strands, sewn, {"underlay"}), UNDER_SUNK_MM, 0.0)
    pressed[lines_of(strands, sewn, {"tie"})] = TIE_SUNK_MM
    sunk_mm = SUNK_MM + SUNK_PER_GIVE * fabric.hole_give_mm
    told, lie = (lines, beside, runs_on(laid), strands.dives), (stacked.height_mm, stacked.section_mm)
    ask = np.empty((len(lines), ASKED))
    fill_asked(
        (laid.start_mm, laid.end_mm), told, sunk_mm, pressed, strands.grain, seed, stacked.first, lie, ask
    )
    height = stacked.height_mm.copy()
    tighten(ask, stacked.first, height)
    return replace(stacked, height_mm=height)


@njit(cache=True, nogil=True, error_model="numpy")
def fill_asked(
    ends: tuple[Floats, Floats],
    told: tuple[NDArray[np.bool_], ...],
    sunk_mm: float,
    pressed: Floats,
    grain: NDArray[np.uint32],
    seed: int,
    first: NDArray[np.int64],
    lie: tuple[NDArray[np.float32], NDArray[np.float32]],
    ask: NDArray[np.float64],
) -> None:
    """Fill in what `tighten` is asked for. `told` is which strands (N,) are of lines and which lie beside
    others, and which ends (N, 2) run on and which dive; lines lie `sunk_mm` deep, and all are `pressed` (N,)
    mm deeper; `lie` is heights and sections as in `Stack`."""
    start, end = ends
    lines, beside, straight, dives = told
    height, section = lie
    for i in range(len(ask)):
        length, word = np.hypot(end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]), np.int64(grain[i])
        crown, wave, deep = (
            2.0 * unit_of(word, seed + 1104) - 1.0,
            2.0 * unit_of(word, seed + 1105) - 1.0,
            2.0 * unit_of(word, seed + 1106) - 1.0,
        )
        ask[i, CROWN] = crown * min(CROWN_PER_MM * length, MOST_CROWN_MM) if beside[i] else 0.0
        ask[i, WAVE] = wave * min(WAVE_PER_MM * length, MOST_WAVE_MM) if beside[i] else 0.0
        turns = beside[i] and not straight[i, 0] and not straight[i, 1]
        own = SHORT_SUNK_MM * max(1.0 - length / SHORT_MM, 0.0) if turns else 0.0
        ask[i, SUNK] = pressed[i] + (sunk_mm * (1.0 + SUNK_UNEVEN * deep) if lines[i] else own)
        for side in range(2):
            dip = HOLE_DIP_MM if lines[i] else 0.0
            if beside[i] and not lines[i]:
                dip = END_DIP_MM * unit_of(word, seed + 1107 + side)
                at = first[i + 1] - 1 if side else first[i]
                if height[at] > 0.0:
                    held_up = min(height[at] / np.float32(HELD_UP_MM), np.float32(1.0))
                    dip += held_up * (np.float32(SEEN_HEIGHT * (1.0 - TAPERED[AMONG])) * section[at, 2])
            ask[i, DIPS + side] = dip if dives[i, side] else 0.0
        ask[i, PER_LONG] = length / (HOLE_DIP_LONG_MM if lines[i] else END_DIP_LONG_MM)


@njit(cache=True, nogil=True, error_model="numpy")
def tighten(ask: NDArray[np.float64], first: NDArray[np.int64], height: NDArray[np.float32]) -> None:
    """Change the heights of strands, see `drawn_tight`, as is asked of each in columns as `CROWN` and the
    others: mm by which its crown rises, by which its first half does and its second sinks, by which all of
    it sinks, and either end; and how often the length over which that does goes into its own."""
    for i in range(len(ask)):
        crown, wave, sunk = ask[i, CROWN], ask[i, WAVE], ask[i, SUNK]
        dip, other, per_long = ask[i, DIPS], ask[i, DIPS + 1], ask[i, PER_LONG]
        own = height[first[i] : first[i + 1]]
        share = 1.0 / max(len(own) - 1.0, 1.0)
        for k in range(len(own)):
            t = k * share
            square = t * (1.0 - t)
            more = 4.0 * crown * square + HIGHEST * wave * square * (1.0 - 2.0 * t) - sunk
            near, far = max(1.0 - t * per_long, 0.0), max(1.0 - (1.0 - t) * per_long, 0.0)
            own[k] += np.float32(more - dip * near * near - other * far * far)


def lines_of(strands: Strands, sewn: Sewn, kinds: Collection[str] = LINES) -> NDArray[np.bool_]:
    """Which strands (N,) are stitches of such kinds: of lines of single stitches."""
    own, chosen = strands.stitch >= 0, np.array([one.kind in kinds for one in sewn.plan.objects] or [False])
    return np.asarray(own & chosen[sewn.plan.object_index[np.where(own, strands.stitch, 0)]])
