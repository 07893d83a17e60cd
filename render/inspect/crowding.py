"""Too much thread in one spot, and too many needle holes in one place.

`crowding`: the longer side of the spot, mm. `repeated-hole` has no size.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import find_objects, label, uniform_filter
from scipy.spatial import cKDTree

from render.inspect.places import box_of_points
from render.model import Limit, Problem, ProblemKind

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from render.inspect.piece import Piece
    from render.inspect.places import Box, Point
    from render.model import Floats

CELL_MM = 0.25
ROOM_CELLS = 4  # layers are a mean over so many cells each way: a square millimetre
STEP_MM = 0.1  # thread is spread over the cells in pieces of at most this
MERGE_MM = 1.0  # holes nearer than this are one place
MUCH = 1.3  # times the limit from which on it must be mended, not only looked at


def layers_map(piece: Piece) -> tuple[Floats, tuple[float, float]]:
    """Threads on top of each other (rows, cols) of `CELL_MM`, mean over a square millimetre;
    and where the middle of its first cell lies, mm. Raised satin does not count: it is meant to
    be dense."""
    plan, sewn = piece.plan, piece.sewn
    foam = [block for block, one in piece.job.blocks.items() if one.kind == "foam"]
    own = np.flatnonzero(~np.isin(plan.colour_block, foam))
    start, run = sewn.start_mm[own], sewn.end_mm[own] - sewn.start_mm[own]
    length = np.hypot(*run.T)
    width = np.array([thread.laid_width_mm for thread in piece.threads])[plan.colour_block[own]]
    pieces = np.maximum(np.ceil(length / STEP_MM).astype(int), 1)
    of = np.repeat(np.arange(len(own)), pieces)
    step = np.arange(len(of)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    at = start[of] + run[of] * ((step + 0.5) / pieces[of])[:, None]
    left, top, right, bottom = plan.box_mm
    edge = 3.0
    rows = int(np.ceil((bottom - top + 2 * edge) / CELL_MM))
    cols = int(np.ceil((right - left + 2 * edge) / CELL_MM))
    col, row = ((at - [left - edge, top - edge]) / CELL_MM).astype(int).T
    area = (length * width / pieces)[of]
    inside = (row >= 0) & (row < rows) & (col >= 0) & (col < cols)
    flat = np.bincount((row * cols + col)[inside], area[inside], rows * cols).reshape(rows, cols)
    layers = uniform_filter(flat / CELL_MM**2, ROOM_CELLS, mode="constant")
    half = CELL_MM / 2
    return layers, (left - edge + half, top - edge + half)


def crowded_spots(piece: Piece) -> Iterator[Problem]:
    """Spots with more thread than cloth and needle bear."""
    limit = min(one["crowded_layers"] for one in piece.limits)
    least_mm = min(one["crowded_mm"] for one in piece.limits)
    layers, origin = layers_map(piece)
    spots, _ = label(layers > limit, np.ones((3, 3)))
    for number, place in enumerate(find_objects(spots), 1):
        rows, cols = place
        size = max(rows.stop - rows.start, cols.stop - cols.start) * CELL_MM
        if size < least_mm:
            continue
        mine = np.where(spots[place] == number, layers[place], 0.0)
        r, c = np.unravel_index(int(mine.argmax()), mine.shape)
        x0, y0 = origin
        where = (x0 + (cols.start + int(c)) * CELL_MM, y0 + (rows.start + int(r)) * CELL_MM)
        half = CELL_MM / 2
        box = (
            x0 + cols.start * CELL_MM - half,
            y0 + rows.start * CELL_MM - half,
            x0 + cols.stop * CELL_MM - half,
            y0 + rows.stop * CELL_MM - half,
        )
        stitches, most = _stitches_in(piece, box, where), float(mine.max())
        objects = np.unique(piece.plan.object_index[stitches])
        yield Problem(
            kind="crowding",
            severity="fix" if most > MUCH * limit else "check",
            where_mm=where,
            box_mm=box,
            size_mm=size,
            objects=tuple(int(index) for index in objects),
            stitches=(int(stitches[0]), int(stitches[-1])),
            colour_block=int(piece.plan.colour_block[stitches[-1]]),
            cause=(
                f"up to {most:.1f} threads lie on top of each other over {size:.1f} mm: thread breaks, "
                "needles bend and the cloth puckers"
            ),
            remedy=f"take out what lies below or open the spacing until it is {limit:.0f} layers at most",
        )


def _stitches_in(piece: Piece, box_mm: Box, where_mm: Point) -> NDArray[np.int64]:
    """The stitches with their middles in a box; where long ones only meet in it, those nearest to a place."""
    start, run = piece.sewn.start_mm, piece.sewn.end_mm - piece.sewn.start_mm
    middle = start + run / 2
    inside = np.flatnonzero((middle >= box_mm[:2]).all(1) & (middle <= box_mm[2:]).all(1))
    if len(inside):
        return inside
    along = ((where_mm - start) * run).sum(1) / np.maximum((run * run).sum(1), 1e-9)
    away = np.hypot(*(start + np.clip(along, 0, 1)[:, None] * run - where_mm).T)
    return np.flatnonzero(away <= max(ROOM_CELLS * CELL_MM / 2, away.min()))


def repeated_holes(piece: Piece) -> Iterator[Problem]:
    """Places where the needle goes through the same hole over and over."""
    plan = piece.plan
    kind = np.array([part.kind for part in plan.objects])[plan.object_index]
    own = np.flatnonzero(kind != "tie")
    if not len(own):
        return
    limit = min(one["hole_times"] for one in piece.limits)
    holes = piece.sewn.end_mm[own]
    tree = cKDTree(holes)
    times = tree.query_ball_point(holes, piece.limits[0]["hole_within_mm"], return_length=True)
    worn = np.flatnonzero(times >= limit)
    for group in _together(holes[worn]):
        members = worn[group]
        worst = int(members[times[members].argmax()])
        where, box = box_of_points(holes[members])
        stitches = own[members]
        count = int(times[worst])
        what = (
            "are cut out like a stamp" if piece.job.fabric.holes_stay else "wear through, and thread breaks"
        )
        yield Problem(
            kind="repeated-hole",
            severity="fix" if count >= MUCH * limit else "check",
            where_mm=where,
            box_mm=box,
            size_mm=None,
            objects=tuple(int(index) for index in np.unique(plan.object_index[stitches])),
            stitches=(int(stitches.min()), int(stitches.max())),
            colour_block=int(plan.colour_block[own[worst]]),
            cause=(
                f"the needle goes {count} times through the same {2 * piece.limits[0]['hole_within_mm']:.1f} "
                f"mm: cloth and holes {what}"
            ),
            remedy="spread the needle points, or end some stitches short of the corner",
        )


def _together(points: Floats) -> Iterator[list[int]]:
    """Points that are one place: each nearer than `MERGE_MM` to another of it."""
    if not len(points):
        return
    cells = np.floor(points / MERGE_MM).astype(int)
    low = cells.min(0)
    there = np.zeros(cells.max(0) - low + 1, bool)
    there[tuple((cells - low).T)] = True
    names, _ = label(there, np.ones((3, 3)))
    name = names[tuple((cells - low).T)]
    for one in np.unique(name):
        yield np.flatnonzero(name == one).tolist()


CHECKS = (crowded_spots, repeated_holes)
KINDS = {
    "crowding": ProblemKind(remark="stiff"),
    "repeated-hole": ProblemKind(remark="holes"),
}
LIMITS = {
    "crowded_layers": Limit(
        10.0,
        "threads on top of each other, by thread area over cloth area",
        {"knit": 9.0, "stretch": 8.0, "perforates": 6.0, "coarse": 8.0},
    ),
    "crowded_mm": Limit(1.0, "a spot smaller than this does no harm"),
    "hole_within_mm": Limit(0.2, "penetrations this near to each other make one hole"),
    "hole_times": Limit(
        8.0, "as many of them weaken the cloth", {"knit": 6.0, "stretch": 6.0, "perforates": 4.0}
    ),
}
