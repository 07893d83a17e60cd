"""What area each object covers, on a coarse grid: for questions of what lies on, in or beside what."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import binary_closing, distance_transform_edt

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats, SewPlan

    Mask = NDArray[np.bool_]

CELL_MM = 0.5
STEP_MM = 0.25  # thread is looked at in pieces of at most this
ROOM_CELLS = 4


@dataclass(frozen=True, eq=False)
class Areas:
    """Points along all thread as programmed, and the cells of a grid that each object covers."""

    plan: SewPlan

    @cached_property
    def points(self) -> tuple[Floats, NDArray[np.int64], NDArray[np.int64]]:
        """Points (N, 2) along the stitches, their stitch (N,), and each stitch's first point (S + 1,)."""
        start, run = self.plan.start_mm, self.plan.end_mm - self.plan.start_mm
        pieces = np.maximum(np.ceil(np.hypot(*run.T) / STEP_MM).astype(np.int64), 1)
        first = np.concatenate([[0], np.cumsum(pieces)])
        of = np.repeat(np.arange(len(start)), pieces)
        share = (np.arange(len(of)) - first[of] + 0.5) / pieces[of]
        return start[of] + run[of] * share[:, None], of, first

    @cached_property
    def shape(self) -> tuple[int, int]:
        """Rows and columns of the grid."""
        left, top, right, bottom = self.plan.box_mm
        rows = int(np.ceil((bottom - top) / CELL_MM)) + 2 * ROOM_CELLS + 1
        cols = int(np.ceil((right - left) / CELL_MM)) + 2 * ROOM_CELLS + 1
        return rows, cols

    def points_of(self, index: int) -> Floats:
        """The points (N, 2) along one object's thread."""
        part, (points, _, first) = self.plan.objects[index], self.points
        return points[first[part.first] : first[part.last + 1]]

    def cells_of(self, points_mm: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Rows and columns of the cells that points lie in."""
        left, top, _, _ = self.plan.box_mm
        col, row = (np.floor((points_mm - (left, top)) / CELL_MM).astype(np.int64) + ROOM_CELLS).T
        rows, cols = self.shape
        return np.clip(row, 0, rows - 1), np.clip(col, 0, cols - 1)

    def mask(self, *indices: int) -> Mask:
        """The cells (rows, cols) of some objects together, closed over the gaps between their rows."""
        cells = np.zeros(self.shape, bool)
        for index in indices:
            cells[self.cells_of(self.points_of(index))] = True
        closed: Mask = binary_closing(cells, np.ones((3, 3)))
        return closed

    def edge_mm(self, mask: Mask) -> Floats:
        """How far each cell is from the edge of an area, mm, inside and outside of it."""
        inside = distance_transform_edt(mask)
        outside = distance_transform_edt(~mask)
        away: Floats = (np.where(mask, inside, outside) - 0.5) * CELL_MM
        return away


def overlap(one: tuple[float, ...], other: tuple[float, ...], room: float = 0.0) -> bool:
    """Whether two boxes (left, top, right, bottom) come within `room` of each other."""
    return (
        one[0] - room <= other[2]
        and other[0] - room <= one[2]
        and one[1] - room <= other[3]
        and other[1] - room <= one[3]
    )


def box_of_object(areas: Areas, index: int) -> tuple[float, float, float, float]:
    """The box (left, top, right, bottom) of one object as programmed."""
    (left, top), (right, bottom) = (
        getattr(areas.points_of(index), way)(0).tolist() for way in ("min", "max")
    )
    return left, top, right, bottom
