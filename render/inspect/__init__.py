"""Inspect: what a good stitcher would find after a wasted sample, found before it.

Each module looks for its own kinds of problem: a function from the piece to problems.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from render.inspect.piece import Inspection, Piece
from render.inspect.production import production_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from render.model import Problem, Waiver

__all__ = ["Inspection", "Piece", "inspect"]

ORDER = {"fix": 0, "check": 1, "note": 2}


def checks() -> tuple[Callable[[Piece], Iterable[Problem]], ...]:
    """Everything that is looked for."""
    from render.inspect.crowding import crowded_spots, repeated_holes
    from render.inspect.jumps import needless_trims, uncut_jumps
    from render.inspect.lengths import long_stitches, short_stitches
    from render.inspect.ties import missing_ties

    return (
        crowded_spots,
        repeated_holes,
        uncut_jumps,
        needless_trims,
        short_stitches,
        long_stitches,
        missing_ties,
    )


def inspect(piece: Piece) -> Inspection:
    """All problems of the piece, the worst first, without those that its job waives."""
    found = [problem for check in checks() for problem in check(piece)]
    kept = [one for one in found if not any(_waived(one, waiver) for waiver in piece.job.waivers)]
    kept.sort(key=lambda one: (ORDER[one.severity], one.stitches[0], one.kind))
    return Inspection(tuple(kept), len(found) - len(kept), production_of(piece))


def _waived(problem: Problem, waiver: Waiver) -> bool:
    if problem.kind != waiver.kind:
        return False
    if waiver.where_mm is None:
        return True
    x, y = (a - b for a, b in zip(problem.where_mm, waiver.where_mm, strict=True))
    return bool((x * x + y * y) ** 0.5 <= waiver.within_mm)
