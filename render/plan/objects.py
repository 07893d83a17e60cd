"""Objects: runs of stitches of one character, named and measured."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from render.model import SewnObject

if TYPE_CHECKING:
    from render.model import Floats, Ints, StitchKind
    from render.plan.rows import Rows

LEAST_ROWS = 3
RETRACE_MM = 0.15  # a stitch back along the one before ends this close to its start
TIE_MM, TIE_STITCHES = 1.0, 8  # a tie is at most so many stitches, each at most this long
SPLIT_ROW_MM = 6.5  # satin wider than this is split (common practice, no source: 7 mm and more)


def spans_of(rows: Rows, start_mm: Floats, end_mm: Floats, piece: Ints) -> list[tuple[int, int, int]]:
    """First stitch, last stitch and chain (-1) of each stretch to become an object."""
    n = len(start_mm)
    label = np.full(n, -1, np.int64)
    count = np.bincount(rows.chain[rows.chain >= 0], minlength=1)
    for r in np.flatnonzero(rows.chain >= 0):
        if count[rows.chain[r]] >= LEAST_ROWS:
            label[rows.first[r] : rows.last[r] + 1] = rows.chain[r]
    cut = np.flatnonzero((np.diff(label) != 0) | (np.diff(piece) != 0)) + 1
    edges = [0, *cut.tolist(), n]
    return [(a, b - 1, int(label[a])) for a, b in pairwise(edges)]


def name_objects(
    rows: Rows, start_mm: Floats, end_mm: Floats, piece: Ints, colour_block: Ints
) -> tuple[SewnObject, ...]:
    """All objects, covered ones not yet told apart."""
    found: list[SewnObject] = []
    length = np.hypot(*(end_mm - start_mm).T)
    for first, last, chain in spans_of(rows, start_mm, end_mm, piece):
        for a, b, tie in _parts(first, last, chain, length, start_mm, end_mm, piece):
            if tie:
                kind: StitchKind = "tie"
            elif chain >= 0:
                kind = _row_kind(rows, np.flatnonzero(rows.chain == chain))
            else:
                kind = _line_kind(start_mm[a : b + 1], end_mm[a : b + 1])
            measures = _measures(kind, rows, chain, start_mm[a : b + 1], end_mm[a : b + 1])
            serves: StitchKind | None = "running" if tie else None
            found.append(SewnObject(len(found), kind, a, b, int(colour_block[a]), *measures, serves))
    return tuple(found)


def _parts(
    first: int, last: int, chain: int, length: Floats, start: Floats, end: Floats, piece: Ints
) -> list[tuple[int, int, bool]]:
    """A stretch with the ties at its ends split off: (first, last, is a tie)."""
    parts = [(first, last, False)]
    if chain < 0:
        n = last - first + 1
        if (
            n <= TIE_STITCHES
            and (length[first : last + 1] <= TIE_MM).all()
            and _reverses(start, end, first, last)
        ):
            return [(first, last, True)]
        head = _tie_reach(first, last, 1, length, start, end)
        tail = _tie_reach(last, first, -1, length, start, end) if head < n else 0
        starts_thread = first == 0 or piece[first] != piece[first - 1]
        ends_thread = last + 1 == len(piece) or piece[last] != piece[last + 1]
        if starts_thread and 0 < head < n:
            parts = [(first, first + head - 1, True), (first + head, last, False)]
        if ends_thread and 0 < tail < parts[-1][1] - parts[-1][0] + 1:
            a, b, _ = parts.pop()
            parts += [(a, b - tail, False), (b - tail + 1, b, True)]
    return parts


def _tie_reach(first: int, last: int, step: int, length: Floats, start: Floats, end: Floats) -> int:
    """How many stitches from an end are a tie: short ones, up to the last that reverses."""
    reach, k = 0, first
    for count in range(1, TIE_STITCHES + 1):
        following = k + step
        if length[k] > TIE_MM or (following > last if step > 0 else following < last):
            break
        if _turn(start, end, min(k, following)) < -0.5:
            reach = count + (1 if length[following] <= TIE_MM else 0)
        k = following
    return reach


def _turn(start: Floats, end: Floats, i: int) -> float:
    """Cosine of the turn from stitch i to the next."""
    a, b = end[i] - start[i], end[i + 1] - start[i + 1]
    return float(a @ b / max(float(np.hypot(*a) * np.hypot(*b)), 1e-9))


def _reverses(start: Floats, end: Floats, first: int, last: int) -> bool:
    return any(_turn(start, end, k) < -0.5 for k in range(first, last))


def _row_kind(rows: Rows, mine: Ints) -> StitchKind:
    """Satin, split satin, cross-stitch or fill, from how rows are made."""
    count = rows.last[mine] - rows.first[mine] + 1 - rows.joined[mine]
    joined = float(rows.joined[mine].mean())
    reach = np.hypot(*(rows.end_mm[mine] - rows.start_mm[mine]).T)
    if joined < 0.34 and float((count == 1).mean()) > 0.7:
        return "satin"
    if joined < 0.1 and count.mean() < 3.6 and np.median(reach) > SPLIT_ROW_MM and np.median(reach) < 16:
        return "split-satin"
    return "fill"


def _line_kind(start: Floats, end: Floats) -> StitchKind:
    """Running, bean, E-stitch or cross-stitch."""
    n = len(start)
    if n < 3:
        return "running"
    back = np.concatenate([np.hypot(*(end[1:] - start[:-1]).T) < RETRACE_MM, [False]])
    if n >= 6 and _crossing_share(start, end) > 0.5:
        return "cross-stitch"
    if back[:-1].mean() > 0.5:
        return "bean"
    along = np.concatenate([[False], back[:-1]])
    out = np.flatnonzero(back & ~along)
    turns = [abs(_turn(start, end, i - 1)) < 0.6 for i in out.tolist() if i > 0]
    if n >= 6 and len(out) > 0.2 * n and turns and np.mean(turns) > 0.7:
        return "e-stitch"
    return "running"


def _crossing_share(start: Floats, end: Floats) -> float:
    """Share of stitches that cross a near neighbour in the middle at a right angle."""
    middle, run = (start + end) / 2, end - start
    length = np.maximum(np.hypot(*run.T), 1e-9)
    crossed = np.zeros(len(start), bool)
    for step in range(1, 6):
        if step >= len(start):
            break
        near = np.hypot(*(middle[step:] - middle[:-step]).T) < 0.25
        square = np.abs((run[step:] * run[:-step]).sum(1)) / (length[step:] * length[:-step]) < 0.4
        alike = np.abs(np.log(length[step:] / length[:-step])) < 0.25
        crossed[step:] |= near & square & alike
        crossed[:-step] |= near & square & alike
    return float(crossed.mean())


def _measures(
    kind: StitchKind, rows: Rows, chain: int, start: Floats, end: Floats
) -> tuple[float, float, float, float]:
    """Row spacing, angle, width and length; see `SewnObject`."""
    run = end - start
    length = np.hypot(*run.T)
    if chain >= 0 and kind in ("satin", "split-satin", "fill"):
        mine = np.flatnonzero(rows.chain == chain)
        a, b = rows.start_mm[mine], rows.end_mm[mine]
        reach = b - a
        size = np.hypot(*reach.T)
        middle = (a + b) / 2
        step = np.diff(middle, axis=0)
        if kind == "fill":
            angle = _axis(reach)
            side = np.array([-np.sin(angle), np.cos(angle)])
            spacing = float(np.median(np.abs(step @ side)))
            across, along = _extent(np.concatenate([start, end]), angle)
            return spacing, float(np.rad2deg(angle) % 180), across, along
        # One edge is met by every other row; lengths from middle to middle follow the axis.
        pitch = 2 * float(np.median(np.hypot(*step.T)))
        direction = step / np.maximum(np.hypot(*step.T), 1e-9)[:, None]
        normal = np.stack([-direction[:, 1], direction[:, 0]], 1)
        width = (
            float(np.median(np.abs((reach[:-1] * normal).sum(1)))) if len(step) else float(np.median(size))
        )
        return pitch, float(np.rad2deg(_axis(reach)) % 180), width, float(np.hypot(*step.T).sum())
    angle = _axis(run)
    return float("nan"), float(np.rad2deg(angle) % 180), 0.0, float(length.sum())


def _axis(vectors: Floats) -> float:
    """Main direction in radians, weighted by length, of lines that point either way."""
    turn = np.arctan2(vectors[:, 1], vectors[:, 0])
    weight = np.hypot(*vectors.T)
    return float(np.arctan2((weight * np.sin(2 * turn)).sum(), (weight * np.cos(2 * turn)).sum()) / 2)


def _extent(points: Floats, angle: float) -> tuple[float, float]:
    """Extent across and along a direction."""
    along = points @ np.array([np.cos(angle), np.sin(angle)])
    across = points @ np.array([-np.sin(angle), np.cos(angle)])
    return float(np.ptp(across)), float(np.ptp(along))
