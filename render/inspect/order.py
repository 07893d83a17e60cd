"""The order of sewing: fills before their borders, caps from the bottom up and from the middle out.

`sequence`: how far a fill runs over a border sewn before it, mm; on caps it has no size.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import binary_erosion, distance_transform_edt

from render.inspect.areas import CELL_MM, Areas, box_of_object, overlap
from render.inspect.places import box_of, named
from render.model import HIDDEN_KINDS, SATIN_KINDS, Problem, ProblemKind

if TYPE_CHECKING:
    from collections.abc import Iterator

    from render.inspect.areas import Mask
    from render.inspect.piece import Piece
    from render.model import Floats, SewnObject, SewPlan

SHORTEST_BORDER_MM = 12.0  # all its columns together
NEAR_MM = 1.2  # of a fill's edge, beyond half the border's width
JOINED_MM = 3.0  # from the end of one column to the start of the next of one border
FOLLOWS = 0.6  # share of a border that must lie so near
RIM_SHARE = 0.25  # of the fill's edge that a border goes along
LEAST_OVER_MM = 0.4  # a fill that runs over a border by less only touches it
TOP_DOWN, DOWN = -0.3, -0.1  # correlation of order and height from which a cap is sewn wrongly
SIDES_IN = -0.6  # and of order and distance from the middle
LEAST_OBJECTS = 4
LEAST_SPREAD_MM = 3.0  # of heights, or of distances: one line of text has no order


def borders_before_fills(piece: Piece) -> Iterator[Problem]:
    """Fills sewn over a border that was to cover their edge.

    A shape is often filled in several goes of one colour, and a border sewn in several columns.
    """
    plan = piece.plan
    areas = Areas(plan)
    boxes = [box_of_object(areas, part.index) for part in plan.objects]
    for over in plan.blocks:
        fills = [p for p in plan.objects if p.kind == "fill" and p.colour_block == over.index]
        covered: list[SewnObject] = []
        for block in plan.blocks[: over.index + 1] if fills else ():
            columns = [p for p in plan.objects if p.kind in SATIN_KINDS and p.colour_block == block.index]
            near = [p for p in columns if any(overlap(boxes[p.index], boxes[q.index]) for q in fills)]
            later = [q for q in fills if near and q.first > near[0].last]
            borders = [p for p in near if later and p.last < later[0].first]
            if not borders:
                continue
            if covered != later:
                covered, mask = later, areas.mask(*(p.index for p in later))
                edge = areas.edge_mm(mask)
            for border in _in_one(plan, [p for p in borders if _follows(areas, p, edge)]):
                yield from _judge(piece, areas, mask, border, later)


def _in_one(plan: SewPlan, columns: list[SewnObject]) -> Iterator[list[SewnObject]]:
    """Columns of which each begins where the last one ends."""
    border: list[SewnObject] = []
    for part in columns:
        if border and np.hypot(*(plan.start_mm[part.first] - plan.end_mm[border[-1].last])) > JOINED_MM:
            yield border
            border = []
        border.append(part)
    if border:
        yield border


def _judge(
    piece: Piece, areas: Areas, mask: Mask, borders: list[SewnObject], fills: list[SewnObject]
) -> Iterator[Problem]:
    length = sum(p.length_mm for p in borders)
    if length < SHORTEST_BORDER_MM:
        return
    own = areas.mask(*(p.index for p in borders))
    rim = mask & ~binary_erosion(mask)
    near = distance_transform_edt(~own) * CELL_MM <= NEAR_MM
    over = float((own & mask).sum() * CELL_MM**2 / length)
    # A column that only passes by follows an edge for a while, too.
    if (rim & near).sum() < RIM_SHARE * rim.sum() or over < LEAST_OVER_MM:
        return
    border, fill = borders[0], fills[0]
    where, box = box_of(piece.sewn, border.first, borders[-1].last)
    yield Problem(
        kind="sequence",
        severity="fix",
        where_mm=where,
        box_mm=box,
        size_mm=over,
        objects=(*(p.index for p in borders), fill.index),
        stitches=(border.first, fills[-1].last),
        colour_block=border.colour_block,
        cause=f"{named(border)} is sewn before {named(fill)}, which then runs {over:.1f} mm over it",
        remedy="sew the fill first and its border after it",
    )


def _follows(areas: Areas, border: SewnObject, edge_mm: Floats) -> bool:
    """Whether most of a column lies along the edge of an area."""
    own = slice(border.first, border.last + 1)
    middle = areas.cells_of((areas.plan.start_mm[own] + areas.plan.end_mm[own]) / 2)
    return bool((edge_mm[middle] <= border.width_mm / 2 + NEAR_MM).mean() >= FOLLOWS)


def cap_order(piece: Piece) -> Iterator[Problem]:
    """Caps sewn from the top down or from the sides in, where the front then creeps."""
    if not piece.cap:
        return
    plan = piece.plan
    parts = [part for part in plan.objects if part.kind not in HIDDEN_KINDS]
    if len(parts) < LEAST_OBJECTS:
        return
    middle = np.array(
        [
            np.concatenate([plan.start_mm[p.first : p.last + 1], plan.end_mm[p.first : p.last + 1]]).mean(0)
            for p in parts
        ]
    )
    weight = np.array([p.last - p.first + 1 for p in parts], float)
    place = np.arange(len(parts), dtype=float)
    left, _, right, _ = plan.box_mm
    for series, least, fix, says, advice in (
        (-middle[:, 1], DOWN, TOP_DOWN, "from the top down", "from the bottom, at the brim, upwards"),
        (
            np.abs(middle[:, 0] - (left + right) / 2),
            SIDES_IN,
            -np.inf,
            "from the sides in",
            "from the middle out",
        ),
    ):
        wrong = _correlation(place, series, weight)
        spread = float(np.average((series - np.average(series, weights=weight)) ** 2, weights=weight)) ** 0.5
        if wrong >= least or spread < LEAST_SPREAD_MM:
            continue
        early, late = (parts[i] for i in _worst_pair(series))
        where, box = box_of(piece.sewn, late.first, late.last)
        yield Problem(
            kind="sequence",
            severity="fix" if wrong < fix else "check",
            where_mm=where,
            box_mm=box,
            size_mm=None,
            objects=(early.index, late.index),
            stitches=(early.first, late.last),
            colour_block=late.colour_block,
            cause=(
                f"on the cap it is sewn {says}, at worst {named(late)} after {named(early)}: the front is "
                "pushed ahead of the needle and creeps"
            ),
            remedy=f"sew it {advice}",
        )


def _worst_pair(series: Floats) -> tuple[int, int]:
    """Of all pairs in sewing order the one whose value falls the most."""
    highest = np.maximum.accumulate(series)
    late = int(np.argmax(highest - series))
    return int(np.argmax(series[: late + 1])), late


def _correlation(place: Floats, value: Floats, weight: Floats) -> float:
    """Weighted correlation of two series, 0 where one of them is even."""
    a, b = (values - np.average(values, weights=weight) for values in (place, value))
    spread = np.average(a * a, weights=weight) * np.average(b * b, weights=weight)
    return float(np.average(a * b, weights=weight) / spread**0.5) if spread > 1e-12 else 0.0


CHECKS = (borders_before_fills, cap_order)
KINDS = {"sequence": ProblemKind()}
