"""Stitches, dragged jumps and tails as strands of thread: straight segments in sewing order.

Lengths in mm. Local coordinates count from the middle of the design, so that moving,
cropping or tiling the picture never changes a thread.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from render.draw.grain import hash_unit
from render.model import freeze

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats, Ints, Job, Sewn, Thread, Travel

CORD_STEP_MM = 0.5  # a slack cord is drawn as straight pieces this long
# Coordinates are kept to this grid: sums and quarter turns are then exact in float64.
SNAP_PER_MM = 4096.0
SATIN_ARCH = 0.045  # rise of a satin stitch over its length, calibrated by eye
FILL_ARCH = 0.012
ARCH_LIMIT_MM = 0.30
SCATTER_MM = 0.028  # sideways play of the thread about its needle points, estimate
TAIL_MM = 2.2  # thread left standing at a start, common practice, no source
TAILS_SHOWN = 0.45  # of the starts; the others are pulled through or sewn over (estimate)
STUB_MM = 0.6  # what scissors leave of a clipped jump, common practice, no source

# Kinds whose stitches lie side by side.
_CLOSE = {"fill", "satin", "split-satin"}
_ARCHED = {"satin": SATIN_ARCH, "split-satin": SATIN_ARCH, "e-stitch": SATIN_ARCH / 2}


@dataclass(frozen=True, slots=True, eq=False)
class Strands:
    """Thread segments in the order they land, N of them.

    `start_mm`, `end_mm` (N, 2) local; `half_width_mm`, `half_height_mm` of the section where it lies
    alone; `piece` the object whose threads press each other, -1 for those that lie as if alone;
    `thread` index into the job's threads; `along_mm` thread length before the segment, so
    that twist runs on; `dives` (N, 2) whether each end goes down into the cloth;
    `arch_mm` the rise in the middle; `grain` a random word a strand; `stitch` the stitch
    it came from, for cords and tails -3 less the stitch they come after. `anchor_mm` is the
    local origin in design space.
    """

    start_mm: Floats
    end_mm: Floats
    half_width_mm: Floats
    half_height_mm: Floats
    thread: Ints
    along_mm: Floats
    dives: NDArray[np.bool_]
    arch_mm: Floats
    grain: NDArray[np.uint32]
    stitch: Ints
    piece: Ints
    anchor_mm: tuple[float, float]

    def __post_init__(self) -> None:
        n = len(self.start_mm)
        freeze(self, start_mm=(-1, 2), end_mm=(n, 2), half_width_mm=(n,), half_height_mm=(n,))
        freeze(self, thread=(n,), along_mm=(n,), dives=(n, 2), arch_mm=(n,), grain=(n,), stitch=(n,))
        freeze(self, piece=(n,))


def laid_section_mm(thread: Thread) -> tuple[float, float]:
    """Half-width and half-height of the thread as it lies on cloth, same area as when round."""
    half = thread.laid_width_mm / 2
    return half, half / thread.LAID_WIDTH_TO_HEIGHT


def strands_of(
    sewn: Sewn,
    threads: tuple[Thread, ...],
    job: Job,
    hidden: NDArray[np.bool_] | None = None,
    *,
    hand: float = 1.0,
    pressed: bool = True,
) -> Strands:
    """All thread that shows: stitches, and what the finish leaves of jumps and tails.

    Stitches marked in `hidden` (S,) lie under a piece of cloth and are left out. `hand` -1
    puts every irregularity to the other side, as a mirror does. Without `pressed` no thread is
    told which others press it, nor shares its hole: each lies as if alone.
    """
    left, top, right, bottom = sewn.plan.box_mm
    # Not snapped: what is snapped is the place within the design, wherever that lies.
    anchor = ((left + right) / 2, (top + bottom) / 2)
    pieces = [_stitch_strands(sewn, threads, job, anchor, hand, pressed=pressed)]
    for travel in sewn.plan.travels:
        if 0 <= travel.colour_block < len(threads):
            path = _travel_paths(travel, sewn, anchor, job, hand)
            pieces += [_cord(p, threads[travel.colour_block], travel, job.seed) for p in path]
    merged = {key: np.concatenate([p[key] for p in pieces]) for key in pieces[0]}
    order = np.argsort(merged.pop("lands"), kind="stable")
    if hidden is not None:
        stitch = merged["stitch"][order]
        order = order[(stitch < 0) | ~hidden[np.maximum(stitch, 0)]]
    return Strands(**{key: value[order] for key, value in merged.items()}, anchor_mm=anchor)


def _snap(values: Any) -> Any:
    return np.round(np.asarray(values) * SNAP_PER_MM) / SNAP_PER_MM


def _stitch_strands(
    sewn: Sewn,
    threads: tuple[Thread, ...],
    job: Job,
    anchor: tuple[float, float],
    hand: float,
    *,
    pressed: bool,
) -> dict[str, NDArray[Any]]:
    plan = sewn.plan
    start, end = sewn.start_mm - np.array(anchor), sewn.end_mm - np.array(anchor)
    n = len(start)
    length = np.maximum(np.hypot(*(end - start).T), 1e-9)
    side = np.stack([start[:, 1] - end[:, 1], end[:, 0] - start[:, 0]], 1) / length[:, None]
    aside = (hash_unit(np.arange(2 * n), job.seed + 404).reshape(n, 2) - 0.5) * 2 * SCATTER_MM * hand
    before, after = side * aside[:, :1], side * aside[:, 1:]
    if pressed:
        # Both threads at a needle point go down one hole, which plays to the side of both.
        shared = np.flatnonzero(~plan.thread_breaks[1:]) + 1
        alike = np.abs((side[shared] * side[shared - 1]).sum(1, keepdims=True))
        before[shared] = after[shared - 1] = (before[shared] + after[shared - 1]) / np.sqrt(1.0 + alike)
    start, end = _snap(start + before), _snap(end + after)
    section = np.array([laid_section_mm(t) for t in threads]).reshape(-1, 2)
    arch_share = np.array([_ARCHED.get(o.kind, FILL_ARCH) for o in plan.objects] or [0.0])
    arch = np.minimum(arch_share[plan.object_index] * length, ARCH_LIMIT_MM)
    close = np.array([pressed and o.kind in _CLOSE for o in plan.objects] or [False])
    return {
        "start_mm": start,
        "end_mm": end,
        "half_width_mm": section[plan.colour_block, 0],
        "half_height_mm": section[plan.colour_block, 1],
        "thread": plan.colour_block.astype(np.int32),
        "along_mm": np.cumsum(length) - length,
        "dives": np.ones((n, 2), bool),
        "arch_mm": arch,
        "grain": (hash_unit(np.arange(n), job.seed) * 2.0**32).astype(np.uint32),
        "stitch": np.arange(n, dtype=np.int32),
        "piece": np.where(close[plan.object_index], plan.object_index, -1).astype(np.int32),
        "lands": np.arange(n, dtype=np.float64),
    }


def _travel_paths(
    travel: Travel, sewn: Sewn, anchor: tuple[float, float], job: Job, hand: float
) -> list[NDArray[np.float64]]:
    """Centre lines of the thread a travel leaves on top, local mm."""
    start, end = _travel_ends(travel, sewn, anchor)
    if travel.cut == "yes":
        chance = hash_unit(np.array([travel.after_stitch + 2]), job.seed + 505)[0]
        stands = job.finish == "off-machine" and chance < TAILS_SHOWN
        return [_tail(start, end, travel, job.seed, hand)] if stands else []
    cord = _bowed(start, end, travel, job.seed, hand)
    if job.finish == "off-machine":
        return [cord]
    if travel.length_mm < 2 * STUB_MM:
        return []
    step = np.hypot(*np.diff(cord, axis=0).T).cumsum()
    head = cord[: 2 + int(np.searchsorted(step, STUB_MM))]
    foot = cord[::-1][: 2 + int(np.searchsorted(step, STUB_MM))]
    return [head, foot]


def _travel_ends(
    travel: Travel, sewn: Sewn, anchor: tuple[float, float]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Ends of a travel where the cloth has carried them: those of the stitches beside it."""
    last, following = travel.after_stitch, travel.after_stitch + 1
    start, end = np.array(travel.from_mm), np.array(travel.to_mm)
    if last >= 0:
        start = start + sewn.end_mm[last] - sewn.plan.end_mm[last]
    if following < len(sewn.start_mm):
        end = end + sewn.start_mm[following] - sewn.plan.start_mm[following]
    return _snap(start - np.array(anchor)), _snap(end - np.array(anchor))


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
    return np.asarray(_snap(start + run * t + side * (bow + wave)))


def _tail(
    start: NDArray[np.float64], end: NDArray[np.float64], travel: Travel, seed: int, hand: float
) -> NDArray[np.float64]:
    """The short end standing where sewing starts again after a cut: a loose curl."""
    random = hash_unit(np.arange(3) + 11 * (travel.after_stitch + 2), seed + 202)
    steps = int(TAIL_MM * (0.6 + 0.8 * random[2]) / CORD_STEP_MM)
    turn = 2 * np.pi * random[0] + (random[1] - 0.5) * 1.8 * np.linspace(0, 1, steps) ** 1.3 * 2
    walk = np.cumsum(np.stack([np.cos(turn), hand * np.sin(turn)], 1) * CORD_STEP_MM, axis=0)
    # Told from the direction of the travel, so that it turns with the design.
    run = end - start
    x, y = run / np.hypot(*run) if run.any() else (1.0, 0.0)
    turned = np.stack([walk[:, 0] * x - walk[:, 1] * y, walk[:, 0] * y + walk[:, 1] * x], 1)
    return np.asarray(_snap(np.concatenate([end[None], end + turned])))


def _cord(path: NDArray[np.float64], thread: Thread, travel: Travel, seed: int) -> dict[str, NDArray[Any]]:
    n = len(path) - 1
    length = np.hypot(*np.diff(path, axis=0).T)
    dives = np.zeros((n, 2), bool)
    dives[0, 0] = True
    dives[-1, 1] = travel.cut != "yes" and n > 4
    word = np.uint32(hash_unit(np.array([travel.after_stitch + 2]), seed + 303)[0] * 2.0**32)
    # Not pressed down by neighbours, a free thread stays nearly round.
    radius = thread.diameter_mm / 2
    return {
        "start_mm": path[:-1],
        "end_mm": path[1:],
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
