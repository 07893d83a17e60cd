"""Yarns drawn aside by the stitches: what the sewing, which knows cloth as a membrane, says nothing of.

A tight thread drags the yarns at its needle holes along towards its other end, and those beside them less
and less. Some of it is what the holes have given way; the rest is a likeness.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from render.compiled import njit
from render.draw.blur import blur, shares_of
from render.draw.cloth.lattice import STEP_MM
from render.draw.grain import unit_of
from render.model import freeze

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats, Sewn

    Ways = NDArray[np.floating[Any]]

AROUND_MM = 2.0  # beyond the design nothing lies aside
REACH_MM = 0.6  # deviation of how yarns follow those beside them (estimate)
SPREAD = REACH_MM / STEP_MM
REACH = int(np.ceil(4.0 * SPREAD)) + 1  # so many places away nothing is felt of a hole
# Of what a hole has given way the yarns at it have gone along so much, and so far in any cloth, where the
# stitch is as long as `FULL_MM` or longer (by eye).
ALONG_SHARE, TUG_MM, FULL_MM = 0.4, 0.19, 1.5
# A thread's tension goes up and down by such a share, every so many stitches (by eye); single holes differ
# by as much, and drag to either side by such a share (estimates).
TENSION_UNEVEN, TENSION_STITCHES, SIDEWAYS = 0.8, 9, 0.5
MOST_MM = 0.36  # so that no yarn is drawn over another
LEAST_MM = np.float32(1e-9)  # so that no way is quite nothing
_f = np.float32


@dataclass(frozen=True, slots=True, eq=False)
class Aside:
    """How far the yarns that are seen at a place lie aside, `way_mm` (rows, cols, 2), x and y, at places
    `STEP_MM` apart, which are whole steps of that from 0; `first` (col, row) is the first of them."""

    way_mm: NDArray[np.float32]
    first: tuple[int, int]

    def __post_init__(self) -> None:
        freeze(self, way_mm=(-1, -1, 2))

    def add_to(self, back_mm: NDArray[np.float64], first: tuple[int, int]) -> None:
        """Add it to what lies from place `first` on; beyond all places it is nothing."""
        own, other = [], []
        for axis in (1, 0):
            low = max(first[axis], self.first[axis])
            high = min(first[axis] + back_mm.shape[1 - axis], self.first[axis] + self.way_mm.shape[1 - axis])
            if high <= low:
                return
            own.append(slice(low - self.first[axis], high - self.first[axis]))
            other.append(slice(low - first[axis], high - first[axis]))
        back_mm[tuple(other)] += self.way_mm[tuple(own)]


def aside_of(sewn: Sewn, seed: int) -> Aside:
    """Around the stitches as they lie on cloth that gives way."""
    holes_mm = np.concatenate([sewn.start_mm, sewn.end_mm])
    return around_holes(holes_mm, dragged_mm(sewn, seed), sewn.plan.box_mm)


def around_holes(holes_mm: Floats, drag_mm: Ways, box_mm: tuple[float, float, float, float]) -> Aside:
    """Around needle holes (N, 2) of a design in a box, each of which drags yarns by `drag_mm` (N, 2)."""
    first, shape = places_over(box_mm)
    return Aside(gone_along(spread_drag(holes_mm, drag_mm, first, shape)), first)


def places_over(box_mm: tuple[float, float, float, float]) -> tuple[tuple[int, int], tuple[int, int]]:
    """The first place (col, row) of those where yarns around a design in a box lie aside, and how many rows
    and columns there are."""
    left, top, right, bottom = box_mm
    first = np.floor((np.array([left, top]) - AROUND_MM) / STEP_MM).astype(np.int64)
    last = np.ceil((np.array([right, bottom]) + AROUND_MM) / STEP_MM).astype(np.int64)
    cols, rows = (last - first + 1).tolist()
    return (int(first[0]), int(first[1])), (rows, cols)


def places_within(
    rect_mm: Floats, first: tuple[int, int], shape: tuple[int, int]
) -> tuple[tuple[int, int], tuple[slice, slice, slice]]:
    """The first place (col, row) of those within (left, top, right, bottom) and around it as far as holes
    are felt, and where they lie in what is known of all places."""
    rect, begin, size = np.asarray(rect_mm).reshape(2, 2) / STEP_MM, np.array(first), np.array(shape[::-1])
    low = np.clip(np.floor(rect[0]).astype(np.int64) - REACH - begin, 0, size)
    high = np.clip(np.ceil(rect[1]).astype(np.int64) + REACH + 1 - begin, low, size)
    (col, row), (right, bottom) = low.tolist(), high.tolist()
    return (first[0] + col, first[1] + row), np.s_[:, row:bottom, col:right]


def spread_drag(
    holes_mm: Floats, drag_mm: Ways, first: tuple[int, int], shape: tuple[int, int]
) -> NDArray[np.float32]:
    """What needle holes (N, 2) drag along by `drag_mm` (N, 2), x and y, and how many there are (3, rows,
    cols), as far as it is felt at each place. It is the sum of what each hole alone does."""
    # Each of the three is spread into the room before it: fresh memory costs as much as what fills it.
    room, shares = np.zeros((4, *shape), np.float32), shares_of(SPREAD)
    strew(holes_mm / STEP_MM - first, drag_mm, room[1:])
    for k in range(3):
        blur(room[k + 1], shares, room[k])
    return room[:3]


def add_drag(felt: NDArray[np.float32], holes_mm: Floats, drag_mm: Ways, first: tuple[int, int]) -> None:
    """Add to what is `felt` from place `first` on what a few more holes do."""
    places = np.floor(holes_mm / STEP_MM).astype(np.int64) - first
    shape = felt.shape[:0:-1]
    low = np.clip(places.min(0) - REACH, 0, shape)
    high = np.clip(places.max(0) + REACH + 2, low, shape)
    wide, deep = (high - low).tolist()
    if wide and deep:
        begin = first[0] + int(low[0]), first[1] + int(low[1])
        felt[:, low[1] : high[1], low[0] : high[0]] += spread_drag(holes_mm, drag_mm, begin, (deep, wide))


def gone_along(felt: NDArray[np.float32]) -> NDArray[np.float32]:
    """How far yarns have gone along (rows, cols, 2) with what they feel of holes, see `spread_drag`."""
    way = np.empty((*felt.shape[1:], 2), np.float32)
    share_drag(felt[0], felt[1], felt[2], 2.0 * np.pi * SPREAD**2, way)
    return way


def dragged_mm(sewn: Sewn, seed: int) -> NDArray[np.float32]:
    """How far holes that stitches begin with, then those that they end with, drag yarns along (2 S, 2)."""
    give = sewn.give_mm if sewn.give_mm is not None else np.zeros((len(sewn.start_mm), 2, 2))
    drag = np.empty((2, len(give), 2), np.float32)
    far = np.empty((2, len(give), 1), np.float32)
    pull(sewn.start_mm, sewn.end_mm, give, seed, drag, far)
    drag *= np.tanh(far) / far
    return drag.reshape(-1, 2)


@njit(cache=True, nogil=True, error_model="numpy")
def pull(
    start: Floats,
    end: Floats,
    give: Floats,
    seed: int,
    drag: NDArray[np.float32],
    far: NDArray[np.float32],
) -> None:
    """Fill in `drag`, how far the holes at starts and ends of stitches would pull yarns that nothing holds
    (2, S, 2), and how `far` that is (2, S, 1), in times of `MOST_MM`."""
    # In single precision, which is far finer than a picture shows.
    for i in range(len(start)):
        x, y = _f(end[i, 0] - start[i, 0]), _f(end[i, 1] - start[i, 1])
        long = max(np.sqrt(x * x + y * y), LEAST_MM)
        tug = _f(TUG_MM) * min(long / _f(FULL_MM), _f(1.0))
        place, part = i // TENSION_STITCHES, _f(i % TENSION_STITCHES / TENSION_STITCHES)
        before, after = _chance(place, seed + 1201), _chance(place + 1, seed + 1201)
        tension = before + (after - before) * part
        for side in range(2):
            own, across = _chance(i, seed + 1202 + 2 * side), _chance(i, seed + 1203 + 2 * side)
            tight = _f(1.0) + _f(TENSION_UNEVEN * 0.5) * (tension + own)
            along = -tug if side else tug
            right = (along * (x / long) + _f(ALONG_SHARE) * _f(give[i, side, 0])) * tight
            down = (along * (y / long) + _f(ALONG_SHARE) * _f(give[i, side, 1])) * tight
            sideways = _f(SIDEWAYS) * across
            right, down = right - sideways * down, down + sideways * right
            drag[side, i, 0], drag[side, i, 1] = right, down
            far[side, i, 0] = max(np.sqrt(right * right + down * down), LEAST_MM) / _f(MOST_MM)


@njit(cache=True, nogil=True, inline="always")
def _chance(index: int, seed: int) -> np.float32:
    """A number from -1 to 1."""
    return np.float32(2.0 * unit_of(index, seed) - 1.0)


@njit(cache=True, nogil=True, error_model="numpy")
def strew(at: Floats, drag: Ways, out: NDArray[np.float32]) -> None:
    """Put what holes drag along, x and y, and 1 for each on a grid `out` (3, rows, cols), shared out among
    the four points around each; beyond the grid is none."""
    rows, cols = out.shape[1:]
    for i in range(len(at)):
        col, row = int(np.floor(at[i, 0])), int(np.floor(at[i, 1]))
        if not (0 <= row < rows - 1 and 0 <= col < cols - 1):
            continue
        right, down = at[i, 0] - col, at[i, 1] - row
        for k in range(4):
            r, c = row + k // 2, col + k % 2
            share = (down if k // 2 else 1.0 - down) * (right if k % 2 else 1.0 - right)
            out[0, r, c] += np.float32(share * drag[i, 0])
            out[1, r, c] += np.float32(share * drag[i, 1])
            out[2, r, c] += np.float32(share)


@njit(cache=True, nogil=True, error_model="numpy")
def share_drag(
    right: NDArray[np.float32],
    down: NDArray[np.float32],
    holes: NDArray[np.float32],
    gain: float,
    way: NDArray[np.float32],
) -> None:
    """How far yarns go along: a single hole drags those at it along by all that it does, many together by
    their mean. All is to be had so many times as it is spread."""
    rows, cols = holes.shape
    for r in range(rows):
        for c in range(cols):
            many = np.float32(gain) * holes[r, c]
            share = np.float32(gain) / np.sqrt(np.float32(1.0) + many * many)
            way[r, c, 0], way[r, c, 1] = right[r, c] * share, down[r, c] * share
