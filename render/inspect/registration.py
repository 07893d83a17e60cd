"""Neighbours that come to lie out of place against each other. `registration`: by how much, mm."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.inspect.areas import Areas
from render.inspect.places import box_of_points, named
from render.model import Problem

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from render.inspect.piece import Piece
    from render.model import Floats, Sewn

CELL_MM = 3.0  # movement is a mean over so much, so that single needle holes do not count
ON_SHARE = 0.7  # of the smaller object, from which on it lies on the other
LEAST_STITCHES = 4  # of each neighbour in a cell
LEAVE_OUT = ("tie", "underlay")


def registration(piece: Piece) -> Iterator[Problem]:
    """Objects that meet at their edges and move apart, at the worst place of each two colours."""
    plan, areas = piece.plan, Areas(piece.plan)
    likely, high = _apart(piece, piece.sewn), _apart(piece, piece.high)
    worst: dict[tuple[int, int], Problem] = {}
    for pair, (where, shift) in sorted(likely.items(), key=lambda item: -item[1][1]):
        one, other = (plan.objects[index] for index in pair)
        blocks = (one.colour_block, other.colour_block)
        limits = piece.limits[other.colour_block]
        most = max(high.get(pair, (where, shift))[1], shift)
        if most < limits.shift_mm or blocks in worst or not _meet(areas, pair):
            continue
        _, box = box_of_points(np.array(where) + np.array([[-1.0, -1.0], [1.0, 1.0]]) * CELL_MM / 2)
        worst[blocks] = Problem(
            "registration",
            "fix" if shift >= limits.shift_fix_mm else "check",
            where,
            box,
            shift,
            pair,
            (one.first, other.last),
            other.colour_block,
            f"{named(one)} and {named(other)} come to lie {shift:.1f} mm out of place against each other, on "
            f"cloth that gives more up to {most:.1f} mm",
            "let them overlap by as much, sew them one after the other, and use a firmer stabiliser",
        )
    yield from worst.values()


def _meet(areas: Areas, pair: tuple[int, int]) -> bool:
    """Whether two objects meet at their edges: what lies on another may move on it unseen."""
    one, other = (areas.mask(index) for index in pair)
    return bool((one & other).sum() < ON_SHARE * min(one.sum(), other.sum()))


def _apart(piece: Piece, sewn: Sewn) -> dict[tuple[int, int], tuple[tuple[float, float], float]]:
    """By pair of neighbours the place where their movements differ most, and by how much, mm."""
    plan = piece.plan
    kinds = np.array([part.kind in LEAVE_OUT for part in plan.objects])
    own = np.flatnonzero(~kinds[plan.object_index])
    if not len(own):
        return {}
    # Midway along a stitch the give of its two holes cancels: what is left is the cloth's.
    middle = (plan.start_mm[own] + plan.end_mm[own]) / 2
    move = (sewn.start_mm[own] + sewn.end_mm[own]) / 2 - middle
    # Cells overlap by half, so that no pair of neighbours is cut apart.
    found: dict[tuple[int, int], tuple[tuple[float, float], float]] = {}
    for shift in ((0.0, 0.0), (0.5, 0.0), (0.0, 0.5), (0.5, 0.5)):
        cell = np.floor(middle / CELL_MM + shift).astype(np.int64)
        for where, objects, means in _cells(cell, plan.object_index[own], move, middle):
            for i, one in enumerate(objects):
                for j in range(i + 1, len(objects)):
                    apart = float(np.hypot(*(means[i] - means[j])))
                    pair = (one, objects[j])
                    if apart > found.get(pair, (where, 0.0))[1]:
                        found[pair] = (where, apart)
    return found


def _cells(
    cell: NDArray[np.int64], index: NDArray[np.integer], move: Floats, middle: Floats
) -> Iterator[tuple[tuple[float, float], list[int], list[Floats]]]:
    """Cells with several objects: a place in them, the objects, and the mean movement of each."""
    low = cell.min(0)
    wide = int((cell - low).max(0)[1]) + 1
    key = (cell[:, 0] - low[0]) * wide + cell[:, 1] - low[1]
    order = np.lexsort((index, key))
    change = (np.diff(key[order], prepend=-1) != 0) | (np.diff(index[order], prepend=-1) != 0)
    first = np.flatnonzero(change)
    count = np.diff(np.append(first, len(order)))
    means = np.add.reduceat(move[order], first) / count[:, None]
    places = np.add.reduceat(middle[order], first) / count[:, None]
    enough = np.flatnonzero(count >= LEAST_STITCHES)
    of_cell = key[order][first][enough]
    for part in np.split(enough, np.flatnonzero(np.diff(of_cell)) + 1):
        if len(part) < 2:
            continue
        x, y = places[part].mean(0).tolist()
        yield (x, y), index[order][first[part]].tolist(), list(means[part])
