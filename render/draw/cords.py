"""Thread that lies loose on top: dragged jumps, what scissors leave of them, and tails at trims.

Lengths in mm, local coordinates as in `Strands`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numba import njit

from render.draw.grain import hash_unit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.strands import Strands
    from render.model import Job, Sewn, Thread, Travel

SEWN, CONTINUES, STOPS = 0, 1, 2
# Coordinates are kept to this grid: sums and quarter turns are then exact in float64.
SNAP_PER_MM = 4096.0
CORD_STEP_MM = 0.5  # a slack cord is drawn as straight pieces this long
TAIL_MM = (2.0, 6.0)  # thread that a trimmer leaves at a start, common practice, no source
# Of the tails, those that stand up on top; the others are pulled through (estimate).
TAILS_SHOWN = 0.5
# A start that so many later stitches pass so near is sewn over, and its tail with it (estimate).
SEWN_OVER, SEWN_OVER_MM, SEWN_OVER_LATER = 3, 0.45, 400
STUB_MM = 0.6  # what scissors leave of a clipped jump, common practice, no source
# A dragged thread spans hollows, but sags by a share of what it would span pulled tight; and rises by so
# much, and so much a mm of its length, at most so much (estimates).
SLACK, RISE_MM, RISE_PER_MM, MOST_RISE_MM = 0.25, 0.10, 0.025, 0.7
SHORTEST = 12  # samples; a shorter stretch between two that are held down stays down, too
UNDER_MM = 0.03  # what lies so much above a loose thread was sewn over it and holds it down


def snap(values: Any) -> Any:
    """Coordinates on the grid of `SNAP_PER_MM`."""
    return np.round(np.asarray(values) * SNAP_PER_MM) / SNAP_PER_MM


def loose_thread(
    laid: Sewn,
    carried_mm: NDArray[np.float64],
    threads: tuple[Thread, ...],
    job: Job,
    anchor: tuple[float, float],
    hand: float,
) -> list[dict[str, NDArray[Any]]]:
    """Parts of `Strands`, and when they land, of all that the finish leaves of jumps and tails.

    As they come to lie among the stitches where these are `laid`; `carried_mm` (S, 2, 2) is how far the
    cloth has carried start and end of each stitch since.
    """
    pieces = []
    for travel in laid.plan.travels:
        if 0 <= travel.colour_block < len(threads):
            paths = _travel_paths(travel, laid, carried_mm, anchor, job, hand)
            pieces += [_cord(path, threads[travel.colour_block], travel, job.seed) for path in paths]
    return pieces


def _travel_paths(
    travel: Travel,
    laid: Sewn,
    carried_mm: NDArray[np.float64],
    anchor: tuple[float, float],
    job: Job,
    hand: float,
) -> list[NDArray[np.float64]]:
    """Centre lines (N, 4) of the thread a travel leaves on top, local mm, and how far they were carried."""
    start, end = _travel_ends(travel, laid, anchor)
    carried = _carried_ends(travel, carried_mm)
    if travel.cut == "yes":
        if job.finish != "off-machine" or _sewn_over(travel.after_stitch + 1, laid):
            return []
        chance = hash_unit(np.array([travel.after_stitch + 2]), job.seed + 505)[0]
        if chance >= TAILS_SHOWN:
            return []
        tail = _tail(start, end, travel, job.seed, hand)
        return [np.concatenate([tail, np.tile(carried[1], (len(tail), 1))], 1)]
    cord = _bowed(start, end, travel, job.seed, hand)
    share = np.linspace(0.0, 1.0, len(cord))[:, None]
    cord = np.concatenate([cord, snap(carried[0] + (carried[1] - carried[0]) * share)], 1)
    if job.finish == "off-machine":
        return [cord]
    if travel.length_mm < 2 * STUB_MM:
        return []
    return [_stub(cord), _stub(cord[::-1])]


def _stub(cord: NDArray[np.float64]) -> NDArray[np.float64]:
    """The first `STUB_MM` of a cord."""
    step = np.concatenate([[0.0], np.hypot(*np.diff(cord[:, :2], axis=0).T).cumsum()])
    tip = [np.interp(STUB_MM, step, column) for column in cord.T]
    return np.asarray(snap(np.concatenate([cord[step < STUB_MM], [tip]])))


def _sewn_over(first: int, laid: Sewn) -> bool:
    """Whether later stitches lie on the place where stitch `first` begins."""
    if first >= len(laid.start_mm):
        return False
    later = slice(first + 2, first + SEWN_OVER_LATER)
    start, run = laid.start_mm[later], laid.end_mm[later] - laid.start_mm[later]
    to_place = laid.start_mm[first] - start
    share = (to_place * run).sum(1) / np.maximum((run**2).sum(1), 1e-9)
    away = np.hypot(*(to_place - run * np.clip(share, 0.0, 1.0)[:, None]).T)
    return int((away < SEWN_OVER_MM).sum()) >= SEWN_OVER


def _travel_ends(
    travel: Travel, laid: Sewn, anchor: tuple[float, float]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Ends of a travel where the holes have given way to them: those of the stitches beside it."""
    last, following = travel.after_stitch, travel.after_stitch + 1
    start, end = np.array(travel.from_mm), np.array(travel.to_mm)
    if last >= 0:
        start = start + laid.end_mm[last] - laid.plan.end_mm[last]
    if following < len(laid.start_mm):
        end = end + laid.start_mm[following] - laid.plan.start_mm[following]
    return snap(start - np.array(anchor)), snap(end - np.array(anchor))


def _carried_ends(travel: Travel, carried_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far (2, 2) the cloth has carried the ends of a travel: as the stitches beside it."""
    ends, last, following = np.zeros((2, 2)), travel.after_stitch, travel.after_stitch + 1
    if last >= 0:
        ends[0] = carried_mm[last, 1]
    if following < len(carried_mm):
        ends[1] = carried_mm[following, 0]
    return ends


def _bowed(
    start: NDArray[np.float64], end: NDArray[np.float64], travel: Travel, seed: int, hand: float
) -> NDArray[np.float64]:
    """A dragged thread is nearly taut: a slight bow and a slighter wave, never ruler-straight."""
    run = end - start
    length = float(np.hypot(*run))
    t = np.linspace(0.0, 1.0, max(2, int(np.ceil(length / CORD_STEP_MM)) + 1))[:, None]
    random = hash_unit(np.arange(3) + 7 * (travel.after_stitch + 2), seed + 101)
    side = hand * np.array([-run[1], run[0]]) / max(length, 1e-9)
    bow = (random[0] - 0.5) * min(0.10 * length, 1.6) * np.sin(np.pi * t)
    wave = (random[1] - 0.5) * min(0.02 * length, 0.25) * np.sin(2 * np.pi * t * (1 + round(2 * random[2])))
    return np.asarray(snap(start + run * t + side * (bow + wave)))


def _tail(
    start: NDArray[np.float64], end: NDArray[np.float64], travel: Travel, seed: int, hand: float
) -> NDArray[np.float64]:
    """The short end standing where sewing starts again after a cut: a loose curl."""
    random = hash_unit(np.arange(3) + 11 * (travel.after_stitch + 2), seed + 202)
    steps = int((TAIL_MM[0] + (TAIL_MM[1] - TAIL_MM[0]) * random[2] ** 2) / CORD_STEP_MM)
    turn = 2 * np.pi * random[0] + (random[1] - 0.5) * 1.8 * np.linspace(0, 1, steps) ** 1.3 * 2
    walk = np.cumsum(np.stack([np.cos(turn), hand * np.sin(turn)], 1) * CORD_STEP_MM, axis=0)
    # Told from the direction of the travel, so that it turns with the design.
    run = end - start
    x, y = run / np.hypot(*run) if run.any() else (1.0, 0.0)
    turned = np.stack([walk[:, 0] * x - walk[:, 1] * y, walk[:, 0] * y + walk[:, 1] * x], 1)
    return np.asarray(snap(np.concatenate([end[None], end + turned])))


def _cord(path: NDArray[np.float64], thread: Thread, travel: Travel, seed: int) -> dict[str, NDArray[Any]]:
    n, places, carried = len(path) - 1, path[:, :2], path[:, 2:]
    length = np.hypot(*np.diff(places, axis=0).T)
    dives = np.zeros((n, 2), bool)
    dives[0, 0] = True
    dives[-1, 1] = travel.cut != "yes" and n > 4
    word = np.uint32(hash_unit(np.array([travel.after_stitch + 2]), seed + 303)[0] * 2.0**32)
    # Not pressed down by neighbours, a free thread stays nearly round.
    radius = thread.diameter_mm / 2
    return {
        "start_mm": places[:-1],
        "end_mm": places[1:],
        "carried_mm": np.stack([carried[:-1], carried[1:]], 1),
        "half_width_mm": np.full(n, radius * 1.08),
        "half_height_mm": np.full(n, radius / 1.08),
        "thread": np.full(n, travel.colour_block, np.int32),
        "along_mm": np.cumsum(length) - length,
        "dives": dives,
        "arch_mm": np.zeros(n),
        "grain": np.full(n, word, np.uint32),
        "stitch": np.full(n, -3 - travel.after_stitch, np.int32),
        "piece": np.full(n, -1, np.int32),
        "lands": np.full(n, travel.after_stitch + 0.5),
    }


def loose_parts(strands: Strands) -> NDArray[np.int8]:
    """Of each strand, whether it is `SEWN`, or loose and `CONTINUES` in the next one or `STOPS`."""
    loose = strands.stitch < 0
    goes_on = np.append(loose[1:] & (strands.along_mm[1:] > 0.0), False)
    return np.where(loose, np.where(goes_on, CONTINUES, STOPS), SEWN).astype(np.int8)


def lift_loose(
    strands: Strands,
    first: NDArray[np.int64],
    height_mm: NDArray[np.float32],
    top_mm: NDArray[np.float32],
    cell_mm: float,
) -> None:
    """Raise dragged thread and tails off what they lie on, where nothing was sewn over them.

    `height_mm` (M,) is that of settled strands, see `Stack`; `top_mm` (rows, cols) how high the
    finished piece is, on the map of cells of `cell_mm` that they settled on.
    """
    parts = loose_parts(strands)
    begins = np.flatnonzero((parts != SEWN) & (strands.along_mm == 0.0)).tolist()
    for begin, last in zip(begins, np.flatnonzero(parts == STOPS).tolist(), strict=True):
        stop = last + 1
        own = slice(first[begin], first[stop])
        free = _top_along(strands, begin, stop, first, top_mm, cell_mm)
        free = free <= height_mm[own] + 2 * strands.half_height_mm[begin] + UNDER_MM
        length = float(np.hypot(*(strands.end_mm[begin:stop] - strands.start_mm[begin:stop]).T).sum())
        word = int(strands.grain[begin])
        rise = min(RISE_MM + RISE_PER_MM * length, MOST_RISE_MM) * (0.5 + (word & 255) / 255.0)
        held = bool(strands.dives[stop - 1, 1])
        _lift(height_mm[own], free, rise, held, ((word >> 8) & 255) / 255.0)


def _top_along(
    strands: Strands,
    begin: int,
    stop: int,
    first: NDArray[np.int64],
    top_mm: NDArray[np.float32],
    cell_mm: float,
) -> NDArray[np.float32]:
    """The map's value at every sample of strands `begin` to `stop`."""
    count = np.diff(first[begin : stop + 1])
    start, end = strands.start_mm[begin:stop], strands.end_mm[begin:stop]
    number = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    step = (end - start) / (count - 1)[:, None]
    places = number[:, None] * np.repeat(step, count, axis=0) + np.repeat(start, count, axis=0)
    places[np.cumsum(count) - 1] = end
    col, row = np.floor(places / cell_mm + 0.5).astype(int).T
    return np.asarray(top_mm[row + top_mm.shape[0] // 2, col + top_mm.shape[1] // 2])


@njit(cache=True, nogil=True)
def _lift(height: NDArray[np.float32], free: NDArray[np.bool_], rise: float, held: bool, wave: float) -> None:
    """Lift each free stretch of one loose thread: along a chord of its highest places as far as it is not
    slack, and in a bow. The last end of a tail is not `held` and stands up."""
    n = len(height)
    at = 0
    while at < n:
        if not free[at]:
            at += 1
            continue
        stop = at
        while stop < n and free[stop]:
            stop += 1
        m = stop - at
        if m < SHORTEST and at > 0 and stop < n:
            at = stop
            continue
        tight = np.empty(m)
        for k in range(m):
            tight[k] = height[at + k]
        _hull(tight)
        upright = not held and stop == n
        for k in range(m):
            u = (k + 0.5) / m
            bow = np.sin(0.5 * np.pi * u) if upright else np.sin(np.pi * u)
            ripple = 1.0 - 0.35 * wave * (1.0 + np.cos(2.0 * np.pi * (u * (1.0 + 2.0 * wave) + wave)))
            z = height[at + k]
            # Stretches that are held down close by cannot rise far.
            height[at + k] = z + (1.0 - SLACK) * (tight[k] - z) + min(rise, 0.0006 * m * m) * bow * ripple
        at = stop


@njit(cache=True, nogil=True)
def _hull(height: NDArray[np.float64]) -> None:
    """Raise evenly spaced heights to their upper convex hull."""
    n = len(height)
    corner = np.empty(n, np.int64)
    count = 0
    for k in range(n):
        while count >= 2:
            i, j = corner[count - 2], corner[count - 1]
            if (height[j] - height[i]) * (k - i) <= (height[k] - height[i]) * (j - i):
                count -= 1
            else:
                break
        corner[count] = k
        count += 1
    for h in range(count - 1):
        i, j = corner[h], corner[h + 1]
        for k in range(i + 1, j):
            height[k] = height[i] + (height[j] - height[i]) * (k - i) / (j - i)
