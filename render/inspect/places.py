"""Where problems are: runs of stitches, and the boxes around them as sewn."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.model import Problem

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from render.inspect.piece import Piece
    from render.model import Floats, Ints, Severity, Sewn, SewnObject

    Box = tuple[float, float, float, float]
    Point = tuple[float, float]


def runs_of(marked: NDArray[np.bool_], group: Ints, together: int) -> Iterator[tuple[int, int]]:
    """First and last of the marked stitches of each place: not more than `together` apart, of one group."""
    at = np.flatnonzero(marked)
    if not len(at):
        return
    new = np.flatnonzero((np.diff(at) > together) | (np.diff(group[at]) != 0)) + 1
    for part in np.split(at, new):
        yield int(part[0]), int(part[-1])


def box_of(sewn: Sewn, first: int, last: int) -> tuple[Point, Box]:
    """The middle, which lies on thread, and the box of stitches `first` to `last` as sewn."""
    own = slice(first, last + 1)
    points = np.concatenate([sewn.start_mm[own], sewn.end_mm[own]])
    middle = (sewn.start_mm[own] + sewn.end_mm[own]) / 2
    return _nearest(middle, points), _box(points)


def box_of_points(points_mm: Floats) -> tuple[Point, Box]:
    """That of the points (N, 2) nearest to their middle, and the box around them."""
    return _nearest(points_mm, points_mm), _box(points_mm)


def problem_of(
    piece: Piece,
    kind: str,
    parts: Sequence[SewnObject],
    *,
    severity: Severity,
    size_mm: float,
    cause: str,
    remedy: str,
) -> Problem:
    """A problem of whole objects of one colour block, in sewing order."""
    first, last = parts[0].first, parts[-1].last
    where, box = box_of(piece.sewn, first, last)
    return Problem(
        kind=kind,
        severity=severity,
        where_mm=where,
        box_mm=box,
        size_mm=size_mm,
        objects=tuple(part.index for part in parts),
        stitches=(first, last),
        colour_block=parts[0].colour_block,
        cause=cause,
        remedy=remedy,
    )


def _nearest(points: Floats, around: Floats) -> Point:
    away = points - (around.min(0) + around.max(0)) / 2
    x, y = points[int((away**2).sum(1).argmin())]
    return float(x), float(y)


def _box(points: Floats) -> Box:
    (left, top), (right, bottom) = points.min(0), points.max(0)
    return float(left), float(top), float(right), float(bottom)


def named(part: SewnObject) -> str:
    """An object as a shop points at it: `the fill of block 3`."""
    return f"the {part.kind.replace('-', ' ')} of block {part.colour_block + 1}"
