"""Inspect: what a good stitcher would find after a wasted sample, found before it.

Each module looks for its own kinds of problem: a check is a function from the piece to problems, and the
module's `CHECKS` lists it.
"""

from __future__ import annotations

import importlib
import pkgutil
from typing import TYPE_CHECKING

from render.inspect.piece import Inspection, Piece
from render.inspect.production import production_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from render.model import Problem, Waiver

__all__ = ["Inspection", "Piece", "inspect"]

ORDER = {"fix": 0, "check": 1, "note": 2}


def checks() -> tuple[Callable[[Piece], Iterable[Problem]], ...]:
    """Everything that is looked for: the `CHECKS` of all modules here."""
    modules = [
        importlib.import_module(f"{__name__}.{found.name}") for found in pkgutil.iter_modules(__path__)
    ]
    return tuple(check for module in modules for check in getattr(module, "CHECKS", ()))


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
