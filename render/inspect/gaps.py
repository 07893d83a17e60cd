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
from scipy.ndimage import (
    binary_dilation,
    distance_transform_edt,
    find_objects,
    label,
    maximum_filter,
    minimum_filter,
)

from render.inspect.places import named
from render.model import Cover, Problem

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from render.inspect.piece import Piece
    from render.model import Floats, Sewn

    Mask = NDArray[np.bool_]

COARSE = 2  # pixels of the cover to one of the first look
WIDEST_MM = 1.6  # wider openings are not meant to be closed
DOUBTFUL = 0.6  # of the limit: narrower gaps cannot pass it on any cloth
CORE_SHARE = 0.7  # of the least width: a square so wide fits into every gap that wide
CLOSED = 0.5  # of its width now: what was so narrow as programmed was meant to be closed
UNSEEN = 0.9  # of the limit: what was narrower than that was meant as closed, too
OPENED_MM = 0.1  # what has opened by less was as good as open (estimate)
BESIDE_MM = 0.25  # how far to look for what lies beside a gap
OWN_SHARE = 0.85  # of what lies beside, when all of it is one object's
OPEN_SHARE = 0.35  # of its rim: what is as open as this to the cloth beside it is a bay
SLIT_LENGTHS = 12.0  # a slit that nobody drew is so many times longer than wide
SLIT_MM = 8.0
SURELY_MM = 1.2  # slits as wide as programmed may be meant as stripes of cloth (estimate)
STRIPES = 3  # as many slits beside different objects may be meant, too
AREA_KINDS = ("fill", "satin", "split-satin")
HIDDEN_KINDS = ("tie", "underlay")
NEAR_MM = 3.0  # stitches so near to a gap say how its sides move


@dataclass(frozen=True, slots=True, eq=False)
class _Opening:
    """An opening: its pixels in the full cover, from (top, left) on, and its width and length."""

    mask: Mask
    top: int
    left: int
    width_mm: float
    length_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class _Gap:
    """An opening that is a gap: a point in it, its box, the objects beside it, and why it is open."""

    opening: _Opening
    where_mm: tuple[float, float]
    box_mm: tuple[float, float, float, float]
    beside: tuple[int, int]
    cause: Literal["pull", "not drawn"]
    programmed_mm: float
    high_mm: float


def gaps(piece: Piece) -> Iterator[Problem]:
    """Gaps between adjacent objects; those between the same two colours are one problem."""
    if not len(piece.plan.start_mm):
        return
    limit = min(one.gap_mm for one in piece.limits)
    places: dict[tuple[int, int], list[_Gap]] = {}
    slits = set()
    for opening in _openings(piece.sewn_cover, DOUBTFUL * limit):
        gap = _gap(piece, opening)
        if gap is None or gap.high_mm < limit:
            continue
        if gap.cause == "not drawn":
            slits.add(gap.beside)
        one, other = (piece.plan.objects[index].colour_block for index in gap.beside)
        places.setdefault((min(one, other), max(one, other)), []).append(gap)
    for found in places.values():
        yield _problem(piece, found, limit, stripes=len(slits) >= STRIPES)


def _gap(piece: Piece, opening: _Opening) -> _Gap | None:
    """What an opening is; None where it is meant to be."""
    beside = _beside(piece, opening)
    if beside is None:
        return None
    programmed = _programmed_width_mm(piece, opening)
    cause = _cause(piece, opening, beside, programmed)
    if cause is None:
        return None
    where, high = _where(piece, opening), opening.width_mm
    if cause == "pull":
        high += max(_opens_by(piece.sewn, piece.high, np.array(where), beside), 0.0)
    return _Gap(opening, where, _box(piece, opening), beside, cause, programmed, high)


def _openings(cover: Cover, least_mm: float) -> Iterator[_Opening]:
    """Open places at least so wide that lie narrowly between sewn ones."""
    px_per_mm = cover.window.px_per_mm
    rows, cols = (side // COARSE * COARSE for side in cover.stitch.shape)
    open_ = cover.stitch[:rows, :cols] == Cover.CLOTH
    # A coarse pixel is sewn where most of it is.
    coarse = open_.reshape(rows // COARSE, COARSE, cols // COARSE, COARSE).sum((1, 3)) <= COARSE**2 // 2
    reach = round(WIDEST_MM / 2 * px_per_mm / COARSE)
    sewn = np.pad(coarse, reach + 2).astype(np.uint8)
    # Closed by a square: what it closes too much at corners is as open as programmed.
    closed = minimum_filter(maximum_filter(sewn, 2 * reach + 1), 2 * reach + 1)
    between = (closed > sewn)[reach + 2 : -reach - 2, reach + 2 : -reach - 2]
    # Out to its very edge, where coarse pixels are part sewn.
    between = maximum_filter(between.astype(np.uint8), 3)
    fine = np.repeat(np.repeat(between, COARSE, 0), COARSE, 1) * open_
    # Slits between rows are not gaps: only what holds a square of the least width counts.
    core = max(2, int(least_mm * px_per_mm * CORE_SHARE))
    names, _ = label(minimum_filter(fine, core))
    for number, place in enumerate(find_objects(names), 1):
        opening = _opening(names, number, place, fine, core, least_mm, px_per_mm)
        if opening is not None:
            yield opening


def _opening(
    names: NDArray[np.int32],
    number: int,
    place: tuple[slice, slice],
    fine: NDArray[np.uint8],
    core: int,
    least_mm: float,
    px_per_mm: float,
) -> _Opening | None:
    """The opening around one core; None where it is too narrow."""
    top, left = (max(part.start - core - 1, 0) for part in place)
    window = slice(top, place[0].stop + core + 1), slice(left, place[1].stop + core + 1)
    inside = np.pad(fine[window] > 0, 1)
    away = distance_transform_edt(inside)[1:-1, 1:-1]
    mine = names[window] == number
    width_px = 2 * float(away[mine].max()) - 0.5  # between an even and an odd number of pixels
    if width_px < least_mm * px_per_mm:
        return None
    mask = binary_dilation(mine, np.ones((3, 3)), iterations=core // 2 + 1) & inside[1:-1, 1:-1]
    # Over a strip n pixels wide the distances from 1 up and down again have the mean (n + 2) / 4.
    inner = away[mask.nonzero()]
    length_px = len(inner) / max(4 * float(inner.mean()) - 2, 1.0)
    rows, cols = np.flatnonzero(mask.any(1)), np.flatnonzero(mask.any(0))
    mask = mask[rows[0] : rows[-1] + 1, cols[0] : cols[-1] + 1]
    return _Opening(
        mask, top + int(rows[0]), left + int(cols[0]), width_px / px_per_mm, length_px / px_per_mm
    )


def _around(opening: _Opening, room: int, shape: tuple[int, ...]) -> tuple[tuple[slice, slice], Mask]:
    """A window with room around an opening, and its pixels in it."""
    rows, cols = opening.mask.shape
    top, left = max(opening.top - room, 0), max(opening.left - room, 0)
    bottom, right = min(opening.top + rows + room, shape[0]), min(opening.left + cols + room, shape[1])
    mask = np.zeros((bottom - top, right - left), bool)
    mask[opening.top - top :, opening.left - left :][:rows, :cols] = opening.mask
    return (slice(top, bottom), slice(left, right)), mask


def _beside(piece: Piece, opening: _Opening) -> tuple[int, int] | None:
    """The two objects that an opening lies between; None inside a single one and in a bay."""
    cover, plan = piece.sewn_cover, piece.plan
    room = max(2, round(BESIDE_MM * cover.window.px_per_mm))
    window, mask = _around(opening, room, cover.stitch.shape)
    stitch = cover.stitch[window]
    if (stitch[binary_dilation(mask) & ~mask] == Cover.CLOTH).mean() > OPEN_SHARE:
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


def _programmed_width_mm(piece: Piece, opening: _Opening) -> float:
    """How wide the same place is open as programmed."""
    cover = piece.programmed_cover
    px_per_mm = cover.window.px_per_mm
    room = round(2 * BESIDE_MM * px_per_mm)
    window, mask = _around(opening, room + 2, cover.stitch.shape)
    near = distance_transform_edt(~mask) <= room
    open_ = (cover.stitch[window] == Cover.CLOTH) & near
    return float(max(2 * distance_transform_edt(open_).max() - 0.5, 0.0) / px_per_mm) if open_.any() else 0.0


def _cause(
    piece: Piece, opening: _Opening, beside: tuple[int, int], programmed_mm: float
) -> Literal["pull", "not drawn"] | None:
    """Why it is open; None where it is meant to be."""
    one, other = (piece.plan.objects[index] for index in beside)
    limits = [piece.limits[part.colour_block] for part in (one, other)]
    # Between rows that are far apart it is the rows that are at fault.
    if any(
        part.row_spacing_mm > max(own.thin_spacing_mm, opening.width_mm) and part.kind == "fill"
        for part, own in zip((one, other), limits, strict=True)
    ):
        return None
    if programmed_mm <= max(CLOSED * opening.width_mm, UNSEEN * limits[1].gap_mm):
        return "pull"
    areas = one.kind in AREA_KINDS and other.kind in AREA_KINDS and "fill" in (one.kind, other.kind)
    if not areas or one.colour_block == other.colour_block:
        return None
    if programmed_mm < min(piece.threads[part.colour_block].laid_width_mm for part in (one, other)):
        return "pull" if opening.width_mm - programmed_mm >= OPENED_MM else "not drawn"
    long = opening.length_mm >= max(SLIT_MM, SLIT_LENGTHS * opening.width_mm)
    return "not drawn" if long else None


def _where(piece: Piece, opening: _Opening) -> tuple[float, float]:
    """The middle of the widest place."""
    row, col = np.unravel_index(
        int(distance_transform_edt(np.pad(opening.mask, 1))[1:-1, 1:-1].argmax()), opening.mask.shape
    )
    return _to_mm(piece.sewn_cover, opening.top + int(row), opening.left + int(col))


def _to_mm(cover: Cover, row: float, col: float) -> tuple[float, float]:
    window = cover.window
    return (
        float(window.centre_mm[0] + (col + 0.5 - window.cols / 2) / window.px_per_mm),
        float(window.centre_mm[1] + (row + 0.5 - window.rows / 2) / window.px_per_mm),
    )


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


def _box(piece: Piece, opening: _Opening) -> tuple[float, float, float, float]:
    rows, cols = opening.mask.shape
    half = 0.5 / piece.sewn_cover.window.px_per_mm
    left, top = _to_mm(piece.sewn_cover, opening.top, opening.left)
    right, bottom = _to_mm(piece.sewn_cover, opening.top + rows - 1, opening.left + cols - 1)
    return left - half, top - half, right + half, bottom + half


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
    more = f" ({high:.1f} mm on cloth that gives more)" if width < limit else ""
    length = sum(gap.opening.length_mm for gap in found)
    return Problem(
        "gap",
        "fix" if width >= limit and not meant else "check",
        worst.where_mm,
        (left, top, right, bottom),
        width,
        tuple(sorted({index for gap in found for index in gap.beside})),
        (one.first, other.last),
        other.colour_block,
        f"cloth shows up to {width:.1f} mm wide{more}{many}, {max(length, 1.0):.0f} mm in all, between "
        f"{pair[0]} and {pair[1]}: {why}",
        remedy,
    )
