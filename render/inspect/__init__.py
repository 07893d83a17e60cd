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
    from render.inspect.applique import applique_order, missing_stops
    from render.inspect.buried import buried_details
    from render.inspect.columns import missing_underlay, narrow_columns, wide_columns
    from render.inspect.crowding import crowded_spots, repeated_holes
    from render.inspect.direction import one_way_pull, pucker
    from render.inspect.field import beyond_the_hoop, cap_field, on_the_seam
    from render.inspect.gaps import gaps
    from render.inspect.jumps import needless_trims, uncut_jumps
    from render.inspect.lengths import long_stitches, short_stitches
    from render.inspect.lettering import small_lettering
    from render.inspect.order import borders_before_fills, cap_order
    from render.inspect.perforation import perforated_lines
    from render.inspect.registration import registration
    from render.inspect.thin import thin_cover
    from render.inspect.ties import missing_ties

    return (
        gaps,
        thin_cover,
        registration,
        crowded_spots,
        repeated_holes,
        perforated_lines,
        uncut_jumps,
        needless_trims,
        short_stitches,
        long_stitches,
        missing_ties,
        narrow_columns,
        wide_columns,
        missing_underlay,
        small_lettering,
        borders_before_fills,
        cap_order,
        applique_order,
        missing_stops,
        buried_details,
        one_way_pull,
        pucker,
        beyond_the_hoop,
        cap_field,
        on_the_seam,
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
