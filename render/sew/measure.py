"""What the sewn work measures: widths, push and shift of objects, strain and pucker of the cloth."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from render.model import AREA_KINDS, ClothMove, ObjectMove
from render.sew.membrane import centre_strains
from render.sew.stitches import at_points, locate

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import SewnObject, SewPlan
    from render.sew.grid import Grid
    from render.sew.settle import Sewing

    Floats = NDArray[np.float64]

WIDE = (*AREA_KINDS, "e-stitch", "cross-stitch", "underlay")
TURN_COS = 0.5  # a thread that turns by more than 60 degrees begins a new row
SHORTEST_ROW = 0.25  # of the median row; shorter ones are steps between rows
TAIL = 0.05  # share of the points that make up an object's end
# Compression beyond which the cloth buckles with which it ripples somewhat, and clearly: by slopes of the
# ripples of some 10 and 17 degrees (estimates).
MEDIUM_STRAIN, HIGH_STRAIN = 0.015, 0.045


def hole_shift(sewing: Sewing) -> Floats:
    """How far the thread draws each needle hole (2 S, 2), mm, beyond the movement of the cloth.

    A quarter of the hole's give for each full tension of the two threads in it, along them;
    twice that where only one thread ends.
    """
    share = sewing.tension_n[:, None] * sewing.direction / sewing.pull.tension_n
    ends = np.stack([share, -share], 1).reshape(-1, 2)
    total, threads = np.zeros((sewing.holes.count, 2)), np.zeros(sewing.holes.count)
    np.add.at(total, sewing.holes.of_end, ends)
    np.add.at(threads, sewing.holes.of_end, 1)
    total *= (0.25 * sewing.pull.hole_give_mm * np.where(threads == 1, 2, 1))[:, None]
    return total[sewing.holes.of_end]


def sewn_ends(sewing: Sewing) -> tuple[Floats, Floats]:
    """Where the ends of the stitches (2 S, 2) lie at last, mm, and what of that is `hole_shift`."""
    shift = hole_shift(sewing)
    return sewing.material_mm + sewing.points_moved(sewing.ends) + shift, shift


def rows_of(start_mm: Floats, end_mm: Floats, breaks: NDArray[np.bool_]) -> NDArray[np.int64]:
    """First stitch of each row: a run of stitches of one thread that goes straight on."""
    run = end_mm - start_mm
    unit = run / np.maximum(np.hypot(run[:, 0], run[:, 1]), 1e-9)[:, None]
    new = breaks.copy()
    new[:1] = True
    new[1:] |= (unit[1:] * unit[:-1]).sum(1) < TURN_COS
    return np.flatnonzero(new)


def measure_object(part: SewnObject, plan: SewPlan, start_mm: Floats, end_mm: Floats) -> ObjectMove:
    """One object as programmed against the sewn ends of all stitches (S, 2)."""
    some = slice(part.first, part.last + 1)
    programmed, sewn = (plan.start_mm[some], plan.end_mm[some]), (start_mm[some], end_mm[some])
    first = rows_of(*programmed, plan.thread_breaks[some])
    last = np.append(first[1:], len(programmed[0])) - 1
    before, after = (np.hypot(*(ends[last] - starts[first]).T) for starts, ends in (programmed, sewn))
    rows = before >= SHORTEST_ROW * np.median(before)
    wide = part.kind in WIDE
    points, moved = np.concatenate(programmed), np.concatenate(sewn)
    angle = np.deg2rad(part.angle_deg)
    along = points @ np.array([-np.sin(angle), np.cos(angle)])
    change = (moved - points) @ np.array([-np.sin(angle), np.cos(angle)])
    low, high = np.quantile(along, [TAIL, 1 - TAIL])
    shift = (moved - points).mean(0)
    return ObjectMove(
        index=part.index,
        programmed_width_mm=float(before[rows].mean()) if wide else float("nan"),
        sewn_width_mm=float(after[rows].mean()) if wide else float("nan"),
        push_mm=float(change[along >= high].mean() - change[along <= low].mean()),
        shift_mm=(float(shift[0]), float(shift[1])),
    )


def principal_strains(grid: Grid, u_mm: Floats, before: Floats | None = None) -> Floats:
    """Largest and smallest strain (E, 2) of the grid's cells, on top of an even strain (3,) before."""
    strain = centre_strains(grid.mesh, u_mm)
    xx, yy, xy = (strain if before is None else strain + before).T
    mean, radius = 0.5 * (xx + yy), np.hypot(0.5 * (xx - yy), 0.5 * xy)
    return np.stack([mean + radius, mean - radius], 1)


def strain_under_thread(sewing: Sewing) -> float:
    """The strain that one in twenty of the cells under the stitching exceeds, as the stitches feel it."""
    grid = sewing.cloth.grid
    laid = (sewing.laid_mm[:, 0] + sewing.laid_mm[:, 1])[grid.mesh.elements].min(1) > 0
    strain = np.abs(principal_strains(grid, sewing.cloth.felt(sewing.u_mm))).max(1)
    return float(np.quantile(strain[laid], 0.95)) if laid.any() else 0.0


def cloth_move(grid: Grid, u_mm: Floats, bending_n_mm: float) -> ClothMove:
    """The fabric's movement (N, 2) at even points over the hoop, and how it puckers off the hoop.

    Cloth puckers where it is pressed together, against that at the hoop, further than it takes without
    buckling: light cloth takes least. How far it was stretched in the hoop is no help once it is taken out.
    """
    (left, right), (top, bottom) = grid.x_mm[[0, -1]], grid.y_mm[[0, -1]]
    cols = int(np.ceil((right - left) / grid.cell_mm)) + 1
    rows = int(np.ceil((bottom - top) / grid.cell_mm)) + 1
    origin = (
        0.5 * (left + right - (cols - 1) * grid.cell_mm),
        0.5 * (top + bottom - (rows - 1) * grid.cell_mm),
    )
    x, y = np.meshgrid(np.arange(cols), np.arange(rows))
    points = np.stack([x.ravel(), y.ravel()], 1) * grid.cell_mm + origin
    places = locate(grid, points)
    even = np.empty((len(points), 2))
    at_points(u_mm, places.node, places.weights, len(grid.x_mm), even)
    shape = len(grid.y_mm) - 1, len(grid.x_mm) - 1
    strain = centre_strains(grid.mesh, u_mm).reshape(*shape, 3)
    rim = np.concatenate([strain[0], strain[-1], strain[:, 0], strain[:, -1]])
    pressed = -principal_strains(grid, u_mm, -rim.mean(0))[:, 1].reshape(shape)
    row, col = places.node // len(grid.x_mm), places.node % len(grid.x_mm)
    flat = np.zeros((rows, cols), np.uint8)
    move = ClothMove(
        u_mm=even.reshape(rows, cols, 2),
        pucker=flat,
        origin_mm=origin,
        cell_mm=grid.cell_mm,
        bending_n_mm=bending_n_mm,
    )
    limits = [move.buckles_at + MEDIUM_STRAIN, move.buckles_at + HIGH_STRAIN]
    level = np.digitize(pressed[row, col], limits).astype(np.uint8)
    return replace(move, pucker=level.reshape(rows, cols))
