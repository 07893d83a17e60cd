"""How far apart, which way, how wide and how long: the measures of every object at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.model import SATIN_KINDS
from render.plan.rows import advance

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from render.model import Floats, Ints, StitchKind
    from render.plan.rows import Rows


@dataclass(frozen=True, slots=True)
class Measures:
    """What `SewnObject` says of one object's size."""

    row_spacing_mm: float
    angle_deg: float
    width_mm: float
    length_mm: float


def measures_of(
    spans: Sequence[tuple[int, int, StitchKind]], rows: Rows, start_mm: Floats, end_mm: Floats
) -> list[Measures]:
    """Measures of all objects (first stitch, last stitch, kind), in linear time.

    Satin: width across its own line, length along it, spacing between neighbouring needle
    points of its longer edge. Fill: width across its rows, length along them. Runs have no width;
    a bean run's length is counted once. E-stitch: width is the legs' length. Cross-stitch:
    width is one cross's side, length the row's; its angle is that of its first stroke.
    """
    first = np.array([s[0] for s in spans])
    size = np.array([s[1] for s in spans]) - first + 1
    kind = np.array([s[2] for s in spans])
    owner = np.repeat(np.arange(len(spans)), size)
    run = end_mm - start_mm
    length = np.hypot(*run.T)
    total = np.bincount(owner, length)
    angle = _axes(run, owner, len(spans))
    spacing = np.full(len(spans), np.nan)
    width = np.zeros(len(spans))

    bean, fill, legs = kind == "bean", kind == "fill", kind == "e-stitch"
    total[bean] /= 3
    satin = np.isin(kind, SATIN_KINDS)
    of_row = np.where(rows.chain >= 0, owner[rows.first], -1)
    held = of_row >= 0
    angle = np.where(
        satin | fill, _axes((rows.end_mm - rows.start_mm)[held], of_row[held], len(spans)), angle
    )
    if held.any():
        across = _across(rows, of_row, len(spans))
        spacing[fill] = across.advance[fill] / 2
        spacing[satin], width[satin], total[satin] = (
            values[satin] for values in (across.edge_step, across.width, across.length)
        )
    u = np.stack([np.cos(angle), np.sin(angle)], 1)
    side, along = (_extent(start_mm, end_mm, axis[owner], first) for axis in (_left(u), u))
    width[fill], total[fill] = side[fill], along[fill]
    for i in np.flatnonzero(legs):
        spacing[i], width[i], total[i] = _leg_measures(
            *(p[first[i] :][: size[i]] for p in (start_mm, end_mm))
        )
    for i in np.flatnonzero(kind == "cross-stitch"):
        angle[i], width[i], total[i] = _cross_measures(
            *(p[first[i] :][: size[i]] for p in (start_mm, end_mm))
        )
    return [
        Measures(float(s), float(a) % 180.0, float(w), float(t))
        for s, a, w, t in zip(spacing, np.rad2deg(angle), width, total, strict=True)
    ]


@dataclass(frozen=True, slots=True, eq=False)
class _Across:
    """Of each object: way across two rows, step along its longer edge, its width and length."""

    advance: Floats
    edge_step: Floats
    width: Floats
    length: Floats


def _across(rows: Rows, of_row: Ints, number: int) -> _Across:
    """The measures that rows give, from each row and the next but one."""
    a, b = rows.start_mm, rows.end_mm
    middle = (a + b) / 2
    same = (of_row[2:] == of_row[:-2]) & (of_row[1:-1] == of_row[:-2]) & (of_row[2:] >= 0)
    owner = of_row[2:][same]
    step = (middle[2:] - middle[:-2])[same]
    pitch = np.hypot(*step.T)
    edge = _smooth(np.hypot(*(b[1:] - a[:-1]).T), of_row)
    longer = np.maximum(edge[:-1], edge[1:])[same]
    row = (b - a)[1:-1][same]
    wide = np.abs(row[:, 0] * step[:, 1] - row[:, 1] * step[:, 0]) / np.maximum(pitch, 1e-9)
    return _Across(
        _typical(np.abs(advance(a, b))[same], owner, number),
        _typical(longer, owner, number),
        _typical(wide, owner, number),
        np.bincount(owner, pitch, number) / 2,
    )


def _smooth(edge: Floats, of_row: Ints) -> Floats:
    """Steps (R - 1,) along the edges, each averaged with those before and after it on its edge."""
    if len(edge) < 5:
        return edge
    total, count = edge.copy(), np.ones(len(edge))
    near = of_row[2:-1] == of_row[:-3]
    total[:-2] += near * edge[2:]
    total[2:] += near * edge[:-2]
    count[:-2] += near
    count[2:] += near
    return total / count


def _typical(values: Floats, owner: Ints, number: int) -> Floats:
    """Mean of each owner's values within half of their median: steady, yet finer than rounded steps."""
    out = np.full(number, np.nan)
    order = np.lexsort((values, owner))
    values, owner = values[order], owner[order]
    have, begin, count = np.unique(owner, return_index=True, return_counts=True)
    middle = np.full(number, np.nan)
    middle[have] = values[begin + count // 2]
    usual = np.abs(values - middle[owner]) <= 0.5 * middle[owner] + 1e-9
    kept = np.bincount(owner[usual], minlength=number)
    out[have] = np.bincount(owner[usual], values[usual], number)[have] / np.maximum(kept[have], 1)
    return out


def _axes(vectors: Floats, owner: Ints, number: int) -> Floats:
    """Each owner's main direction in radians, by length, of lines that point either way."""
    x, y = vectors.T
    size = np.maximum(np.hypot(x, y), 1e-9)
    cosine = np.bincount(owner, (x * x - y * y) / size, number)
    sine = np.bincount(owner, 2 * x * y / size, number)
    return np.asarray(np.arctan2(sine, cosine) / 2)


def _left(u: Floats) -> Floats:
    return np.stack([-u[:, 1], u[:, 0]], 1)


def _extent(start: Floats, end: Floats, axis: Floats, first: NDArray[np.int64]) -> Floats:
    """Extent of each object along the axis given for each of its stitches."""
    p, q = (start * axis).sum(1), (end * axis).sum(1)
    highest = np.maximum.reduceat(np.maximum(p, q), first)
    return np.asarray(highest - np.minimum.reduceat(np.minimum(p, q), first))


def _leg_measures(start: Floats, end: Floats) -> tuple[float, float, float]:
    """Spacing of the legs, their length, and the length of the line they stand on."""
    run = end - start
    back = np.flatnonzero(np.hypot(*(end[1:] - start[:-1]).T) < 0.15)
    base = (start[back] + end[back + 1]) / 2
    steps = np.hypot(*np.diff(base, axis=0).T)
    return float(np.mean(steps)), float(np.mean(np.hypot(*run[back].T))), float(steps.sum())


def _cross_measures(start: Floats, end: Floats) -> tuple[float, float, float]:
    """Direction of the first stroke, side of a cross, and length of the row."""
    run = end - start
    length = np.hypot(*run.T)
    stroke = length > 0.85 * length.max()
    side = float(np.median(length[stroke])) / 2**0.5
    middle = ((start + end) / 2)[stroke]
    reach = float(np.hypot(*np.ptp(middle, axis=0)))
    first = run[stroke][0]
    return float(np.arctan2(first[1], first[0])), side, reach + side
