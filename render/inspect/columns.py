"""Columns too narrow or too wide, and what lacks underlay.

`narrow-column`: width as sewn, mm, and smaller is worse. `wide-column`: the column's longest
stitches, mm. `no-underlay`: the satin's width or the fill's smaller extent, mm.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

from render.inspect.applique import covers_of_pieces
from render.inspect.areas import Areas, box_of_object, overlap
from render.inspect.places import box_of, named, problem_of
from render.inspect.topping import has_topping, topping_helps
from render.model import SATIN_KINDS, Limit, Problem, ProblemKind

if TYPE_CHECKING:
    from collections.abc import Iterator

    from render.inspect.piece import Piece
    from render.model import Floats, SewnObject, SewPlan

SOON = 150  # stitches between columns that are one word still
SHORTEST_MM = 2.0  # a column shorter than this is a dot
WIDE_QUANTILE = 0.9  # of a column's stitches: a single long one is no wide column
NEAR_MM = 2.5  # underlay so near holds the cloth down
TURN_DEG = 1.5  # steps in which a fill is turned to find where it is narrowest
HELD_SHARE = 0.5  # of an object that must have underlay so near
ON_FILL_MM, ON_FILL_SHARE = 0.6, 0.8  # an object of which so much has rows so near below lies on a fill


def narrow_columns(piece: Piece) -> Iterator[Problem]:
    """Satin that sews out too narrow to be clean; columns sewn one after the other are one place."""
    likely, high = _sewn_widths(piece)
    narrow = [
        part
        for part in piece.plan.objects
        if part.kind in SATIN_KINDS
        and part.length_mm >= SHORTEST_MM
        and high[part.index] < piece.limits[part.colour_block]["narrow_mm"]
    ]
    for group in _neighbours(narrow):
        worst = min(group, key=lambda part: likely[part.index])
        width, limit = likely[worst.index], piece.limits[worst.colour_block]["narrow_mm"]
        where, box = box_of(piece.sewn, worst.first, worst.last)
        if len(group) > 1:
            _, box = box_of(piece.sewn, group[0].first, group[-1].last)
        sure = width < limit and not has_topping(piece)
        which = named(worst) if len(group) == 1 else f"{len(group)} columns of block {worst.colour_block + 1}"
        yield Problem(
            kind="narrow-column",
            severity="fix" if sure else "check",
            where_mm=where,
            box_mm=box,
            size_mm=width,
            objects=tuple(part.index for part in group),
            stitches=(group[0].first, group[-1].last),
            colour_block=worst.colour_block,
            cause=f"{which} may sew out only {width:.2f} mm wide: edges fray and needle holes run together",
            remedy=(
                f"widen to {max(limit, 1.0) + worst.width_mm - width:.1f} mm, or sew a running or bean stitch"
                f"{topping_helps(piece)}"
            ),
        )


def _neighbours(parts: list[SewnObject]) -> Iterator[list[SewnObject]]:
    """Objects of one colour block that are sewn soon after each other."""
    group: list[SewnObject] = []
    for part in parts:
        if group and (part.colour_block != group[-1].colour_block or part.first - group[-1].last > SOON):
            yield group
            group = []
        group.append(part)
    if group:
        yield group


def _sewn_widths(piece: Piece) -> tuple[list[float], list[float]]:
    """Width of each object as it will likely be, and where the cloth pulls as much as is plausible."""
    widths = []
    for sewn in (piece.sewn, piece.high):
        pull = {move.index: move.pull_in_mm for move in sewn.objects}
        widths.append([part.width_mm - max(pull.get(part.index, 0.0), 0.0) for part in piece.plan.objects])
    return widths[0], widths[1]


def wide_columns(piece: Piece) -> Iterator[Problem]:
    """Satin whose stitches are long enough to snag."""
    plan = piece.plan
    length = np.hypot(*(plan.end_mm - plan.start_mm).T)
    for part in plan.objects:
        if part.kind != "satin":
            continue
        limits = piece.limits[part.colour_block]
        size = float(np.quantile(length[part.first : part.last + 1], WIDE_QUANTILE))
        if size <= limits["wide_mm"] + 0.005:
            continue
        fix = size > limits["long_fix_mm"]
        worse = "longer than most machines sew" if fix else "long enough to snag and to lie loose"
        yield problem_of(
            piece,
            "wide-column",
            [part],
            severity="fix" if fix else "check",
            size_mm=size,
            cause=f"{named(part)} has stitches of {size:.1f} mm: {worse}",
            remedy=f"split its stitches, or sew it as a fill; up to {limits['wide_mm']:.0f} mm are usual",
        )


def missing_underlay(piece: Piece) -> Iterator[Problem]:
    """Wide satin and large fills with nothing under them that holds the cloth.

    What lies on another fill still wants its own underlay, or it sinks in between the rows; but the
    cloth is held there already, so that is only to be looked at.
    """
    plan = piece.plan
    areas = Areas(plan)
    boxes = [box_of_object(areas, part.index) for part in plan.objects]
    # Loose rows below a fill may look like a run that leads from part to part: what counts is where they lie.
    underlay = [part for part in plan.objects if part.kind in ("underlay", "running", "bean")]
    fills = [part for part in plan.objects if part.kind == "fill"]
    covers = covers_of_pieces(piece)
    for whole in _goes(piece.plan):
        sizes = [_size_to_hold(one, piece) for one in whole]
        size = max(sizes)
        part = whole[sizes.index(size)]
        limits = piece.limits[part.colour_block]
        limit = limits["underlay_fill_mm"] if part.kind == "fill" else limits["underlay_satin_mm"]
        if size <= limit or part.index in covers:  # a piece of cloth holds itself
            continue
        points = np.concatenate([areas.points_of(one.index) for one in whole])
        box = (*points.min(0).tolist(), *points.max(0).tolist())
        ground = [p for p in fills if p.colour_block < part.colour_block and overlap(boxes[p.index], box)]
        on_fill = _held(areas, points, ground, ON_FILL_MM) >= ON_FILL_SHARE
        # What lies below that fill does not hold what is sewn on it.
        since = max(p.last for p in ground) if on_fill else -1
        below = [
            p
            for p in underlay
            if since < p.first < whole[-1].first
            and p.colour_block == part.colour_block
            and overlap(boxes[p.index], box)
        ]
        near_mm = NEAR_MM if part.kind == "fill" else max(NEAR_MM, size / 2)
        if _held(areas, points, below, near_mm) >= HELD_SHARE:
            continue
        yield _no_underlay(piece, whole, part, size, on_fill=on_fill)


def _no_underlay(
    piece: Piece, whole: list[SewnObject], part: SewnObject, size_mm: float, *, on_fill: bool
) -> Problem:
    """The problem of objects that share their underlay, of which `part` is the widest."""
    lies = "lies on a fill, into which it sinks" if on_fill else "lies on bare cloth: it sinks in and pulls"
    how = "a cross-laid underlay" if part.kind == "fill" else "an edge run and a zigzag"
    return problem_of(
        piece,
        "no-underlay",
        whole,
        severity="check" if on_fill else "fix",
        size_mm=size_mm,
        cause=f"{named(part)}, {size_mm:.1f} mm wide, has no underlay and {lies}",
        remedy=f"put {how} under it",
    )


def _goes(plan: SewPlan) -> Iterator[list[SewnObject]]:
    """Objects that share their underlay: a fill is sewn in several parts where its shape needs it."""
    breaks = np.cumsum(plan.thread_breaks)
    fill: list[SewnObject] = []
    for part in plan.objects:
        if part.kind != "fill":
            yield from [[part]] if part.kind in SATIN_KINDS else []
            continue
        if fill and breaks[fill[-1].first] != breaks[part.first]:
            yield fill
            fill = []
        fill.append(part)
    if fill:
        yield fill


def _size_to_hold(part: SewnObject, piece: Piece) -> float:
    """The size that decides whether an object needs underlay, 0 where it needs none.

    Open rows hardly pull, and underlay would show between them; foam is its own underlay.
    """
    treatment = piece.job.blocks.get(part.colour_block)
    if treatment is not None and treatment.kind in ("foam", "open"):
        return 0.0
    open_mm = piece.limits[part.colour_block]["thin_spacing_mm"]
    if part.kind == "fill":
        return (
            0.0
            if part.row_spacing_mm > open_mm
            else _smaller_extent_mm(piece.plan.end_mm[part.first : part.last + 1])
        )
    if part.kind not in SATIN_KINDS or part.length_mm < SHORTEST_MM or part.row_spacing_mm > 2 * open_mm:
        return 0.0
    return part.width_mm


def _smaller_extent_mm(points_mm: Floats) -> float:
    """How wide a shape is across the direction in which it is narrowest, mm."""
    turn = np.deg2rad(np.arange(0.0, 180.0, TURN_DEG))
    across = np.stack([np.cos(turn), np.sin(turn)])
    return float(np.ptp(points_mm @ across, axis=0).min())


def _held(areas: Areas, points: Floats, below: list[SewnObject], near_mm: float) -> float:
    """Share of thread at `points` that has thread of the objects below so near."""
    if not below:
        return 0.0
    tree = cKDTree(np.concatenate([areas.points_of(one.index)[::2] for one in below]))
    away, _ = tree.query(points[:: max(1, len(points) // 400)], distance_upper_bound=near_mm)
    return float(np.isfinite(away).mean())


CHECKS = (narrow_columns, wide_columns, missing_underlay)
KINDS = {
    "narrow-column": ProblemKind(remark="fine_lines", smallest=True),
    "wide-column": ProblemKind(remark="snag"),
    "no-underlay": ProblemKind(),
}
LIMITS = {
    "narrow_mm": Limit(
        0.6,
        "satin columns that sew out narrower than this: programmed 1 mm or less",
        {"pile": 1.0, "fine": 0.45, "coarse": 0.9},
    ),
    "wide_mm": Limit(8.0, "satin columns wider than this snag"),
    "underlay_satin_mm": Limit(2.5, "satin wider than this needs underlay", {"stretch": 2.0, "pile": 1.5}),
    "underlay_fill_mm": Limit(8.0, "a fill larger than this each way needs underlay", {"pile": 4.0}),
}
