"""Fills that all pull the same way, and cloth that puckers.

`one-way-pull`: the longer side of all fills together, mm. `pucker` has no size.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.inspect.areas import Areas, box_of_object, overlap
from render.inspect.places import box_of_points, named
from render.materials.groups import group_of
from render.model import Limit, Problem, ProblemKind

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from render.inspect.piece import Piece
    from render.model import Floats, SewnObject

SOFT = ("knit", "stretch", "pile")
APART_MM = 3.0  # fills closer than this pull on the same cloth
OTHER_DEG = 60.0  # another angle, enough to share the pull (common practice, no source)
ENOUGH = 0.6  # of the pull one way is no trouble (estimate)
HIGH = 2  # level of pucker


def one_way_pull(piece: Piece) -> Iterator[Problem]:
    """Large fills whose stitches lie alike; the tensor of their directions says how alike."""
    plan = piece.plan
    fills = _together([part for part in plan.objects if part.kind == "fill"], Areas(plan))
    if not fills:
        return
    limits = piece.limits[0]
    area = np.array([part.width_mm * part.length_mm for part in fills])
    pull = area * np.exp(2j * np.deg2rad([part.angle_deg for part in fills])) / area.sum()
    share = abs(pull.sum())
    points = np.concatenate([plan.start_mm[p.first : p.last + 1] for p in fills])
    where, box = box_of_points(points)
    size = max(box[2] - box[0], box[3] - box[1])
    if share < limits["one_way_share"] or size < limits["one_way_mm"]:
        return
    main_deg = np.rad2deg(np.angle(pull.sum()) / 2) % 180
    turned, left = _worth_turning(pull, area)
    which = named(fills[turned[0]])
    if len(turned) > 1:
        blocks = sorted({fills[i].colour_block + 1 for i in turned})
        which = f"the fills of block{'s' if len(blocks) > 1 else ''} {', '.join(map(str, blocks))}"
    soft = group_of(piece.job.fabric) in SOFT and len(fills) > 1
    yield Problem(
        kind="one-way-pull",
        severity="fix" if soft else "check",
        where_mm=where,
        box_mm=box,
        size_mm=size,
        objects=tuple(part.index for part in fills),
        stitches=(min(part.first for part in fills), max(part.last for part in fills)),
        colour_block=fills[int(area.argmax())].colour_block,
        cause=(
            f"{100 * share:.0f} % of the pull of {len(fills)} fills over {size:.0f} mm goes one way, at "
            f"{main_deg:.0f} degrees: the cloth draws in across the whole piece"
        ),
        remedy=f"turn {which} by {OTHER_DEG:.0f} degrees: then {100 * left:.0f} % goes one way"
        if len(fills) > 1
        else f"lay the underlay across it, or part the fill and turn a part by {OTHER_DEG:.0f} degrees",
    )


def _worth_turning(pull: NDArray[np.complex128], area: Floats) -> tuple[list[int], float]:
    """The fills to turn, the largest but one first, until no more is gained by much; and what is left.

    `pull (F,)` is each fill's part of the tensor. The largest fill stays as it is.
    """
    pull = pull.copy()
    turned: list[int] = []
    left = abs(pull.sum())
    for i in np.argsort(-area, kind="stable")[1:]:
        pull[i] *= np.exp(2j * np.deg2rad(OTHER_DEG))
        if abs(pull.sum()) >= left:
            break
        turned.append(int(i))
        left = abs(pull.sum())
        if left < ENOUGH:
            break
    return turned or [0], float(left)


def _together(fills: list[SewnObject], areas: Areas) -> list[SewnObject]:
    """The fills that lie together on the largest piece of cloth: what is sewn elsewhere pulls elsewhere."""
    boxes = [box_of_object(areas, part.index) for part in fills]
    group = list(range(len(fills)))
    for i, one in enumerate(boxes):
        for j in range(i):
            if overlap(one, boxes[j], APART_MM) and group[i] != group[j]:
                group = [group[j] if name == group[i] else name for name in group]
    area = np.bincount(group, [part.width_mm * part.length_mm for part in fills]) if fills else np.zeros(1)
    return [part for part, name in zip(fills, group, strict=True) if name == int(area.argmax())]


def pucker(piece: Piece) -> Iterator[Problem]:
    """Cloth pressed together so far that it ripples around much of the stitching."""
    cloth, plan = piece.sewn.cloth, piece.plan
    if cloth is None:
        return
    middle = (plan.start_mm + plan.end_mm) / 2
    col, row = np.rint((middle - cloth.origin_mm) / cloth.cell_mm).astype(int).T
    rows, cols = cloth.pucker.shape
    level = cloth.pucker[np.clip(row, 0, rows - 1), np.clip(col, 0, cols - 1)]
    share = float((level == HIGH).mean())
    if share < piece.limits[0]["pucker_share"]:
        return
    worst = np.flatnonzero(level == HIGH)
    where, box = box_of_points(middle[worst])
    yield Problem(
        kind="pucker",
        severity="note",
        where_mm=where,
        box_mm=box,
        size_mm=None,
        objects=tuple(int(index) for index in np.unique(plan.object_index[worst])),
        stitches=(int(worst[0]), int(worst[-1])),
        colour_block=int(plan.colour_block[worst[0]]),
        cause=(
            f"{piece.job.fabric.title} is pressed together clearly under {100 * share:.0f} % of the "
            "stitches: it may ripple around them"
        ),
        remedy="use a firmer stabiliser, open the spacing, or vary the angles of the fills",
    )


CHECKS = (one_way_pull, pucker)
KINDS = {
    "one-way-pull": ProblemKind(remark="ripple"),
    "pucker": ProblemKind(remark="ripple", only_noted=True),
}
LIMITS = {
    "one_way_share": Limit(0.85, "of the fills pulling the same way"),
    "one_way_mm": Limit(40.0, "extent of fills pulling the same way from which that matters"),
    "pucker_share": Limit(0.60, "of the sewn area in high pucker"),
}
