"""Thread ends that nothing holds: starts and ends without a tie. `no-tie` has no size."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.inspect.places import box_of, named
from render.model import Limit, Problem, ProblemKind

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from render.inspect.piece import Piece

NEAR = 6  # stitches from a thread's end within which a tie holds it
LEAST = 2  # short stitches that make one
MOST_PLACES = 6  # so many places of a block are told one by one, more together


def missing_ties(piece: Piece) -> Iterator[Problem]:
    """Starts after a cut and ends before one that have no tie, by colour block."""
    if piece.job.machine.automatic_ties:
        return
    plan = piece.plan
    length = np.hypot(*(plan.end_mm - plan.start_mm).T)
    tie_mm = np.array([one["tie_mm"] for one in piece.limits])[plan.colour_block]
    kind = np.array([part.kind for part in plan.objects])[plan.object_index]
    holds = (length <= tie_mm + 0.005) | (kind == "tie")
    starts, ends = _thread_ends(piece)
    loose = [(at, True) for at in starts.tolist() if not _held(holds, at, ends, forward=True)]
    loose += [(at, False) for at in ends.tolist() if not _held(holds, at, starts, forward=False)]
    for block in plan.blocks:
        own = sorted(one for one in loose if block.first <= one[0] <= block.last)
        if len(own) <= MOST_PLACES:
            yield from (_problem(piece, [one]) for one in own)
        else:
            yield _problem(piece, own)


def _thread_ends(piece: Piece) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Stitches with which a thread begins, and with which it is cut."""
    plan = piece.plan
    count = len(plan.start_mm)
    begins = np.zeros(count + 1, bool)
    begins[[0, count]] = True
    begins[[block.first for block in plan.blocks]] = True
    begins[[t.after_stitch + 1 for t in plan.travels if t.cut == "yes"]] = True
    at = np.flatnonzero(begins)
    return at[:-1], at[1:] - 1


def _held(holds: NDArray[np.bool_], at: int, others: NDArray[np.int64], *, forward: bool) -> bool:
    """Whether enough short stitches lie near a thread's end, on this side of its other end."""
    if forward:
        other = int(others[np.searchsorted(others, at)])
        near = holds[at : min(at + NEAR, other + 1)]
    else:
        other = int(others[np.searchsorted(others, at, "right") - 1])
        near = holds[max(at - NEAR + 1, other) : at + 1]
    return int(near.sum()) >= LEAST


def _problem(piece: Piece, places: list[tuple[int, bool]]) -> Problem:
    plan = piece.plan
    first, last = places[0][0], places[-1][0]
    where, box = box_of(piece.sewn, first, last)
    part = plan.objects[plan.object_index[first]]
    if len(places) == 1:
        begins = places[0][1]
        cause = f"{named(part)} {'starts' if begins else 'ends'} without a tie: the thread can work loose"
        remedy = f"add two or three stitches of 0.7 mm where it {'starts' if begins else 'ends'}"
    else:
        cause = f"{len(places)} thread ends of block {part.colour_block + 1} have no tie and can work loose"
        remedy = "add two or three stitches of 0.7 mm at each of them"
    objects = tuple(sorted({int(plan.object_index[at]) for at, _ in places}))
    return Problem(
        kind="no-tie",
        severity="fix",
        where_mm=where,
        box_mm=box,
        size_mm=None,
        objects=objects,
        stitches=(first, last),
        colour_block=part.colour_block,
        cause=cause,
        remedy=remedy,
    )


CHECKS = (missing_ties,)
KINDS = {"no-tie": ProblemKind()}
LIMITS = {
    "tie_mm": Limit(1.0, "a tie is stitches this short"),
}
