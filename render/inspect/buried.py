"""Small details that later stitches cover: sewn for nothing. `buried-detail`: the detail's size, mm."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import binary_closing

from render.inspect.applique import covers_of_pieces
from render.inspect.areas import Areas
from render.inspect.places import box_of, named
from render.model import AREA_KINDS, HIDDEN_KINDS, Limit, Problem, ProblemKind

if TYPE_CHECKING:
    from collections.abc import Iterator

    from render.inspect.piece import Piece
    from render.model import Floats, SewnObject

LEAST_STITCHES = 4
BETWEEN_ROWS_MM = 0.25  # cloth or thread in gaps so narrow is not seen (estimate)


def buried_details(piece: Piece) -> Iterator[Problem]:
    """Small objects of which other colours hide nearly everything, as programmed."""
    plan = piece.plan
    areas = Areas(plan)
    # Placement and tack-down lines are meant to be covered.
    lines = {block for block, one in piece.job.blocks.items() if one.kind == "applique"}
    edges = covers_of_pieces(piece)
    of_piece = np.cumsum(plan.thread_breaks)
    bodies = {int(of_piece[part.first]) for part in plan.objects if part.kind in AREA_KINDS}
    for part in plan.objects:
        if part.kind in HIDDEN_KINDS or part.colour_block in lines or part.index in edges:
            continue
        if part.last - part.first + 1 < LEAST_STITCHES:
            continue
        treatment = piece.job.blocks.get(part.colour_block)
        if treatment is not None and treatment.kind == "open":
            continue
        # Runs of one thread with a fill or a column are its way, not a detail.
        if part.kind not in AREA_KINDS and int(of_piece[part.first]) in bodies:
            continue
        points = areas.points_of(part.index)
        size = float((points.max(0) - points.min(0)).max())
        limits = piece.limits[part.colour_block]
        if size > limits["buried_mm"]:
            continue
        share, by = _covered(piece, part, points)
        if share < limits["buried_share"]:
            continue
        where, box = box_of(piece.sewn, part.first, part.last)
        yield Problem(
            kind="buried-detail",
            severity="fix",
            where_mm=where,
            box_mm=box,
            size_mm=size,
            objects=(part.index, by),
            stitches=(part.first, part.last),
            colour_block=part.colour_block,
            cause=(
                f"{100 * share:.0f} % of {named(part)} lie under {named(plan.objects[by])}: sewn for nothing"
            ),
            remedy="sew it after what covers it, or take it out",
        )


def _covered(piece: Piece, part: SewnObject, points: Floats) -> tuple[float, int]:
    """Share of an object's points under later thread of other colours, and the object that covers most."""
    plan, cover = piece.plan, piece.programmed_cover
    r, c = cover.window.pixels_at(points)
    closed = max(1, round(BETWEEN_ROWS_MM * cover.window.px_per_mm))
    top, left = max(r.min() - closed, 0), max(c.min() - closed, 0)
    stitch = cover.stitch[top : r.max() + closed + 1, left : c.max() + closed + 1]
    later = (stitch > part.last) & (plan.colour_block[np.maximum(stitch, 0)] != part.colour_block)
    if not later.any():
        return 0.0, part.index
    # What shines through between the rows of a fill is not seen.
    hidden = later | binary_closing(later, np.ones((closed, closed)))
    by = np.bincount(plan.object_index[stitch[later]]).argmax()
    return float(hidden[r - top, c - left].mean()), int(by)


CHECKS = (buried_details,)
KINDS = {"buried-detail": ProblemKind(remark="buried")}
LIMITS = {
    "buried_share": Limit(0.85, "of a small detail covered by what is sewn later"),
    "buried_mm": Limit(12.0, "how large a small detail is at most"),
}
