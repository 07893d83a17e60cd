"""Fills that all pull the same way, and cloth that puckers.

`one-way-pull`: the longer side of all fills together, mm. `pucker` has no size.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.inspect.places import box_of_points, named
from render.materials.limits import group_of
from render.model import Problem

if TYPE_CHECKING:
    from collections.abc import Iterator

    from render.inspect.piece import Piece

SOFT = ("knit", "stretch", "pile")
OTHER_DEG = 60.0  # another angle, enough to share the pull (common practice, no source)
HIGH = 2  # level of pucker


def one_way_pull(piece: Piece) -> Iterator[Problem]:
    """Large fills whose stitches lie alike; the tensor of their directions says how alike."""
    plan = piece.plan
    fills = [part for part in plan.objects if part.kind == "fill"]
    if not fills:
        return
    limits = piece.limits[0]
    area = np.array([part.width_mm * part.length_mm for part in fills])
    angle = np.deg2rad([part.angle_deg for part in fills])
    tensor = complex((area * np.exp(2j * angle)).sum() / area.sum())
    points = np.concatenate([plan.start_mm[p.first : p.last + 1] for p in fills])
    where, box = box_of_points(points)
    size = max(box[2] - box[0], box[3] - box[1])
    if abs(tensor) < limits.one_way_share or size < limits.one_way_mm:
        return
    main_deg = np.rad2deg(np.angle(tensor) / 2) % 180
    worst = fills[int(area.argmax())]
    help_by = fills[int(np.argsort(-area, kind="stable")[1])] if len(fills) > 1 else worst
    soft = group_of(piece.job.fabric) in SOFT and len(fills) > 1
    yield Problem(
        "one-way-pull",
        "fix" if soft else "check",
        where,
        box,
        size,
        tuple(part.index for part in fills),
        (min(part.first for part in fills), max(part.last for part in fills)),
        worst.colour_block,
        f"{100 * abs(tensor):.0f} % of the pull of {len(fills)} fills over {size:.0f} mm goes one way, at "
        f"{main_deg:.0f} degrees: the cloth draws in across the whole piece",
        f"turn {named(help_by)} to about {(main_deg + OTHER_DEG) % 180:.0f} degrees",
    )


def pucker(piece: Piece) -> Iterator[Problem]:
    """Cloth pressed together so far that it ripples around much of the stitching."""
    cloth, plan = piece.sewn.cloth, piece.plan
    if cloth is None or not len(plan.start_mm):
        return
    middle = (plan.start_mm + plan.end_mm) / 2
    col, row = np.rint((middle - cloth.origin_mm) / cloth.cell_mm).astype(int).T
    rows, cols = cloth.pucker.shape
    level = cloth.pucker[np.clip(row, 0, rows - 1), np.clip(col, 0, cols - 1)]
    share = float((level == HIGH).mean())
    if share < piece.limits[0].pucker_share:
        return
    worst = np.flatnonzero(level == HIGH)
    where, box = box_of_points(middle[worst])
    yield Problem(
        "pucker",
        "check",
        where,
        box,
        None,
        tuple(int(index) for index in np.unique(plan.object_index[worst])),
        (int(worst[0]), int(worst[-1])),
        int(plan.colour_block[worst[0]]),
        f"{piece.job.fabric.title} is pressed together clearly under {100 * share:.0f} % of the stitches: "
        "it may ripple around them",
        "use a firmer stabiliser, open the spacing, or vary the angles of the fills",
    )
