"""Appliqué: placement, tack-down and cover in order, and a stop for the hands each time.

Neither `applique-order` nor `missing-stop` has a size. Which block is a placement line stands in
the job: stitch files do not say.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy.spatial import cKDTree

from render.inspect.places import box_of
from render.model import HIDDEN_KINDS, SATIN_KINDS, Problem, ProblemKind

if TYPE_CHECKING:
    from collections.abc import Iterator

    from render.inspect.piece import Piece
    from render.model import Floats, SewnObject, SewPlan

NEAR_MM = 1.5  # of the placement line, beyond half a column's width
FOLLOWS = 0.6
OPENER = 2.0  # a tack-down zigzag has rows at least so many times as far apart as its cover
COVERS = (*SATIN_KINDS, "e-stitch")
HandWork = Literal["lay", "trim"]
_HANDS: dict[HandWork, str] = {"lay": "lay the piece", "trim": "trim it"}
CAUTION = "; stop the machine before hands or scissors go near the needle"


def applique_order(piece: Piece) -> Iterator[Problem]:
    """Pieces of cloth that are covered before they are tacked down, or never.

    A piece may be meant to show its raw edge, so that no cover at all is only to be looked at.
    """
    plan = piece.plan
    for block in _placements(piece):
        tack, cover = _tack_and_cover(plan, block)
        if tack is None and cover is not None and piece.job.blocks[block].pre_cut:
            tack = _run_below(plan, cover)
        early = any(p.kind in COVERS and p.last < plan.blocks[block].first for p in _following(plan, block))
        sure = True
        if early and cover is None:
            cause = "the cover stitch comes before the placement line: the piece of cloth lies on top of it"
            remedy = "sew placement, tack-down and cover in this order"
        elif cover is None:
            cause = "no cover stitch follows the edge of the piece: it may fray"
            remedy = "add a satin over its edge, unless a raw edge is meant"
            sure = False
        elif tack is None or tack.first > cover.first:
            cause = "the piece is covered without being tacked down first: it shifts under the cover stitch"
            remedy = "sew a tack-down run along the placement line, of its own, before the cover"
        else:
            continue
        yield _problem(piece, "applique-order", block, cause, remedy, sure=sure)


def missing_stops(piece: Piece) -> Iterator[Problem]:
    """Placement and tack-down after which the machine does not wait for the hands."""
    plan, machine = piece.plan, piece.job.machine
    for block in _placements(piece):
        missing = []
        for number, what in _waits(piece, block):
            ends_with = plan.blocks[number].ends_with
            # A machine with one needle stops for every colour.
            if ends_with == "stop" or (ends_with == "colour-change" and machine.needles == 1):
                continue
            missing.append(f"to {_HANDS[what]} after block {number + 1}")
        if missing:
            yield _problem(
                piece,
                "missing-stop",
                block,
                f"nothing stops the machine {' and '.join(missing)}: a machine of several needles sews on",
                f"put a stop there, or set one at the machine{CAUTION}",
                sure=machine.name != "unknown",
            )


def hand_work(piece: Piece) -> list[tuple[int, HandWork]]:
    """Colour blocks after which hands lay a piece of cloth, or trim one, in sewing order."""
    return sorted(wait for block in _placements(piece) for wait in _waits(piece, block))


def _waits(piece: Piece, block: int) -> list[tuple[int, HandWork]]:
    """After which blocks hands have to do what, for the piece that a placement line is for."""
    tack, _ = _tack_and_cover(piece.plan, block)
    waits: list[tuple[int, HandWork]] = [(block, "lay")]
    if tack is not None and not piece.job.blocks[block].pre_cut:
        waits.append((tack.colour_block, "trim"))
    return waits


def covers_of_pieces(piece: Piece) -> set[int]:
    """The objects that follow the edge of a piece of cloth."""
    return {part.index for block in _placements(piece) for part in _following(piece.plan, block)}


def _placements(piece: Piece) -> list[int]:
    """The blocks that are placement lines; a single needle point or sequin is no line."""
    lines = {number for number, treatment in piece.job.blocks.items() if treatment.kind == "applique"}
    return [block.index for block in piece.plan.blocks if block.index in lines and block.first <= block.last]


def _tack_and_cover(plan: SewPlan, block: int) -> tuple[SewnObject | None, SewnObject | None]:
    """What tacks the piece down and what covers its edge; a tack-down may be a zigzag, too."""
    after = [part for part in _following(plan, block) if part.first > plan.blocks[block].last]
    covers = [part for part in after if part.kind in COVERS]
    runs = [part for part in after if part.kind not in COVERS]
    if len(covers) > 1 and (not runs or runs[0].first > covers[0].first) and _open(covers[0], covers[-1]):
        return covers[0], covers[-1]
    return (runs[0] if runs else None), (covers[0] if covers else None)


def _run_below(plan: SewPlan, cover: SewnObject) -> SewnObject | None:
    """The run of a cover's own block that lies below it: enough to tack down what needs no trimming."""
    own = [p for p in plan.objects if p.colour_block == cover.colour_block and p.first < cover.first]
    return next((p for p in own if p.kind == "underlay"), None)


def _open(tack: SewnObject, cover: SewnObject) -> bool:
    """Whether one column is so much more open than another that it only tacks down."""
    return tack.row_spacing_mm >= OPENER * cover.row_spacing_mm


def _following(plan: SewPlan, block: int) -> list[SewnObject]:
    """Objects of other blocks that follow the placement line, in sewing order."""
    own = slice(plan.blocks[block].first, plan.blocks[block].last + 1)
    line = np.linspace(plan.start_mm[own], plan.end_mm[own], 9).reshape(-1, 2)
    tree = cKDTree(line)
    found = []
    for part in plan.objects:
        if part.colour_block == block or part.kind in ("fill", *HIDDEN_KINDS):
            continue
        middle = (plan.start_mm[part.first : part.last + 1] + plan.end_mm[part.first : part.last + 1]) / 2
        away, _ = tree.query(middle)
        if (away <= NEAR_MM + part.width_mm / 2).mean() >= FOLLOWS and _reaches_round(middle, line):
            found.append(part)
    return found


def _reaches_round(middle: Floats, line: Floats) -> bool:
    """Whether an object goes along most of the line, not only a part of it."""
    away, _ = cKDTree(middle).query(line)
    return bool((away <= 2 * NEAR_MM + 1.0).mean() >= FOLLOWS)


def _problem(piece: Piece, kind: str, block: int, cause: str, remedy: str, *, sure: bool) -> Problem:
    own = piece.plan.blocks[block]
    where, box = box_of(piece.sewn, own.first, own.last)
    return Problem(
        kind=kind,
        severity="fix" if sure else "check",
        where_mm=where,
        box_mm=box,
        size_mm=None,
        objects=tuple(sorted({int(i) for i in piece.plan.object_index[own.first : own.last + 1]})),
        stitches=(own.first, own.last),
        colour_block=block,
        cause=cause,
        remedy=remedy,
    )


CHECKS = (applique_order, missing_stops)
KINDS = {
    "applique-order": ProblemKind(),
    "missing-stop": ProblemKind(),
}
