"""The grid that the cloth is computed on: even over the design, coarser towards the hoop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.model import freeze
from render.sew.membrane import Mesh

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

GROWTH = 1.35  # each cell outside the design is this much wider than the one before it
MARGIN_CELLS = 3  # even cells around the design


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """Lines at `x_mm (C,)` and `y_mm (R,)`; node `row * C + col`. `cell_mm` within the design."""

    x_mm: Floats
    y_mm: Floats
    cell_mm: float

    def __post_init__(self) -> None:
        freeze(self, x_mm=(-1,), y_mm=(-1,))

    @property
    def nodes_mm(self) -> Floats:
        """Where the nodes (N, 2) lie, row by row."""
        x, y = np.meshgrid(self.x_mm, self.y_mm)
        return np.stack([x.ravel(), y.ravel()], 1)

    @property
    def mesh(self) -> Mesh:
        """The cells as quadrilaterals."""
        cols = len(self.x_mm)
        first = (np.arange(len(self.y_mm) - 1)[:, None] * cols + np.arange(cols - 1)).ravel()
        return Mesh(self.nodes_mm, np.stack([first, first + 1, first + cols + 1, first + cols], 1))

    @property
    def node_area_mm2(self) -> Floats:
        """Area that belongs to each node (N,)."""
        area: Floats = np.outer(_shares(self.y_mm), _shares(self.x_mm)).ravel()
        return area


def _shares(line_mm: Floats) -> Floats:
    gaps = np.diff(line_mm)
    shares: Floats = 0.5 * (np.concatenate([[0.0], gaps]) + np.concatenate([gaps, [0.0]]))
    return shares


def make_grid(
    box_mm: tuple[float, float, float, float], half_hoop_mm: tuple[float, float], cell_mm: float
) -> Grid:
    """A grid over a hoop that is centred on the design's box (left, top, right, bottom)."""
    left, top, right, bottom = box_mm
    return Grid(
        _lines(left, right, half_hoop_mm[0], cell_mm), _lines(top, bottom, half_hoop_mm[1], cell_mm), cell_mm
    )


def _lines(low_mm: float, high_mm: float, half_hoop_mm: float, cell_mm: float) -> Floats:
    """Lines from hoop to hoop, alike on both sides of the middle so that mirroring changes nothing."""
    middle = 0.5 * (low_mm + high_mm)
    even = int(np.ceil(0.5 * (high_mm - low_mm) / cell_mm)) + MARGIN_CELLS
    inner = cell_mm * np.arange(min(even, max(1, int(half_hoop_mm / cell_mm))) + 1)
    left_mm = half_hoop_mm - inner[-1]
    if left_mm < 0.5 * cell_mm:
        inner[-1] = half_hoop_mm
        half = inner
    else:
        count = 1
        while cell_mm * (GROWTH ** (count + 1) - GROWTH) / (GROWTH - 1) < left_mm:
            count += 1
        steps = GROWTH ** np.arange(1, count + 1)
        half = np.concatenate([inner, inner[-1] + left_mm * np.cumsum(steps) / steps.sum()])
        half[-1] = half_hoop_mm
    return np.concatenate([middle - half[:0:-1], middle + half])


def nested_dissection(rows: int, cols: int) -> Ints:
    """Order of the nodes in which a factorised grid fills in little: halves first, their border last.

    Source: George, SIAM J. Numer. Anal. 10 (1973) 345-363.
    """
    order: list[NDArray[np.int64]] = []

    def cut(top: int, bottom: int, left: int, right: int) -> None:
        height, width = bottom - top, right - left
        if height * width <= 24 or min(height, width) <= 2:
            block = np.arange(top, bottom)[:, None] * cols + np.arange(left, right)
            order.append((block if height > width else block.T).ravel())
        elif height >= width:
            middle = (top + bottom) // 2
            cut(top, middle, left, right)
            cut(middle + 1, bottom, left, right)
            order.append(middle * cols + np.arange(left, right))
        else:
            middle = (left + right) // 2
            cut(top, bottom, left, middle)
            cut(top, bottom, middle + 1, right)
            order.append(np.arange(top, bottom) * cols + middle)

    cut(0, rows, 0, cols)
    return np.concatenate(order).astype(np.int64)
