"""Strands and their neighbours: which lie beside each other, and where they gather into their holes."""

from __future__ import annotations

import itertools
import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from render.compiled import njit
from render.draw.across import LEAST_MM, box_of
from render.draw.bending import ALONE, AMONG, IN_LINE, STRAIGHT
from render.draw.neighbours import LEAST_REACH_MM, REACH_MM, binned, look_around

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from render.draw.strands import Strands

# A thread that meets its neighbour no sooner than at this share of its half-width just reaches it; further
# off it draws back again, and beyond `APART` it is as it would be alone (estimates).
MEETS, APART = 1.14, 1.36
# Over such a length a thread gathers into its hole, to such a share of its width, by how its end lies (see
# `bending`): where it goes straight on only the hole gathers it and not its own way back beside it; in a line
# it is rounder already. Flat thread is about half as wide when it is round again (estimates).
TAPER_MM, TAPERED = (0.38, 0.24, 0.60, 0.25), (0.63, 0.72, 0.62, 0.80)
SAME_HOLE_MM = 0.06  # so close, two ends are in one hole
EVERY = 4  # samples of height from one look for neighbours to the next
HALF, LONG, FIRST_LESS, FIRST_PER_MM, LAST_LESS, LAST_PER_MM, ENDS = range(7)  # columns of `Crowd.ends`


@dataclass(frozen=True, slots=True, eq=False)
class Crowd:
    """Strands and their neighbours: what the sections of the strands depend on besides where these lie now.

    `near` (K, 2) are the strands that lie next to the left and to the right at each look, -1 for none; strand
    i owns looks `looks[i]` to `looks[i+1]`, and rows `first[i]` to `first[i+1]` of its sections.
    `ways` (N, 2) is how their ends lie, as `bending` names it. `ends` (N, 6) is what of each strand its
    neighbours ask for, in columns as `HALF` and the others: half its width and how long it is; the share of
    its width that it loses in the hole at its start, if it goes down there, and one over the length on which
    it gathers into it; and the same at its end.
    """

    strands: Strands
    first: NDArray[np.int64]
    looks: NDArray[np.int64]
    near: NDArray[np.int32]
    ways: NDArray[np.int8]
    ends: NDArray[np.float64]


def crowd_of(laid: Strands, first: NDArray[np.int64], *, pressed: bool = True) -> Crowd:
    """The strands as they are laid, strand i with rows `first[i]` to `first[i+1]` of sections.

    Without `pressed` every thread is as if alone.
    """
    piece = np.where(pressed, laid.piece, np.int32(-1)).astype(np.int32)
    crowd = np.flatnonzero(piece >= 0)
    start, end = (np.ascontiguousarray(ends) for ends in (laid.start_mm, laid.end_mm))
    # Beyond `APART` a neighbour leaves as much room as none.
    reach = float(np.clip(2.0 * APART * laid.half_width_mm.max(initial=0.0), LEAST_REACH_MM, REACH_MM))
    box = box_of(start, end)
    low, shape = (
        box[:2] - 2 * reach,
        tuple((np.ceil((box[:1:-1] - box[1::-1]) / reach).astype(int) + 5).tolist()),
    )
    bins, listed = binned(start, end, crowd, low, reach, shape)
    lie, grid = (start, end, piece, laid.stitch.astype(np.int32)), (low, reach, shape, bins, listed)
    looks = np.concatenate([[0], np.cumsum((np.diff(first) - 2) // EVERY + 2)])
    near = np.empty((looks[-1], 2), np.int32)
    shared_out(len(piece), lambda own: look_around(own, lie, grid, looks, near))
    ways, ends = ways_of(laid, pressed=pressed), np.empty((len(piece), ENDS))
    fill_ends(start, end, laid.half_width_mm, laid.dives, ways, np.array([TAPER_MM, TAPERED]), ends)
    return Crowd(laid, first, looks, near, ways, ends)


def ways_of(laid: Strands, *, pressed: bool = True) -> NDArray[np.int8]:
    """How the ends (N, 2) of strands lie, as `bending` names it."""
    ways = np.where(runs_on(laid), np.int8(STRAIGHT), np.int8(AMONG))
    ways[laid.piece < 0] = IN_LINE
    if not pressed:
        ways[:] = ALONE
    return ways


@njit(cache=True, nogil=True, error_model="numpy")
def fill_ends(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    half_width: NDArray[np.float64],
    dives: NDArray[np.bool_],
    ways: NDArray[np.int8],
    gathers: NDArray[np.float64],
    out: NDArray[np.float64],
) -> None:
    """Fill the columns of `Crowd.ends`; an end that lies in one of the ways gathers over such a length to
    such a share of its width: `gathers` (2, 4)."""
    for i in range(len(out)):
        length = np.hypot(end[i, 0] - start[i, 0], end[i, 1] - start[i, 1])
        out[i, HALF], out[i, LONG] = half_width[i], length
        for side in range(2):
            reach, kept = gathers[0, ways[i, side]], gathers[1, ways[i, side]]
            out[i, FIRST_LESS + 2 * side] = 1.0 - kept if dives[i, side] else 0.0
            most = 0.45 * max(length, LEAST_MM) if ways[i, side] == ALONE else reach
            out[i, FIRST_PER_MM + 2 * side] = 1.0 / min(reach, most)


def runs_on(laid: Strands) -> NDArray[np.bool_]:
    """Which ends (N, 2) of strands go down where thread comes up again and goes straight on."""
    out = np.zeros((len(laid.stitch), 2), np.bool_)
    mark_straight(np.ascontiguousarray(laid.start_mm), np.ascontiguousarray(laid.end_mm), laid.stitch, out)
    return out


@njit(cache=True, nogil=True)
def mark_straight(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    stitch: NDArray[np.integer[Any]],
    out: NDArray[np.bool_],
) -> None:
    """Mark the ends of `runs_on`."""
    last = -1
    for i in range(len(stitch)):
        if stitch[i] < 0:
            continue
        if last >= 0:
            forth = (end[i, 0] - start[i, 0]) * (end[last, 0] - start[last, 0])
            forth += (end[i, 1] - start[i, 1]) * (end[last, 1] - start[last, 1])
            away = max(abs(start[i, 0] - end[last, 0]), abs(start[i, 1] - end[last, 1]))
            if forth > 0.0 and away < SAME_HOLE_MM:
                out[last, 1] = out[i, 0] = True
        last = i


def shared_out(count: int, work: Callable[[tuple[int, int]], None]) -> None:
    """Do the work for so many strands, from one to another, on all cores."""
    cores = os.cpu_count() or 1
    stops = np.linspace(0, count, 4 * cores + 1).astype(int).tolist()
    with ThreadPoolExecutor(cores) as pool:
        list(pool.map(work, itertools.pairwise(stops)))
