"""Satin: columns between two rails, with the underlay that carries them.

A column's rails run side by side from its start to its end and have the same number of
points: points of equal number lie across from each other. The underlay goes out and the
satin comes back, so that a column ends where it began, unless it is sewn `through`.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from digitize.parts import Part, Points, as_points
from digitize.shapes import at, offset, resample

SPACING_MM = 0.4  # between penetrations on one edge (common practice, no source)
UNDERLAY_STITCH_MM = 2.5
CENTRE_BELOW_MM = 1.7  # narrower columns get a centre run, wider ones a zigzag (common practice, no source)
EDGES_ABOVE_MM = 3.2  # and wider ones than this an edge run besides
ZIGZAG_SPACING_MM = 2.2
SPLIT_ABOVE_MM = 7.0  # longer stitches snag (common practice, no source)
STAGGER = (-0.2, 0.15, -0.05, 0.3)  # of a piece, from stitch to stitch
INSET = 0.22  # of the width, from the edge to the underlay


def satin(
    left: Sequence[Any] | Points,
    right: Sequence[Any] | Points,
    *,
    spacing_mm: float = SPACING_MM,
    through: bool = False,
    underlay: bool = True,
) -> list[Part]:
    """A satin column between two rails (N, 2) that correspond point by point.

    `spacing_mm` holds for the longer edge; on a curve the inner one is closer.
    """
    a, b = _evenly(as_points(left), as_points(right))
    width = _width_mm(a, b)
    parts = _underlay(a, b, width, through) if underlay else []
    if underlay and not through:
        a, b = a[::-1], b[::-1]
    points = zigzag(a, b, spacing_mm)
    split = width > SPLIT_ABOVE_MM
    parts.append(
        Part(
            "split-satin" if split else "satin",
            _split(points) if split else points,
            spacing_mm,
            _across_deg(a, b),
            round(width, 2),
        )
    )
    return parts


def satin_path(path: Sequence[Any] | Points, width_mm: float | Points, **options: Any) -> list[Part]:
    """A satin column of a width, or widths (N,), along the centre line `path (N, 2)`."""
    centre = resample(path, 0.4)
    widths = np.interp(
        np.linspace(0, 1, len(centre)), np.linspace(0, 1, np.size(width_mm)), np.ravel(width_mm)
    )
    half = (offset(centre, 1.0) - centre) * widths[:, None] / 2
    return satin(centre - half, centre + half, **options)


def satin_blob(outline: Points, **options: Any) -> list[Part]:
    """A small closed outline as one column from its first point to the one half way round."""
    half = np.linspace(0, 0.5, 60)
    return satin(at(outline, half), at(outline, 1 - half), **options)


def zigzag(a: Points, b: Points, spacing_mm: float) -> Points:
    """Needle points that change sides; neighbours on the longer edge are `spacing_mm` apart."""
    steps = np.maximum(np.hypot(*np.diff(a, axis=0).T), np.hypot(*np.diff(b, axis=0).T))
    way = np.concatenate([[0.0], np.cumsum(steps)])
    places = np.linspace(0, way[-1], max(2, round(2 * way[-1] / spacing_mm) + 1))
    sides = np.stack([_at(a, way, places), _at(b, way, places)])
    return sides[np.arange(len(places)) % 2, np.arange(len(places))]


def _split(points: Points) -> Points:
    """Wide stitches in pieces, the needle points between them staggered so as to form no line."""
    out = [points[:1]]
    for k, (a, b) in enumerate(pairwise(points)):
        pieces = int(np.hypot(*(b - a)) // SPLIT_ABOVE_MM) + 1
        if pieces > 1:
            out.append(a + ((np.arange(1, pieces) + STAGGER[k % len(STAGGER)]) / pieces)[:, None] * (b - a))
        out.append(b[None])
    return np.concatenate(out)


def _at(rail: Points, way: Points, places: Points) -> Points:
    return np.column_stack([np.interp(places, way, rail[:, axis]) for axis in (0, 1)])


def _evenly(a: Points, b: Points) -> tuple[Points, Points]:
    """Both rails with extra points between, still in step."""
    if len(a) != len(b):
        raise ValueError(f"rails of {len(a)} and {len(b)} points do not correspond")
    knots = np.arange(len(a), dtype=np.float64)
    fine = np.linspace(0, len(a) - 1, 8 * (len(a) - 1) + 1)
    return _at(a, knots, fine), _at(b, knots, fine)


def _underlay(a: Points, b: Points, width: float, through: bool) -> list[Part]:
    """Runs from the start that end at the end, or at the start again for `through`."""
    centre = resample((a + b) / 2, UNDERLAY_STITCH_MM)
    out: list[Points] = []
    if width > EDGES_ABOVE_MM:
        out.append(resample(a + INSET * (b - a), UNDERLAY_STITCH_MM))
        out.append(resample(b + INSET * (a - b), UNDERLAY_STITCH_MM)[::-1])
    if width < CENTRE_BELOW_MM:
        out.append(centre)
    else:
        out.append(zigzag(a + INSET * (b - a), b + INSET * (a - b), ZIGZAG_SPACING_MM))
    if through:
        out.append(centre[::-1])
    return [
        Part(
            "underlay",
            points,
            serves="satin"
            if len(points) > 2 and i == len(out) - 1 - through and width >= CENTRE_BELOW_MM
            else "running",
        )
        for i, points in enumerate(out)
    ]


def _width_mm(a: Points, b: Points) -> float:
    """Mean extent across the column's axis, whatever the slant of its stitches."""
    ahead = np.diff((a + b) / 2, axis=0)
    over = ((b - a)[1:] + (b - a)[:-1]) / 2
    return float(np.abs(ahead[:, 0] * over[:, 1] - ahead[:, 1] * over[:, 0]).sum() / np.hypot(*ahead.T).sum())


def _across_deg(a: Points, b: Points) -> float | None:
    """Direction of the stitches if they keep within 20 degrees of one direction."""
    turn = np.exp(2j * np.arctan2(*(b - a)[np.hypot(*(b - a).T) > 0.3].T[::-1]))
    mean = turn.mean() if len(turn) else 0
    if abs(mean) < 1e-9 or np.abs(np.angle(turn / mean)).max() > np.radians(40):
        return None
    return round(float(np.degrees(np.angle(mean)) / 2 % 180), 1)
