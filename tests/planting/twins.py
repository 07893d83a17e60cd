"""Sizes measured on the sewn stitches by other means than the inspection's own."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from render.inspect import Piece

Stitches = NDArray[np.int64]


def gap(piece: Piece, own: Stitches) -> float:
    """The widest circle that fits between the swept threads of both objects."""
    swept = shapely.union_all(_threads(piece, own))
    outside = shapely.Polygon(shapely.get_exterior_ring(shapely.convex_hull(swept)))
    widest = 0.0
    for part in shapely.get_parts(shapely.difference(outside, swept)):
        if part.area < 0.02:
            continue
        circle = shapely.maximum_inscribed_circle(part, tolerance=0.01)
        widest = max(widest, 2 * shapely.length(circle))
    return widest


def _threads(piece: Piece, own: Stitches) -> NDArray[np.object_]:
    """Stitches as strips of thread of its mean width, reaching beyond their holes by a quarter of it."""
    start, end = piece.sewn.start_mm[own], piece.sewn.end_mm[own]
    width = piece.threads[0].laid_width_mm
    run = end - start
    beyond = run / np.maximum(np.hypot(*run.T), 1e-9)[:, None] * width / 4
    ends = np.stack([start - beyond, end + beyond], 1)
    return np.asarray(shapely.buffer(shapely.linestrings(ends), width / 2 * 0.95, cap_style="flat"))


def shortest(piece: Piece, own: Stitches) -> float:
    """The shortest of the planted stitches as programmed."""
    own = own[[piece.plan.objects[i].kind != "tie" for i in piece.plan.object_index[own]]]
    return float(np.hypot(*(piece.plan.end_mm[own] - piece.plan.start_mm[own]).T).min())


def longest(piece: Piece, own: Stitches) -> float:
    return float(np.hypot(*(piece.plan.end_mm[own] - piece.plan.start_mm[own]).T).max())


def jump(piece: Piece, own: Stitches) -> float:
    """From where the thread leaves the first object to where it comes down again."""
    breaks = np.flatnonzero(piece.plan.thread_breaks)
    after = int(breaks[(breaks > own[0]) & (breaks <= own[-1])][-1])
    return float(np.hypot(*(piece.sewn.start_mm[after] - piece.sewn.end_mm[after - 1])))


def width(piece: Piece, own: Stitches) -> float:
    """Mean distance of the column's two edges as sewn, square to its axis."""
    satin = own[[piece.plan.objects[i].kind == "satin" for i in piece.plan.object_index[own]]]
    if not len(satin):
        return float("nan")
    points = np.concatenate([piece.sewn.start_mm[satin], piece.sewn.end_mm[satin][-1:]])
    centred = points - points.mean(0)
    _, _, axes = np.linalg.svd(centred, full_matrices=False)
    across = centred @ axes[1]
    return float(across[across > 0].mean() - across[across < 0].mean())


def extent(piece: Piece, own: Stitches) -> float:
    return float(np.ptp(piece.plan.start_mm[own], 0).max())


def beyond(piece: Piece, own: Stitches) -> float:
    return float(np.ptp(piece.plan.end_mm[:, 0])) - 100.0


def too_high(piece: Piece, own: Stitches) -> float:
    return float(np.ptp(piece.plan.end_mm[:, 1])) - 50.0


def crowded(piece: Piece, own: Stitches) -> float:
    """The longer side of where a square millimetre holds more thread than the limit, on a fine raster."""
    lines = shapely.linestrings(np.stack([piece.sewn.start_mm, piece.sewn.end_mm], 1))
    tree = shapely.STRtree(lines)
    (left, top), (right, bottom) = piece.sewn.start_mm[own].min(0) - 1, piece.sewn.start_mm[own].max(0) + 1
    thread, limit = piece.threads[0].laid_width_mm, piece.limits[0]["crowded_layers"]
    x, y = np.meshgrid(np.arange(left, right, 0.25), np.arange(top, bottom, 0.25))
    boxes = shapely.box(x.ravel() - 0.5, y.ravel() - 0.5, x.ravel() + 0.5, y.ravel() + 0.5)
    where, what = tree.query(boxes, predicate="intersects")
    length = shapely.length(shapely.intersection(boxes[where], lines[what]))
    layers = np.bincount(where, length, len(boxes)) * thread
    over = layers.reshape(x.shape) > limit
    if not over.any():
        return 0.0
    rows, cols = np.flatnonzero(over.any(1)), np.flatnonzero(over.any(0))
    return 0.25 * max(np.ptp(rows) + 1, np.ptp(cols) + 1)


def shift(piece: Piece, own: Stitches) -> float:
    """How far the two fields' stitches move apart where they do most: means within 2 mm of each place."""
    plan, sewn = piece.plan, piece.sewn
    kinds = np.array([plan.objects[i].kind for i in plan.object_index[own]])
    own = own[kinds == "fill"]
    middle = (plan.start_mm[own] + plan.end_mm[own]) / 2
    move = (sewn.start_mm[own] + sewn.end_mm[own]) / 2 - middle
    blocks = np.unique(plan.colour_block[own])
    one, other = (plan.colour_block[own] == block for block in (blocks[0], blocks[-1]))
    worst = 0.0
    for place in middle:
        near = np.hypot(*(middle - place).T) <= 2.0
        sides = [move[near & some] for some in (one, other)]
        if min(len(side) for side in sides) >= 4:
            worst = max(worst, float(np.hypot(*(sides[0].mean(0) - sides[1].mean(0)))))
    return worst
