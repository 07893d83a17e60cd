"""Inspect: what a good stitcher would find after a wasted sample, found before it.

Each module looks for its own kinds of problem: a check is a function from the piece to problems. At the
module's end `CHECKS` lists its checks, `KINDS` says how what they find is told to others, and `LIMITS` from
where on they speak up.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from render.errors import InputError
from render.inspect.found import checks, kinds
from render.inspect.piece import Inspection, Piece
from render.inspect.production import production_of
from render.materials.own_file import shown

if TYPE_CHECKING:
    from render.model import Job, Problem, Waiver

__all__ = ["Inspection", "Piece", "check_waivers", "inspect", "kinds"]

ORDER = {"fix": 0, "check": 1, "note": 2}


def inspect(piece: Piece) -> Inspection:
    """All problems of the piece, the worst first, without those that its job waives.

    Raises InputError as `check_waivers`.
    """
    check_waivers(piece.job)
    found = [problem for check in checks() for problem in check(piece)]
    kept = [one for one in found if not any(_waived(one, waiver) for waiver in piece.job.waivers)]
    kept.sort(key=lambda one: (ORDER[one.severity], one.stitches[0], one.kind))
    return Inspection(tuple(kept), len(found) - len(kept), production_of(piece))


def check_waivers(job: Job) -> None:
    """Raise InputError where a job waives what there is not."""
    known = kinds()
    for waiver in job.waivers:
        if waiver.kind not in known:
            raise InputError(
                f"the job waives {shown(waiver.kind)}, which is no kind of problem: kind must be one of "
                f"{', '.join(known)}"
            )


def _waived(problem: Problem, waiver: Waiver) -> bool:
    if problem.kind != waiver.kind:
        return False
    if waiver.where_mm is None:
        return True
    x, y = (a - b for a, b in zip(problem.where_mm, waiver.where_mm, strict=True))
    return bool((x * x + y * y) ** 0.5 <= waiver.within_mm)
