"""Fills: rows of stitches over any outline with holes, offset from row to row, on an underlay."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from digitize.parts import Part, Points, as_points
from digitize.shapes import offset, resample, turned

ROW_SPACING_MM = 0.4  # this and the next: common practice, no source
STITCH_MM = 4.0
PHASES = (0.0, 0.5, 0.25, 0.75)  # of a stitch, from row to row
CLEAR_MM = 1.2  # from a row's end to its first needle point inside
TURN_MM = 0.52  # shortest step from row to row, where none is asked for: shorter ones nest
SHORTEST_ROW_MM = 0.7
TRAVEL_MM, TRAVEL_INSET_MM = 2.5, 0.5
STRAIGHT_MM = 4.0
UNDERLAY_SPACING_MM, UNDERLAY_INSET_MM, UNDERLAY_STITCH_MM = 3.0, 0.7, 3.5

Pair = tuple[float, float]
Row = tuple[float, float, float]  # number of the row, and where it starts and ends across


def fill(
    contours: Sequence[Sequence[Any] | Points],
    *,
    angle_deg: float,
    row_spacing_mm: float = ROW_SPACING_MM,
    stitch_mm: float = STITCH_MM,
    underlay: bool = True,
    turn_mm: float = TURN_MM,
) -> list[Part]:
    """A fill of the outlines' inside (even-odd, so inner outlines are holes)."""
    rings = [as_points(contour) for contour in contours]
    top = rows(rings, angle_deg, row_spacing_mm, stitch_mm, turn_mm=turn_mm)
    parts = []
    if underlay:
        below = rows(
            rings, angle_deg + 90, UNDERLAY_SPACING_MM, UNDERLAY_STITCH_MM, inset_mm=UNDERLAY_INSET_MM
        )
        if len(below) > 2:
            below = np.concatenate([below, as_points(_way(rings, below[-1], top[0]))])
            parts.append(Part("underlay", below, UNDERLAY_SPACING_MM, (angle_deg + 90) % 180, serves="fill"))
    parts.append(Part("fill", top, row_spacing_mm, angle_deg % 180))
    return parts


def rows(
    rings: Sequence[Points],
    angle_deg: float,
    spacing_mm: float,
    stitch_mm: float,
    *,
    inset_mm: float = 0.0,
    turn_mm: float = TURN_MM,
) -> Points:
    """Needle points of all rows, section after section, the way between them inside the outline."""
    flat = [turned(ring, -angle_deg) for ring in rings]
    sections = _sections(flat, spacing_mm, inset_mm)
    points: list[Pair] = []
    while sections:
        section, backwards, right_first = _nearest(sections, spacing_mm, points[-1] if points else None)
        sections = [other for other in sections if other is not section]
        sewn = _sew(
            flat, section[::-1] if backwards else section, right_first, (spacing_mm, stitch_mm, turn_mm)
        )
        if points:
            points += _way(flat, points[-1], sewn[0])
        points += sewn
    return turned(as_points(points), angle_deg)


def _way(
    rings: Sequence[Points], start: Sequence[float] | Points, end: Sequence[float] | Points
) -> list[Pair]:
    """Needle points between `start` and `end`, both left out: straight if that is short and stays
    inside the outline, else along the edge that makes the shortest way and hides it best."""
    a, b = as_points([start, end])
    probes = resample([a, b], 0.5)[1:-1]
    if np.hypot(*(b - a)) <= STRAIGHT_MM and all(_inside(rings, probe) for probe in probes):
        return _pairs(resample([a, b], TRAVEL_MM)[1:-1])
    ways = [resample([a, *way, b], TRAVEL_MM) for ring in rings for way in _along_edge(rings, ring, a, b)]
    return _pairs(min(ways, key=len)[1:-1])


def _along_edge(rings: Sequence[Points], ring: Points, a: Points, b: Points) -> list[Points]:
    """Both ways along `ring`, a little inside the outline, from near `a` to near `b`."""
    track = resample(ring if np.allclose(ring[0], ring[-1]) else np.concatenate([ring, ring[:1]]), 0.5)
    right = offset(track, TRAVEL_INSET_MM)
    inner = right if _inside(rings, right[len(right) // 3]) else offset(track, -TRAVEL_INSET_MM)
    i, j = (int(np.hypot(*(inner - point).T).argmin()) for point in (a, b))
    around = np.concatenate([inner, inner])
    n = len(inner)
    ahead = around[i : (j if j >= i else j + n) + 1]
    back = around[j : (i if i >= j else i + n) + 1][::-1]
    return [ahead, back]


def _pairs(points: Points) -> list[Pair]:
    return [(float(x), float(y)) for x, y in points]


def _inside(rings: Sequence[Points], point: Points) -> bool:
    return any(left <= point[0] <= right for left, right in _crossings(rings, float(point[1])))


def _sections(rings: Sequence[Points], spacing_mm: float, inset_mm: float) -> list[list[Row]]:
    """Stacks of rows that can be sewn to and fro without a break: cut where the outline parts or joins.

    One of those that meet there has a row more half-way between them: cloth that is drawn in between would
    show through else (common practice, no source)."""

    def across(k: float) -> list[Row]:
        spans = [(k, a + inset_mm, b - inset_mm) for a, b in _crossings(rings, k * spacing_mm + 1e-7)]
        return [span for span in spans if span[2] - span[1] > SHORTEST_ROW_MM]

    low = min(ring[:, 1].min() for ring in rings) + inset_mm
    high = max(ring[:, 1].max() for ring in rings) - inset_mm
    done: list[list[Row]] = []
    open_: list[list[Row]] = []
    for k in range(int(np.ceil(low / spacing_mm)), int(np.floor(high / spacing_mm)) + 1):
        spans = across(k)
        meets = [[s for s in open_ if _meet(s[-1], span)] for span in spans]
        still: list[list[Row]] = []
        begun: list[list[Row]] = []
        cut: list[list[Row]] = []
        for span, met in zip(spans, meets, strict=True):
            alone = len(met) == 1 and sum(met[0] in other for other in meets) == 1
            if alone:
                met[0].append(span)
                still.append(met[0])
            else:
                begun.append([span])
                cut += [section for section in met if not any(section is other for other in cut)]
        for between in across(k - 0.5) if cut else []:
            before = [section for section in cut if _meet(section[-1], between)]
            after = [section for section in begun if _meet(section[0], between)]
            if len(before) == 1:
                before[0].append(between)
            elif len(after) == 1:
                after[0].insert(0, between)
        done += [section for section in open_ if not any(section is s for s in still)]
        open_ = still + begun
    return [section for section in done + open_ if len(section) > 1]


def _meet(row: Row, other: Row) -> bool:
    return row[1] < other[2] and row[2] > other[1]


def _crossings(rings: Sequence[Points], y: float) -> list[Pair]:
    """Where the row at height `y` is inside, as pairs from left to right."""
    found: list[float] = []
    for ring in rings:
        a, b = ring, np.roll(ring, -1, axis=0)
        crosses = (a[:, 1] > y) != (b[:, 1] > y)
        a, b = a[crosses], b[crosses]
        found += (a[:, 0] + (y - a[:, 1]) * (b[:, 0] - a[:, 0]) / (b[:, 1] - a[:, 1])).tolist()
    found.sort()
    return list(zip(found[::2], found[1::2], strict=True))


def _nearest(
    sections: list[list[Row]], spacing_mm: float, needle: Pair | None
) -> tuple[list[Row], bool, bool]:
    """The section with a corner nearest to the needle, and how to begin there: from the
    last row, from the right."""
    if needle is None:
        return sections[0], False, False
    corners = [
        (float(np.hypot(row[1 + right] - needle[0], row[0] * spacing_mm - needle[1])), i, backwards, right)
        for i, section in enumerate(sections)
        for backwards, row in ((False, section[0]), (True, section[-1]))
        for right in (False, True)
    ]
    _, i, backwards, right = min(corners)
    return sections[i], backwards, right


def _sew(
    rings: Sequence[Points], section: list[Row], right_first: bool, lengths_mm: tuple[float, float, float]
) -> list[Pair]:
    """Rows to and fro, so far apart, of stitches so long; a row begins a little inside its edge where the
    step to it would be shorter than that, and is walked to where it would be long."""
    spacing_mm, stitch_mm, turn_mm = lengths_mm
    points: list[Pair] = []
    leftwards = right_first
    for k, left, right in section:
        y = k * spacing_mm
        start, end = (right, left) if leftwards else (left, right)
        inwards = -1.0 if leftwards else 1.0
        if points:
            recess = max(turn_mm**2 - (y - points[-1][1]) ** 2, 0.0) ** 0.5
            if abs(start - points[-1][0]) < recess:
                start = points[-1][0] + inwards * recess
            if np.hypot(start - points[-1][0], y - points[-1][1]) > STRAIGHT_MM:
                points += _way(rings, points[-1], (start, y))
        first, last = sorted((start, end))
        phase = PHASES[int(k) % len(PHASES)]
        grid = np.arange(np.ceil(first / stitch_mm - phase), np.floor(last / stitch_mm - phase) + 1) + phase
        inside = [x for x in (grid * stitch_mm).tolist() if first + CLEAR_MM < x < last - CLEAR_MM]
        points += [(x, y) for x in (start, *(inside[::-1] if leftwards else inside), end)]
        leftwards = not leftwards
    return points
