"""Thread that lies loose on top: dragged jumps, what scissors leave of them, and tails at trims.

Lengths in mm, local coordinates as in `Strands`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.compiled import njit
from render.draw.grain import hash_unit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.strands import Strands
    from render.model import Floats, Job, Sewn, Thread, Travel

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


def snap(values: Any) -> Any:
    """Coordinates on the grid of `SNAP_PER_MM`."""
    return np.round(np.asarray(values) * SNAP_PER_MM) / SNAP_PER_MM


@njit(cache=True, nogil=True, inline="always")
def snapped(value: float) -> float:
    """A single coordinate on that grid, for kernels."""
    return float(np.rint(value * SNAP_PER_MM) / SNAP_PER_MM)


def loose_thread(
    laid: Sewn,
    carried_mm: NDArray[np.float64],
    threads: tuple[Thread, ...],
    job: Job,
    anchor: tuple[float, float],
    hand: float,
) -> dict[str, NDArray[Any]]:
    """Parts of `Strands`, and when they land, of all that the finish leaves of jumps and tails; nothing if
    there is none.

    As they come to lie among the stitches where these are `laid`; `carried_mm` (S, 2, 2) is how far the
    cloth has carried start and end of each stitch since.
    """
    travels = [t for t in laid.plan.travels if 0 <= t.colour_block < len(threads)]
    start, end = _travel_ends(travels, laid, carried_mm, anchor)
    whole = [t.cut != "yes" for t in travels]
    bowed = iter(_bowed(start[whole], end[whole], [t for t in travels if t.cut != "yes"], job.seed, hand))
    paths, owners = [], []
    for travel, one, other in zip(travels, start, end, strict=True):
        left = _left_of(travel, one, other, laid, job, hand) if travel.cut == "yes" else [next(bowed)]
        if travel.cut != "yes" and job.finish != "off-machine":
            left = [] if travel.length_mm < 2 * STUB_MM else [_stub(left[0]), _stub(left[0][::-1])]
        paths += left
        owners += [travel] * len(left)
    return _cords(paths, owners, threads, job.seed) if paths else {}


def _left_of(
    travel: Travel, start: Floats, end: Floats, laid: Sewn, job: Job, hand: float
) -> list[NDArray[np.float64]]:
    """The tail that is left where sewing starts again after a cut, if one shows, as a centre line (N, 4)."""
    if job.finish != "off-machine" or _sewn_over(travel.after_stitch + 1, laid):
        return []
    chance = hash_unit(np.array([travel.after_stitch + 2]), job.seed + 505)[0]
    if chance >= TAILS_SHOWN:
        return []
    tail = _tail(start[:2], end[:2], travel, job.seed, hand)
    return [np.concatenate([tail, np.tile(end[2:], (len(tail), 1))], 1)]


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
    travels: list[Travel], laid: Sewn, carried_mm: NDArray[np.float64], anchor: tuple[float, float]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Starts and ends (T, 4) of travels where the holes have given way to them, and how far the cloth has
    carried them: as those of the stitches beside them."""
    last = np.array([t.after_stitch for t in travels], np.int64)
    sides = []
    for side, places, stitch in (
        (1, [t.from_mm for t in travels], last),
        (0, [t.to_mm for t in travels], last + 1),
    ):
        beside = (stitch >= 0) & (stitch < len(carried_mm))
        stitch = stitch[beside]
        lies, planned = (laid.end_mm, laid.plan.end_mm) if side else (laid.start_mm, laid.plan.start_mm)
        out = np.zeros((len(travels), 4))
        out[:, :2] = np.array(places).reshape(-1, 2)
        out[beside, :2] += lies[stitch] - planned[stitch]
        out[:, :2] = snap(out[:, :2] - np.array(anchor))
        out[beside, 2:] = carried_mm[stitch, side]
        sides.append(out)
    return sides[0], sides[1]


def _bowed(
    start: Floats, end: Floats, travels: list[Travel], seed: int, hand: float
) -> list[NDArray[np.float64]]:
    """Dragged threads, as centre lines (N, 4) from `start` to `end` (T, 4), are nearly taut: a slight bow and
    a slighter wave, never ruler-straight."""
    run = end - start
    length = np.hypot(run[:, 0], run[:, 1])
    count = np.maximum(2, np.ceil(length / CORD_STEP_MM).astype(np.int64) + 1)
    stops = np.cumsum(count)
    of = np.repeat(np.arange(len(travels)), count)
    t = (np.arange(len(of)) - (stops - count)[of]) / (count - 1)[of]
    after = np.array([travel.after_stitch for travel in travels], np.int64)
    random = hash_unit(np.arange(3) + 7 * (after[:, None] + 2), seed + 101)
    side = hand * np.stack([-run[:, 1], run[:, 0]], 1) / np.maximum(length, 1e-9)[:, None]
    bow = ((random[:, 0] - 0.5) * np.minimum(0.10 * length, 1.6))[of] * np.sin(np.pi * t)
    wave = ((random[:, 1] - 0.5) * np.minimum(0.02 * length, 0.25))[of]
    wave *= np.sin(2 * np.pi * t * (1 + np.rint(2 * random[:, 2]))[of])
    line = start[of] + run[of] * t[:, None]
    line[:, :2] += side[of] * (bow + wave)[:, None]
    return np.split(snap(line), stops[:-1]) if len(travels) else []


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


def _cords(
    paths: list[NDArray[np.float64]], travels: list[Travel], threads: tuple[Thread, ...], seed: int
) -> dict[str, NDArray[Any]]:
    """Parts of `Strands` of loose threads with such centre lines (N, 4), one of each travel."""
    count = np.array([len(path) - 1 for path in paths])
    places, of = np.concatenate(paths), np.repeat(np.arange(len(paths)), count)
    begin = np.arange(len(of)) + of
    run = places[begin + 1, :2] - places[begin, :2]
    length = np.hypot(run[:, 0], run[:, 1])
    first, last = np.cumsum(count) - count, np.cumsum(count) - 1
    along = np.cumsum(length) - length
    dives = np.zeros((len(of), 2), bool)
    dives[first, 0] = True
    dives[last, 1] = [travel.cut != "yes" and n > 4 for travel, n in zip(travels, count, strict=True)]
    after = np.array([travel.after_stitch for travel in travels])
    block = np.array([travel.colour_block for travel in travels], np.int32)
    word = (hash_unit(after + 2, seed + 303) * 2.0**32).astype(np.uint32)
    # Not pressed down by neighbours, a free thread stays nearly round.
    radius = np.array([thread.diameter_mm / 2 for thread in threads])[block]
    return {
        "start_mm": places[begin, :2],
        "end_mm": places[begin + 1, :2],
        "carried_mm": np.stack([places[begin, 2:], places[begin + 1, 2:]], 1),
        "half_width_mm": (radius * 1.08)[of],
        "half_height_mm": (radius / 1.08)[of],
        "thread": block[of],
        "along_mm": along - along[first][of],
        "dives": dives,
        "arch_mm": np.zeros(len(of)),
        "grain": word[of],
        "stitch": (-3 - after).astype(np.int32)[of],
        "piece": np.full(len(of), -1, np.int32),
        "lands": (after + 0.5)[of],
        "bow_mm": np.zeros(len(of)),
    }


def loose_parts(strands: Strands) -> NDArray[np.int8]:
    """Of each strand, whether it is `SEWN`, or loose and `CONTINUES` in the next one or `STOPS`."""
    loose = strands.stitch < 0
    goes_on = np.append(loose[1:] & (strands.along_mm[1:] > 0.0), False)
    return np.where(loose, np.where(goes_on, CONTINUES, STOPS), SEWN).astype(np.int8)
