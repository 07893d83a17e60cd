"""Stitches, dragged jumps and tails as strands of thread: straight segments in sewing order.

Lengths in mm. Local coordinates count from the middle of the design, so that moving,
cropping or tiling the picture never changes a thread.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from render.compiled import njit
from render.draw.cords import loose_thread, snap
from render.draw.grain import hash_unit
from render.draw.unmoved import first_places_mm
from render.model import freeze

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats, Ints, Job, Sewn, Thread

SATIN_ARCH = 0.045  # rise of a satin stitch over its length, calibrated by eye
# Of stitches of lines, between whose holes the cloth swells: each has a light end and a dark one (by eye).
LINE_ARCH = 0.035
FILL_ARCH = 0.004  # of all others, which are drawn tight, by eye
ARCH_LIMIT_MM = 0.30  # estimate
SCATTER_MM = 0.028  # sideways play of the thread about its needle points, estimate

# A line of single stitches sinks into the cloth and is drawn round by its own tension, to this share of the
# width of a thread that lies flat among others (estimate).
TAUT_WIDTH = 0.78
SAME_HOLE_MM = 0.15  # between needle points that are meant to be one (estimate)
# Between the passes of a bean stitch, and how round those are, which lie on each other as much as beside (by
# eye: told apart, and no beads).
BEAN_ASIDE_MM, BEAN_WIDTH = 0.185, 0.58
LINES = {"running", "bean", "tie", "cross-stitch"}
# Kinds whose stitches lie side by side.
_CLOSE = {"fill", "satin", "split-satin"}
_ARCHED = {
    "satin": SATIN_ARCH,
    "split-satin": SATIN_ARCH,
    "e-stitch": SATIN_ARCH / 2,
    "running": LINE_ARCH,
    "bean": LINE_ARCH / 3,
}


@dataclass(frozen=True, slots=True, eq=False)
class Strands:
    """Thread segments in the order they land, N of them.

    `start_mm`, `end_mm` (N, 2) local; `half_width_mm`, `half_height_mm` of the section where it lies
    alone; `piece` the object whose threads press each other, -1 for those that lie as if alone;
    `thread` index into the job's threads; `along_mm` thread sewn off before the segment, so
    that twist runs on; `dives` (N, 2) whether each end goes down into the cloth;
    `arch_mm` the rise in the middle; `grain` a random word a strand; `stitch` the stitch
    it came from, for cords and tails -3 less the stitch they come after, for fuzz -2; `twist_per_mm` turns
    of the plies, negative for S. `anchor_mm` is the
    local origin in design space. `carried_mm` (N, 2, 2) is how far the cloth has carried start and end from
    where they would lie had it not moved, None where it lies still. `bow_mm` is how far a strand bows out to
    its left between its holes, None where none does.
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
    twist_per_mm: Floats
    anchor_mm: tuple[float, float]
    carried_mm: Floats | None = None
    bow_mm: Floats | None = None

    def __post_init__(self) -> None:
        n = len(self.start_mm)
        freeze(self, start_mm=(-1, 2), end_mm=(n, 2), half_width_mm=(n,), half_height_mm=(n,))
        freeze(self, thread=(n,), along_mm=(n,), dives=(n, 2), arch_mm=(n,), grain=(n,), stitch=(n,))
        freeze(self, piece=(n,), twist_per_mm=(n,))
        if self.carried_mm is not None:
            freeze(self, carried_mm=(n, 2, 2))
        if self.bow_mm is not None:
            freeze(self, bow_mm=(n,))

    def unmoved(self) -> Strands:
        """The same strands on cloth that has not moved."""
        if self.carried_mm is None:
            return self
        start, end = self.laid_ends_mm()
        return replace(self, start_mm=start, end_mm=end, carried_mm=None)

    def laid_ends_mm(self) -> tuple[Floats, Floats]:
        """Where they start and end (N, 2) on cloth that has not moved."""
        if self.carried_mm is None:
            return self.start_mm, self.end_mm
        return self.start_mm - self.carried_mm[:, 0], self.end_mm - self.carried_mm[:, 1]


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
    laid, carried_mm = unmoved(sewn)
    stitches = _stitch_strands(laid, threads, job, anchor, hand, pressed=pressed) | {"carried_mm": carried_mm}
    loose = loose_thread(laid, carried_mm, threads, job, anchor, hand)
    pieces = [piece for piece in (stitches, loose) if piece and len(piece["lands"])] or [stitches]
    order = np.argsort(np.concatenate([piece.pop("lands") for piece in pieces]), kind="stable")
    if hidden is not None:
        stitch = np.concatenate([piece["stitch"] for piece in pieces])[order]
        order = order[(stitch < 0) | ~hidden[np.maximum(stitch, 0)]]
    parts = _in_order(pieces, order)
    parts["start_mm"] += parts["carried_mm"][:, 0]
    parts["end_mm"] += parts["carried_mm"][:, 1]
    twist = np.array([thread.twist_per_m / 1000 for thread in threads])[parts["thread"]]
    return Strands(**parts, twist_per_mm=twist, anchor_mm=anchor)


def _in_order(pieces: list[dict[str, NDArray[Any]]], order: NDArray[np.int64]) -> dict[str, NDArray[Any]]:
    """Rows of one piece, or of two as if one followed the other, in such an order."""
    first, *others = pieces
    # Into the places of the others comes anything, and then what belongs there: of them there are few.
    parts = {key: value.take(order, axis=0, mode="clip") for key, value in first.items()}
    count = len(first["stitch"])
    late = np.flatnonzero(order >= count)
    for other in others:
        for key, value in other.items():
            parts[key][late] = value[order[late] - count]
    return parts


def unmoved(sewn: Sewn) -> tuple[Sewn, NDArray[np.float64]]:
    """The stitches on cloth that has not moved, and how far (S, 2, 2) it has carried their ends."""
    if sewn.cloth is None:
        return sewn, np.zeros((len(sewn.start_mm), 2, 2))
    # Nearly every stitch begins where the one before it ends.
    apart = np.ones(len(sewn.start_mm), np.bool_)
    apart[1:] = (sewn.start_mm[1:, 0] != sewn.end_mm[:-1, 0]) | (sewn.start_mm[1:, 1] != sewn.end_mm[:-1, 1])
    start, end = np.empty_like(sewn.start_mm), first_places_mm(sewn.cloth, sewn.end_mm)
    start[1:] = end[:-1]
    start[apart] = first_places_mm(sewn.cloth, sewn.start_mm[apart])
    carried_mm = snap(np.stack([sewn.start_mm - start, sewn.end_mm - end], 1))
    return replace(sewn, start_mm=start, end_mm=end), carried_mm


def _beside(sewn: Sewn) -> NDArray[np.float64]:
    """How far to its left each stitch bows out, mm: the passes of a bean stitch share their holes, and lie
    next to each other between them, the first in the middle."""
    plan = sewn.plan
    bean = np.array([o.kind == "bean" for o in plan.objects] or [False])[plan.object_index]
    back = np.hypot(*(plan.end_mm[1:] - plan.start_mm[:-1]).T) < SAME_HOLE_MM
    back &= bean[1:] & (plan.object_index[1:] == plan.object_index[:-1])
    passes = np.zeros(len(bean), np.int64)
    for k in np.flatnonzero(back) + 1:
        passes[k] = (passes[k - 1] + 1) % 3
    # A pass that runs back has its left on the other side.
    return np.where(passes > 0, BEAN_ASIDE_MM, 0.0)


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
    # As much thread as was sewn off: its twist does not run on when the cloth gives way later.
    thread_mm = np.hypot(*(plan.end_mm - plan.start_mm).T)
    aside = (hash_unit(np.arange(2 * n), job.seed + 404).reshape(n, 2) - 0.5) * 2 * SCATTER_MM * hand
    before, after = side * aside[:, :1], side * aside[:, 1:]
    if pressed:
        share_holes(side, plan.thread_breaks, before, after)
    start, end = snap(start + before), snap(end + after)
    section = np.array([laid_section_mm(t) for t in threads]).reshape(-1, 2)
    arch_share = np.array([_ARCHED.get(o.kind, FILL_ARCH) for o in plan.objects] or [0.0])
    arch = np.minimum(arch_share[plan.object_index] * length, ARCH_LIMIT_MM)
    close = np.array([pressed and o.kind in _CLOSE for o in plan.objects] or [False])
    widths = dict.fromkeys(LINES, TAUT_WIDTH) | {"bean": BEAN_WIDTH} if pressed else {}
    round_ = np.array([widths.get(o.kind, 1.0) for o in plan.objects] or [1.0])[plan.object_index]
    return {
        "start_mm": start,
        "end_mm": end,
        "half_width_mm": section[plan.colour_block, 0] * round_,
        "half_height_mm": section[plan.colour_block, 1] / round_,
        "thread": plan.colour_block.astype(np.int32),
        "along_mm": np.cumsum(thread_mm) - thread_mm,
        "dives": np.ones((n, 2), bool),
        "arch_mm": arch,
        "grain": (hash_unit(np.arange(n), job.seed) * 2.0**32).astype(np.uint32),
        "stitch": np.arange(n, dtype=np.int32),
        "piece": np.where(close[plan.object_index], plan.object_index, -1).astype(np.int32),
        "lands": np.arange(n, dtype=np.float64),
        "bow_mm": _beside(sewn) * hand,
    }


@njit(cache=True, nogil=True, error_model="numpy")
def share_holes(
    side: NDArray[np.float64],
    thread_breaks: NDArray[np.bool_],
    before: NDArray[np.float64],
    after: NDArray[np.float64],
) -> None:
    """Let starts and ends of stitches play by `before` and `after` (S, 2) alike where they share a needle
    point: both threads go down one hole, which plays to the side (S, 2) of both."""
    for i in range(1, len(side)):
        if thread_breaks[i]:
            continue
        alike = abs(side[i, 0] * side[i - 1, 0] + side[i, 1] * side[i - 1, 1])
        for axis in range(2):
            both = (before[i, axis] + after[i - 1, axis]) / np.sqrt(1.0 + alike)
            before[i, axis] = after[i - 1, axis] = both
