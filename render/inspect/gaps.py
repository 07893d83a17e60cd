"""Cloth that shows between things that were to meet. `gap`: its longest width, mm.

Looked for in the cover of the piece as sewn: what lies narrowly between two objects and is
open. As programmed it was closed (then pull opened it), or it was as open all along: then it is
planned, unless it is narrower than a thread, or runs as a long slit beside a fill of another
colour. Bays that are open to one side are none, and rows too far apart are `thin-cover`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy.ndimage import binary_dilation, distance_transform_edt

from render.inspect.openings import WIDEST_MM, Opening, around, box_of_opening, narrow, openings, widest_at
from render.inspect.places import named
from render.model import AREA_KINDS, CLOTH, HIDDEN_KINDS, Limit, Problem, ProblemKind

if TYPE_CHECKING:
    from collections.abc import Iterator

    from render.inspect.openings import Mask
    from render.inspect.piece import Piece
    from render.model import Floats, Sewn

DOUBTFUL = 0.6  # of the limit: narrower gaps cannot pass it on any cloth
CLOSED = 0.5  # of its width now: what was so narrow as programmed was meant to be closed
UNSEEN = 0.9  # of the limit: what was narrower than that was meant as closed, too
OPENED_MM = 0.1  # what has opened by less was as good as open (estimate)
MOVED_MM = 1.0  # by which openings may have been wider as programmed
WIDE_SHARE = 0.7  # of its width, where a gap counts as widest
BESIDE_MM = 0.25  # how far to look for what lies beside a gap
OWN_SHARE = 0.85  # of what lies beside, when all of it is one object's
OPEN_SHARE = 0.35  # of its rim: what is as open as this to the cloth beside it is a bay
SLIT_LENGTHS = 12.0  # a slit that nobody drew is so many times longer than wide
SLIT_MM = 8.0
SURELY_MM = 1.2  # slits as wide as programmed may be meant as stripes of cloth (estimate)
STRIPES = 3  # as many slits beside different objects may be meant, too
NEAR_MM = 3.0  # stitches so near to a gap say how its sides move


@dataclass(frozen=True, slots=True, eq=False)
class _Gap:
    """An opening that is a gap: a point in it, its box, the objects beside it, and why it is open."""

    opening: Opening
    where_mm: tuple[float, float]
    box_mm: tuple[float, float, float, float]
    beside: tuple[int, int]
    cause: Literal["pull", "not drawn"]
    programmed_mm: float
    high_mm: float


def gaps(piece: Piece) -> Iterator[Problem]:
    """Gaps between adjacent objects; those between the same two colours are one problem."""
    limit = min(one["gap_mm"] for one in piece.limits)
    places: dict[tuple[int, int], list[_Gap]] = {}
    slits = set()
    programmed = narrow(piece.programmed_cover, WIDEST_MM + MOVED_MM)
    for opening in openings(piece.sewn_cover, DOUBTFUL * limit):
        gap = _gap(piece, opening, programmed)
        if gap is None or gap.high_mm < limit:
            continue
        if gap.cause == "not drawn":
            slits.add(gap.beside)
        one, other = (piece.plan.objects[index].colour_block for index in gap.beside)
        places.setdefault((min(one, other), max(one, other)), []).append(gap)
    for found in places.values():
        yield _problem(piece, found, limit, stripes=len(slits) >= STRIPES)


def _gap(piece: Piece, opening: Opening, planned: Mask) -> _Gap | None:
    """What an opening is; None where it is meant to be. `planned` is what is narrowly open as programmed."""
    beside, where = _beside(piece, opening), widest_at(piece.sewn_cover, opening)
    if beside is None or _meant(piece, beside, where):
        return None
    programmed = _programmed_width_mm(piece, opening, planned)
    cause = _cause(piece, opening, beside, programmed)
    if cause is None:
        return None
    high = opening.width_mm
    if cause == "pull":
        high += max(_opens_by(piece.sewn, piece.high, np.array(where), beside), 0.0)
    return _Gap(
        opening=opening,
        where_mm=where,
        box_mm=box_of_opening(piece.sewn_cover, opening),
        beside=beside,
        cause=cause,
        programmed_mm=programmed,
        high_mm=high,
    )


def _beside(piece: Piece, opening: Opening) -> tuple[int, int] | None:
    """The two objects that an opening lies between; None inside a single one and in a bay."""
    cover, plan = piece.sewn_cover, piece.plan
    room = max(2, round(BESIDE_MM * cover.window.px_per_mm))
    window, mask = around(opening, room, cover.stitch.shape)
    stitch = cover.stitch[window]
    if (stitch[binary_dilation(mask) & ~mask] == CLOTH).mean() > OPEN_SHARE:
        return None
    rim = stitch[binary_dilation(mask, iterations=room) & ~mask]
    objects, count = np.unique(plan.object_index[rim[rim >= 0]], return_counts=True)
    # What is meant to be hidden bounds no area.
    shown = np.array([plan.objects[index].kind not in HIDDEN_KINDS for index in objects], bool)
    objects, count = objects[shown], count[shown]
    if len(objects) < 2:
        return None
    order = np.argsort(-count, kind="stable")
    if count[order[0]] > OWN_SHARE * count.sum():
        return None
    # Parts of one fill are one side, where there is another.
    first = plan.objects[objects[order[0]]]
    others = [
        at
        for at in order[1:]
        if (part := plan.objects[objects[at]]).kind != first.kind or part.colour_block != first.colour_block
    ]
    if others and count[others].sum() >= (1 - OWN_SHARE) * count.sum():
        order = np.array([order[0], *others])
    return int(objects[order[0]]), int(objects[order[1]])


def _meant(piece: Piece, beside: tuple[int, int], where: tuple[float, float]) -> bool:
    """Whether what shows there is an appliqué piece, or stitching beside it is declared open."""
    for block, treatment in piece.job.blocks.items():
        if treatment.kind == "open" and block in {piece.plan.objects[index].colour_block for index in beside}:
            return True
        if treatment.kind == "applique" and block < len(piece.plan.blocks):
            own = slice(piece.plan.blocks[block].first, piece.plan.blocks[block].last + 1)
            if _inside(piece.sewn.start_mm[own], where):
                return True
    return False


def _inside(outline: Floats, where: tuple[float, float]) -> bool:
    """Whether a point lies inside a closed line: a ray to the right crosses it an odd number of times."""
    (x0, y0), (x1, y1) = (
        outline.T - np.reshape(where, (2, 1)),
        np.roll(outline, -1, 0).T - np.reshape(where, (2, 1)),
    )
    crosses = (y0 > 0) != (y1 > 0)
    run = np.where(crosses, y1 - y0, 1.0)
    return bool(((x0 - y0 * (x1 - x0) / run)[crosses] > 0).sum() % 2)


def _programmed_width_mm(piece: Piece, opening: Opening, planned: Mask) -> float:
    """How wide it is open as programmed around where it is widest now."""
    px_per_mm = piece.programmed_cover.window.px_per_mm
    room = round(2 * BESIDE_MM * px_per_mm)
    window, mask = around(opening, room + 2, planned.shape)
    inside = distance_transform_edt(mask)
    near = distance_transform_edt(inside < WIDE_SHARE * inside.max()) <= room
    open_ = planned[window] & near
    return float(max(2 * distance_transform_edt(open_).max() - 0.5, 0.0) / px_per_mm) if open_.any() else 0.0


def _cause(
    piece: Piece, opening: Opening, beside: tuple[int, int], programmed_mm: float
) -> Literal["pull", "not drawn"] | None:
    """Why it is open; None where it is meant to be."""
    one, other = (piece.plan.objects[index] for index in beside)
    limits = [piece.limits[part.colour_block] for part in (one, other)]
    # Between rows that are far apart it is the rows that are at fault.
    if any(
        part.row_spacing_mm > max(own["thin_spacing_mm"], opening.width_mm) and part.kind == "fill"
        for part, own in zip((one, other), limits, strict=True)
    ):
        return None
    if programmed_mm <= max(CLOSED * opening.width_mm, UNSEEN * limits[1]["gap_mm"]):
        return "pull"
    areas = one.kind in AREA_KINDS and other.kind in AREA_KINDS and "fill" in (one.kind, other.kind)
    if not areas or one.colour_block == other.colour_block:
        return None
    if programmed_mm < min(piece.threads[part.colour_block].laid_width_mm for part in (one, other)):
        return "pull" if opening.width_mm - programmed_mm >= OPENED_MM else "not drawn"
    long = opening.length_mm >= max(SLIT_MM, SLIT_LENGTHS * opening.width_mm)
    return "not drawn" if long and programmed_mm <= WIDEST_MM else None


def _opens_by(likely: Sewn, high: Sewn, where: Floats, beside: tuple[int, int]) -> float:
    """By how much more a gap opens where the cloth pulls as much as is plausible, mm."""
    plan = likely.plan
    sides = []
    for index in beside:
        part = plan.objects[index]
        own = slice(part.first, part.last + 1)
        ends = np.concatenate([likely.start_mm[own], likely.end_mm[own]])
        more = np.concatenate([high.start_mm[own], high.end_mm[own]]) - ends
        away = np.hypot(*(ends - where).T)
        near = away <= max(NEAR_MM, float(away.min()) + 0.5)
        weight = 1.0 / (away[near] + 0.2)
        sides.append((np.average(ends[near], 0, weight), np.average(more[near], 0, weight)))
    across = sides[1][0] - sides[0][0]
    length = float(np.hypot(*across))
    return float((sides[1][1] - sides[0][1]) @ across / length) if length > 1e-6 else 0.0


def _problem(piece: Piece, found: list[_Gap], limit: float, *, stripes: bool) -> Problem:
    worst = max(found, key=lambda gap: gap.opening.width_mm)
    width, high = worst.opening.width_mm, max(gap.high_mm for gap in found)
    one, other = sorted((piece.plan.objects[index] for index in worst.beside), key=lambda part: part.first)
    boxes = np.array([gap.box_mm for gap in found])
    (left, top), (right, bottom) = boxes[:, :2].min(0).tolist(), boxes[:, 2:].max(0).tolist()
    overlap = np.ceil((max(width, high) + 0.2) * 10) / 10
    pair = (
        (named(one), named(other)) if named(one) != named(other) else ("one part of " + named(one), "another")
    )
    meant = worst.cause == "not drawn" and (stripes or worst.programmed_mm > SURELY_MM)
    if worst.cause == "pull":
        why = "the cloth draws them apart"
        remedy = f"let {pair[0]} run {overlap:.1f} mm further under {pair[1]}"
    else:
        why = "nothing is sewn there"
        remedy = f"widen {pair[0]} or {pair[1]} by {overlap:.1f} mm, so that they overlap"
        remedy += ", or waive it if cloth is to show there" if meant else ""
    many = "" if len(found) == 1 else f" in {len(found)} places"
    # Passed by more than what a pixel decides.
    passed = width > limit + 0.5 / piece.sewn_cover.window.px_per_mm
    more = "" if passed else f" ({high:.2f} mm on cloth that gives more)"
    length = sum(gap.opening.length_mm for gap in found)
    return Problem(
        kind="gap",
        severity="fix" if passed and not meant else "check",
        where_mm=worst.where_mm,
        box_mm=(left, top, right, bottom),
        size_mm=width,
        objects=tuple(sorted({index for gap in found for index in gap.beside})),
        stitches=(one.first, other.last),
        colour_block=other.colour_block,
        cause=(
            f"cloth shows up to {width:.2f} mm wide{more}{many}, {max(length, 1.0):.0f} mm in all, between "
            f"{pair[0]} and {pair[1]}: {why}"
        ),
        remedy=remedy,
    )


CHECKS = (gaps,)
KINDS = {"gap": ProblemKind(remark="gaps")}
LIMITS = {
    "gap_mm": Limit(0.3, "cloth showing between things that were to meet"),
}
