"""Needle holes in a row, on vinyl and leather, where they stay and the piece tears off like a stamp.

They count as `repeated-hole`, which has no size.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from render.inspect.places import box_of_points
from render.model import Limit, Problem

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from render.inspect.piece import Piece
    from render.model import Floats

LINKED_MM = 0.6  # holes further apart than this are not in one row (estimate)


def perforated_lines(piece: Piece) -> Iterator[Problem]:
    """Rows of holes too close for cloth that keeps them, one problem a colour block."""
    if not piece.job.fabric.holes_stay:
        return
    plan = piece.plan
    kind = np.array([part.kind for part in plan.objects])[plan.object_index]
    for block in plan.blocks:
        limits = piece.limits[block.index]
        own = np.arange(block.first, block.last + 1)
        own = own[kind[own] != "tie"]
        holes = piece.sewn.end_mm[own]
        rows = list(_rows(holes, limits["hole_pitch_mm"], limits["hole_line_mm"]))
        if not rows:
            continue
        closest, worst = min(rows, key=lambda one: one[0])
        everything = np.concatenate([members for _, members in rows])
        where, _ = box_of_points(holes[worst])
        _, box = box_of_points(holes[everything])
        count = "a row of" if len(rows) == 1 else f"{len(rows)} rows of"
        yield Problem(
            kind="repeated-hole",
            severity="fix" if closest < limits["hole_pitch_fix_mm"] else "check",
            where_mm=where,
            box_mm=box,
            size_mm=None,
            objects=tuple(int(index) for index in np.unique(plan.object_index[own[everything]])),
            stitches=(int(own[everything.min()]), int(own[everything.max()])),
            colour_block=block.index,
            cause=(
                f"{count} needle holes down to {closest:.2f} mm apart: they stay open in this cloth, and "
                "it can tear along them like a stamp"
            ),
            remedy=(
                f"open the spacing until holes are {limits['hole_pitch_mm']:.2f} mm or more apart, and let "
                "no two edges share a line"
            ),
        )


def _rows(holes: Floats, pitch_mm: float, line_mm: float) -> Iterator[tuple[float, NDArray[np.int64]]]:
    """Usual distance of neighbours, and the holes, of each row long and close enough.

    A row is what hangs together by `LINKED_MM`; a hole's neighbours are the two nearest to it.
    """
    if len(holes) < 3:
        return
    tree = cKDTree(holes)
    pairs = tree.query_pairs(LINKED_MM, output_type="ndarray")
    links = coo_array((np.ones(len(pairs)), pairs.T), shape=(len(holes), len(holes)))
    _, row = connected_components(links, directed=False)
    beside = tree.query(holes, 3)[0][:, 1:].mean(1)
    order = np.argsort(row, kind="stable")
    for members in np.split(order, np.flatnonzero(np.diff(row[order])) + 1):
        extent = float(np.hypot(*np.ptp(holes[members], axis=0)))
        usual = float(np.median(beside[members]))
        if extent >= line_mm and usual < pitch_mm:
            yield usual, members


CHECKS = (perforated_lines,)
LIMITS = {
    "hole_pitch_mm": Limit(0.45, "vinyl, leather: holes in a row closer than this weaken it"),
    "hole_pitch_fix_mm": Limit(0.30, "vinyl, leather: and closer than this cut it"),
    "hole_line_mm": Limit(5.0, "vinyl, leather: from this length of a row on"),
}
