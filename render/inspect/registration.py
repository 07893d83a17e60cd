"""Neighbours that come to lie out of place against each other. `registration`: by how much, mm."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

from render.inspect.areas import STEP_MM, Areas
from render.inspect.places import named
from render.model import HIDDEN_KINDS, Limit, Problem, ProblemKind

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from render.inspect.piece import Piece
    from render.model import Floats, Sewn

CELL_MM = 3.0  # movement is a mean over so much
NEIGHBOURS_MM = 1.0  # apart as programmed, at most
ON_SHARE = 0.7  # of the smaller object, from which on it lies on the other
LEAST_POINTS = 8  # of each neighbour's stitches in a cell: starts, middles and ends


@dataclass(frozen=True, slots=True)
class _Apart:
    """Two objects in one cell: how far they move against each other, likely and at most, mm."""

    pair: tuple[int, int]
    where_mm: tuple[float, float]
    likely_mm: float
    high_mm: float


def registration(piece: Piece) -> Iterator[Problem]:
    """Objects that meet at their edges and move apart, at the worst place of each two colours."""
    plan, areas = piece.plan, Areas(piece.plan)
    on: dict[tuple[int, int], bool] = {}
    told = set()
    for place in sorted(_apart(piece), key=lambda place: -place.likely_mm):
        one, other = (plan.objects[index] for index in place.pair)
        blocks = (one.colour_block, other.colour_block)
        if place.high_mm < piece.limits[other.colour_block]["shift_mm"] or blocks in told:
            continue
        if place.pair not in on:
            on[place.pair] = _lies_on(areas, place.pair)
        if on[place.pair] or not _near(areas, place):
            continue
        told.add(blocks)
        yield _problem(piece, place)


def _problem(piece: Piece, place: _Apart) -> Problem:
    one, other = (piece.plan.objects[index] for index in place.pair)
    x, y = place.where_mm
    half, shift = CELL_MM / 2, place.likely_mm
    return Problem(
        kind="registration",
        severity="fix" if shift >= piece.limits[other.colour_block]["shift_fix_mm"] else "check",
        where_mm=place.where_mm,
        box_mm=(x - half, y - half, x + half, y + half),
        size_mm=shift,
        objects=place.pair,
        stitches=(one.first, other.last),
        colour_block=other.colour_block,
        cause=(
            f"{named(one)} and {named(other)} come to lie {shift:.1f} mm out of place against each other, on "
            f"cloth that gives more up to {place.high_mm:.1f} mm"
        ),
        remedy="let them overlap by as much, sew them one after the other, and use a firmer stabiliser",
    )


def _lies_on(areas: Areas, pair: tuple[int, int]) -> bool:
    """Whether one object lies on the other as a whole: it may move there unseen."""
    one, other = (areas.mask(index) for index in pair)
    return bool((one & other).sum() >= ON_SHARE * min(one.sum(), other.sum()))


def _near(areas: Areas, place: _Apart) -> bool:
    """Whether the two come as near to each other there as neighbours do, as programmed."""
    points = [areas.points_of(index) for index in place.pair]
    one, other = (some[np.abs(some - place.where_mm).max(1) <= CELL_MM] for some in points)
    if not len(one) or not len(other):
        return False
    return bool(cKDTree(one).query(other)[0].min() <= NEIGHBOURS_MM + STEP_MM)


def _apart(piece: Piece) -> list[_Apart]:
    """Where two objects move differently by as much as any limit, likely or at most."""
    plan = piece.plan
    kinds = np.array([part.kind in HIDDEN_KINDS for part in plan.objects], bool)
    own = np.flatnonzero(~kinds[plan.object_index])
    if not len(own):
        return []
    least = min(limits["shift_mm"] for limits in piece.limits)
    programmed = np.stack([plan.start_mm[own], plan.end_mm[own]], 1)
    places = np.concatenate([programmed[:, 0], programmed.mean(1), programmed[:, 1]])
    moves = np.concatenate([_moves(sewn, own, programmed) for sewn in (piece.sewn, piece.high)], 1)
    index = np.tile(plan.object_index[own], 3)
    found = []
    # Cells overlap by half, so that no pair of neighbours is cut apart.
    for shift in ((0.0, 0.0), (0.5, 0.0), (0.0, 0.5), (0.5, 0.5)):
        cell = np.floor(places / CELL_MM + shift).astype(np.int64)
        for where, objects, means in _cells(cell, index, moves, places, least):
            for i, j in combinations(range(len(objects)), 2):
                likely, high = (float(np.hypot(*(means[i] - means[j])[at : at + 2])) for at in (0, 2))
                if max(likely, high) >= least:
                    found.append(_Apart((objects[i], objects[j]), where, likely, max(likely, high)))
    return found


def _moves(sewn: Sewn, own: NDArray[np.integer], programmed: Floats) -> Floats:
    """How far the cloth has moved (3 n, 2) at starts, middles and ends of some stitches: all but what
    their holes have given, which is a matter of each object's width."""
    moved = np.stack([sewn.start_mm[own], sewn.end_mm[own]], 1) - programmed
    if sewn.give_mm is not None:
        moved -= sewn.give_mm[own]
    return np.concatenate([moved[:, 0], moved.mean(1), moved[:, 1]])


def _cells(
    cell: NDArray[np.int64], index: NDArray[np.integer], move: Floats, middle: Floats, least_mm: float
) -> Iterator[tuple[tuple[float, float], list[int], list[Floats]]]:
    """Cells with several objects that may be so far apart: a place in them, the objects, and the mean
    movement of each."""
    low = cell.min(0)
    wide = int((cell - low).max(0)[1]) + 1
    key = (cell[:, 0] - low[0]) * wide + cell[:, 1] - low[1]
    order = np.lexsort((index, key))
    change = (np.diff(key[order], prepend=-1) != 0) | (np.diff(index[order], prepend=-1) != 0)
    first = np.flatnonzero(change)
    count = np.diff(np.append(first, len(order)))
    means = np.add.reduceat(move[order], first) / count[:, None]
    places = np.add.reduceat(middle[order], first) / count[:, None]
    enough = np.flatnonzero(count >= LEAST_POINTS)
    of_cell = key[order][first][enough]
    starts = np.flatnonzero(np.diff(of_cell, prepend=-1))
    if not len(starts):
        return
    # No two of a cell are further apart than the box around all of them is long.
    box = np.maximum.reduceat(means[enough], starts) - np.minimum.reduceat(means[enough], starts)
    apart = np.maximum(np.hypot(*box[:, :2].T), np.hypot(*box[:, 2:].T)) >= least_mm
    for start, stop in zip(starts[apart], np.append(starts[1:], len(enough))[apart], strict=True):
        part = enough[start:stop]
        x, y = places[part].mean(0).tolist()
        yield (x, y), index[order][first[part]].tolist(), list(means[part])


CHECKS = (registration,)
KINDS = {"registration": ProblemKind(remark="shift")}
LIMITS = {
    "shift_mm": Limit(0.7, "neighbours out of place against each other"),
    "shift_fix_mm": Limit(1.0, "more than an overlap hides"),
}
