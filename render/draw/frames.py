"""Where parts of a window, with what may shade them, lie in the picture and in the maps of the stitching."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from render.draw.across import CELL_MM

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.layers import Drawing, Part
    from render.draw.pixel_strands import PixelStrands
    from render.draw.strands import Strands
    from render.model import Window


def tiles_of(rows: int, cols: int, side: int) -> list[Part]:
    """A window in tiles (first row, first column, rows, columns) of so many pixels a side, row by row."""
    return [
        (top, left, min(side, rows - top), min(side, cols - left))
        for top in range(0, rows, side)
        for left in range(0, cols, side)
    ]


def parts_of(rows: int, cols: int, high: int, wide: tuple[int, int], at_least: int) -> list[Part]:
    """A window in parts that are about alike, row by row, at most so `high` and so `wide`: the second, but no
    more than the first where there were too few of them else."""
    down = -(-rows // high)
    across = max(-(-cols // wide[1]), min(-(-at_least // down), -(-cols // wide[0])))
    tops, lefts = [k * rows // down for k in range(down + 1)], [k * cols // across for k in range(across + 1)]
    return [
        (top, left, below - top, right - left)
        for top, below in pairwise(tops)
        for left, right in pairwise(lefts)
    ]


def with_halo(part: Part, halo_px: int, sub: int) -> Part:
    """A part with the halo around it, in sub-pixels `sub` to a pixel."""
    top, left, high, wide = part
    around = (top - halo_px, left - halo_px, high + 2 * halo_px, wide + 2 * halo_px)
    return tuple(side * sub for side in around)  # type: ignore[return-value]


def blocks_frame(drawing: Drawing, part: Part) -> NDArray[np.float64]:
    """Where the first block of a part and its halo lies in the height map, and their step: of two by two
    sub-pixels, or of one where they are odd."""
    sub = drawing.shading.supersample
    fine = sub if sub % 2 else sub // 2
    top, left, _, _ = with_halo(part, drawing.halo_px, fine)
    return map_frame(drawing.strands, drawing.window, top, left, fine)


def inner_frame(drawing: Drawing, part: Part) -> NDArray[np.float64]:
    """Where the first block of a part itself lies in the height map, and their step."""
    frame = blocks_frame(drawing, part)
    edge = drawing.halo_px * drawing.shading.supersample // 2
    return np.array([frame[0] + edge * frame[2], frame[1] + edge * frame[2], frame[2]])


def map_frame(strands: Strands, window: Window, row: int, col: int, sub: int) -> NDArray[np.float64]:
    """x and y of a sub-pixel from the middle of the height map, and its step, in map cells."""
    step = 1.0 / (window.px_per_mm * sub * CELL_MM)
    offset = (np.array(window.centre_mm) - np.array(strands.anchor_mm)) / CELL_MM
    x = offset[0] + (col - window.cols * sub / 2 + 0.5) * step
    y = offset[1] + (row - window.rows * sub / 2 + 0.5) * step
    return np.array([x, y, step])


def strand_boxes(strands: PixelStrands, window: Window, sub: int) -> NDArray[np.float64]:
    """Left, top, right, bottom of each strand in sub-pixel columns and rows."""
    middle = np.array([window.cols * sub / 2, window.rows * sub / 2])
    reach = 1.5 * strands.half_width_px[:, None] + 1.0
    low = np.minimum(strands.start_px, strands.end_px) + middle - reach
    high = np.maximum(strands.start_px, strands.end_px) + middle + reach
    return np.concatenate([low, high], 1)
