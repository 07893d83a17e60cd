"""Which stitch lies on top where, by the same stacking and rasterising that make the picture."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import numpy as np

from render.draw.frames import strand_boxes
from render.draw.layers import TILE_PX
from render.draw.pixel_strands import to_pixels
from render.draw.raster import rasterise
from render.draw.stack import stack_strands
from render.draw.strands import strands_of
from render.model import CLOTH, Cover

if TYPE_CHECKING:
    from render.model import Job, Sewn, Thread, Window


def draw_cover(sewn: Sewn, *, threads: tuple[Thread, ...], job: Job, window: Window) -> Cover:
    """The topmost stitch at the middle of each pixel of the window.

    Pieces of appliqué and foam do not raise the stitches here, and every thread is as wide as it
    lies on cloth: what closes only because threads spread would open on another machine.
    """
    strands = strands_of(sewn, threads, job, pressed=False)
    stacked = stack_strands(strands, press=False)
    pixel_strands = to_pixels(strands, stacked, window.centre_mm, window.px_per_mm)
    boxes = strand_boxes(pixel_strands, window, 1)
    of_strand = np.append(strands.stitch, CLOTH)
    dragged = strands.stitch < 0
    stitch, loose = (np.empty((window.rows, window.cols), np.int32) for _ in range(2))

    def fill(tile: tuple[int, int]) -> None:
        top, left = tile
        place: tuple[slice, slice] = np.s_[top : top + 2 * TILE_PX, left : left + 2 * TILE_PX]
        high, wide = stitch[place].shape
        hit = (boxes[:, 0] < left + wide) & (boxes[:, 2] > left) & (boxes[:, 1] < top + high)
        hit &= boxes[:, 3] > top
        sewn, free = (
            rasterise(
                pixel_strands, np.flatnonzero(some), (top, left, high, wide), stitch.shape, askew_px=0.0
            )
            for some in (hit & ~dragged, hit & dragged)
        )
        stitch[place] = of_strand[sewn.strand]
        over = (free.strand >= 0) & (free.height_mm > sewn.height_mm)
        loose[place] = np.where(over, -2 - of_strand[free.strand], -1)

    step = 2 * TILE_PX
    tiles = [(top, left) for top in range(0, window.rows, step) for left in range(0, window.cols, step)]
    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        list(pool.map(fill, tiles))
    return Cover(stitch, loose, window)
