"""Strands and their neighbours: which lie beside each other, and where they gather into their holes."""

from __future__ import annotations

import itertools
import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numba import njit

from render.draw.across import LEAST_MM, box_of
from render.draw.neighbours import LEAST_REACH_MM, REACH_MM, binned, look_around

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from render.draw.strands import Strands

# A thread that meets its neighbour no sooner than at this share of its half-width just reaches it; further
# off it draws back again, and beyond `APART` it is as it would be alone (estimates).
MEETS, APART = 1.14, 1.36
# Over such a length a thread gathers into its hole, to such a share of its width: as if alone; among others;
# among others where it comes up again and goes straight on, so that only the hole gathers it and not its own
# way back beside it; and in a line of single stitches, where it is rounder already. Flat thread is about half
# as wide when it is round again (estimates).
TAPER_MM, TAPERED = (0.25, 0.38, 0.24, 0.28), (0.80, 0.70, 0.64, 0.70)
ALONE, BESIDE, STRAIGHT, IN_LINE = range(4)
SAME_HOLE_MM = 0.06  # so close, two ends are in one hole
EVERY = 4  # samples of height from one look for neighbours to the next
HALF, LONG, FIRST_LESS, FIRST_PER_MM, LAST_LESS, LAST_PER_MM, ENDS = range(7)  # columns of `Crowd.ends`


@dataclass(frozen=True, slots=True, eq=False)
class Crowd:
    """Strands and their neighbours: what the sections of the strands depend on besides where these lie now.

    `near` (K, 2) are the strands that lie next to the left and to the right at each look, -1 for none; strand
    i owns looks `looks[i]` to `looks[i+1]`, and rows `first[i]` to `first[i+1]` of its sections.
    `straight` (N, 2) are the ends of `runs_on`. `ends` (N, 6) is what of each strand its neighbours ask for,
    in columns as `HALF` and the others: half its width and how long it is; the share of its width that it
    loses in the hole at its start, if it goes down there, and one over the length on which it gathers into
    it; and the same at its end.
    """

    strands: Strands
    first: NDArray[np.int64]
    looks: NDArray[np.int64]
    near: NDArray[np.int32]
    straight: NDArray[np.bool_]
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
    straight = runs_on(laid)
    return Crowd(laid, first, looks, near, straight, _ends_of(laid, straight, pressed=pressed))


def _ends_of(laid: Strands, straight: NDArray[np.bool_], *, pressed: bool) -> NDArray[np.float64]:
    """The columns of `Crowd.ends`."""
    ends = np.empty((len(laid.stitch), ENDS))
    start, end = (np.ascontiguousarray(places) for places in (laid.start_mm, laid.end_mm))
    how = np.where(straight, STRAIGHT, BESIDE).astype(np.int8)
    how[laid.piece < 0] = IN_LINE
    if not pressed:
        how[:] = ALONE
    fill_ends(start, end, laid.half_width_mm, laid.dives, how, np.array([TAPER_MM, TAPERED]), ends)
    return ends


@njit(cache=True, nogil=True, error_model="numpy")
def fill_ends(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    half_width: NDArray[np.float64],
    dives: NDArray[np.bool_],
    how: NDArray[np.int8],
    gathers: NDArray[np.float64],
    out: NDArray[np.float64],
) -> None:
    """Fill the columns of `Crowd.ends`; threads gather over such lengths to such shares of their width, and
    each end (N, 2) in one of those ways, as `ALONE` and the others."""
    for i in range(len(out)):
        length = np.hypot(end[i, 0] - start[i, 0], end[i, 1] - start[i, 1])
        out[i, HALF], out[i, LONG] = half_width[i], length
        for side in range(2):
            reach, kept = gathers[0, how[i, side]], gathers[1, how[i, side]]
            out[i, FIRST_LESS + 2 * side] = 1.0 - kept if dives[i, side] else 0.0
            most = 0.45 * max(length, LEAST_MM) if how[i, side] == ALONE else reach
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
