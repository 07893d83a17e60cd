"""Stitches that are too short, and break thread, or too long, and snag.

`short-stitch`: the shortest of a run of short stitches, mm. `long-stitch`: the longest, mm. Ties are
short on purpose, and so is the step from one row to the next.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.inspect.places import box_of, runs_of
from render.model import AREA_KINDS, Limit, Problem, ProblemKind

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from render.inspect.piece import Piece

ROWS = (*AREA_KINDS, "e-stitch")  # kinds whose rows are joined by short steps
TOGETHER = 3  # stitches apart that are one place still
FEW = 3  # fewer short stitches in a place than this do no harm (common practice, no source)
STRAY = 1.5  # times its column's width, a stitch of a satin does not belong there (estimate)


def short_stitches(piece: Piece) -> Iterator[Problem]:
    """Places with several stitches that are too short."""
    plan, sewn = piece.plan, piece.sewn
    length = np.hypot(*(plan.end_mm - plan.start_mm).T)
    kind = np.array([part.kind for part in plan.objects])[plan.object_index]
    limit, broken = (
        np.array([one[name] for one in piece.limits])[plan.colour_block]
        for name in ("short_check_mm", "short_fix_mm")
    )
    # To the tenth of a millimetre of stitch files, a stitch of the limit's length is long enough.
    short = (length < limit - 0.005) & (kind != "tie") & ~_steps(piece)
    for first, last in runs_of(short, plan.object_index, TOGETHER):
        own = np.flatnonzero(short[first : last + 1]) + first
        if len(own) < FEW:
            continue
        shortest = float(length[own].min())
        fix = (length[own] < broken[own] - 0.005).sum() >= FEW or shortest < 0.05
        where, box = box_of(sewn, first, last)
        part = plan.objects[plan.object_index[first]]
        yield Problem(
            kind="short-stitch",
            severity="fix" if fix else "check",
            where_mm=where,
            box_mm=box,
            size_mm=shortest,
            objects=(part.index,),
            stitches=(int(own[0]), int(own[-1])),
            colour_block=part.colour_block,
            cause=(
                f"{len(own)} stitches down to {shortest:.2f} mm crowd their needle holes, and thread breaks"
            ),
            remedy=f"take needle points out until every stitch is {limit[first]:.1f} mm or longer",
        )


def _steps(piece: Piece) -> NDArray[np.bool_]:
    """Steps from row to row and at the ends of rows: short between longer neighbours."""
    plan = piece.plan
    length = np.hypot(*(plan.end_mm - plan.start_mm).T)
    kind = np.array([part.kind for part in plan.objects])[plan.object_index]
    run = (plan.end_mm - plan.start_mm) / np.maximum(length, 1e-9)[:, None]
    turns = np.ones(len(length), bool)
    turns[1:] &= (run[1:] * run[:-1]).sum(1) < 0.9
    bends = np.zeros(len(length), bool)
    bends[:-1] = turns[1:]
    return np.isin(kind, ROWS) & (turns | bends)


def long_stitches(piece: Piece) -> Iterator[Problem]:
    """Places with stitches that are too long; satin as wide as its stitches is another matter."""
    plan, sewn = piece.plan, piece.sewn
    length = np.hypot(*(plan.end_mm - plan.start_mm).T)
    limit, fix_from = (
        np.array([one[name] for one in piece.limits])[plan.colour_block]
        for name in ("long_check_mm", "long_fix_mm")
    )
    satin = np.array([part.kind in ("satin", "e-stitch") for part in plan.objects])[plan.object_index]
    width = np.array([part.width_mm for part in plan.objects])[plan.object_index]
    own_width = satin & ~((length > STRAY * width) & (length > fix_from))
    long = (length > limit + 0.005) & ~own_width
    for first, last in runs_of(long, plan.object_index, TOGETHER):
        own = np.flatnonzero(long[first : last + 1]) + first
        longest = float(length[own].max())
        fix = longest > fix_from[first] + 0.005
        where, box = box_of(sewn, first, last)
        part = plan.objects[plan.object_index[first]]
        count = "a stitch" if len(own) == 1 else f"{len(own)} stitches"
        what = "longer than most machines sew in one" if fix else "loose enough to snag in wear"
        yield Problem(
            kind="long-stitch",
            severity="fix" if fix else "check",
            where_mm=where,
            box_mm=box,
            size_mm=longest,
            objects=(part.index,),
            stitches=(int(own[0]), int(own[-1])),
            colour_block=part.colour_block,
            cause=f"{count} up to {longest:.1f} mm: {what}",
            remedy=f"put needle points between, so that no stitch is over {limit[first]:.0f} mm",
        )


CHECKS = (short_stitches, long_stitches)
KINDS = {
    "short-stitch": ProblemKind(),
    "long-stitch": ProblemKind(remark="snag"),
}
LIMITS = {
    "short_check_mm": Limit(
        0.5, "stitches shorter than this crowd needle holes", {"perforates": 1.0, "coarse": 0.8}
    ),
    "short_fix_mm": Limit(0.3, "and shorter than this break thread"),
    "long_check_mm": Limit(7.0, "stitches longer than this snag"),
    "long_fix_mm": Limit(12.1, "and longer than this few machines sew in one"),
}
