"""The layers of a whole window, tile by tile on all cores."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any

import numpy as np
from numba import njit

from render.draw.frames import tiles_of, with_halo
from render.draw.layers import TILE_PX, bed_part, light_part, prepare, raster_these
from render.model import Layers

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from render.draw.ground import Ground
    from render.draw.layers import Drawing, Part
    from render.draw.stack import Stack
    from render.draw.strands import Strands
    from render.model import FibreLobes, Light, Thread, Window

    Take = Callable[[Part, Layers], None]


def draw_layers(
    strands: Strands,
    stacked: Stack,
    ground: Ground,
    *,
    threads: tuple[Thread, ...],
    lobes: dict[str, FibreLobes],
    light: Light,
    window: Window,
    twist: float = 1.0,
    **how: Any,
) -> Layers:
    """Draw the window; `how` is that of `draw_tiles`.

    `twist` 1 is Z, the usual needle thread; -1 is S.
    """
    drawing = prepare(
        strands, stacked, ground, threads=threads, lobes=lobes, light=light, window=window, twist=twist
    )
    shape = window.rows, window.cols
    thread_linear, cloth_linear = (np.empty((*shape, 3), np.float32) for _ in range(2))
    cloth_share, covered = (np.empty(shape, np.float32) for _ in range(2))

    def take(tile: Part, part: Layers) -> None:
        top, left, high, wide = tile
        place = (slice(top, top + high), slice(left, left + wide))
        thread_linear[place], cloth_linear[place] = part.thread_linear, part.cloth_linear
        cloth_share[place], covered[place] = part.cloth_share, part.covered

    draw_tiles(drawing, take, **how)
    return Layers(thread_linear, cloth_linear, cloth_share, covered)


def draw_tiles(
    drawing: Drawing,
    take: Take,
    *,
    tile_px: int = TILE_PX,
    workers: int | None = None,
    progress: Callable[[float], None] | None = None,
) -> None:
    """Draw the window part by part and let each be taken, by any worker and in any order.

    `tile_px` and `workers` change the speed, never a byte of the result.
    """
    rows, cols = drawing.window.rows, drawing.window.cols
    tiles = tiles_of(rows, cols, tile_px)
    chosen = strands_by_tile(drawing, tile_px)

    def draw_tile(tile: Part, own: NDArray[np.int64]) -> None:
        buffers = raster_these(drawing, tile, own)
        take(tile, light_part(drawing, tile, buffers, bed_part(drawing, tile, buffers)))

    with ThreadPoolExecutor(workers or os.cpu_count() or 1) as pool:
        for done, _ in enumerate(pool.map(draw_tile, tiles, chosen), 1):
            if progress is not None:
                progress(done / len(tiles))


def strands_by_tile(drawing: Drawing, tile_px: int) -> list[NDArray[np.int64]]:
    """Which strands may show in each tile of `tiles_of` or its halo, as `strands_in` tells of one: to ask
    every strand for every tile would take long."""
    rows, cols = drawing.window.rows, drawing.window.cols
    shading, halo = drawing.shading, drawing.halo_px
    rects = [with_halo(tile, halo, shading.supersample) for tile in tiles_of(rows, cols, tile_px)]
    down, across = (
        np.array(sorted({(rect[k], rect[k] + rect[k + 2]) for rect in rects}), np.float64) for k in (0, 1)
    )
    stops, listed = sort_in(drawing.boxes, down, across)
    return np.split(listed, stops[1:-1])


@njit(cache=True, nogil=True)
def sort_in(
    boxes: NDArray[np.float64], down: NDArray[np.float64], across: NDArray[np.float64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Which strands, by their boxes (N, 4), meet which parts of a window, between such rows (R, 2) and
    columns (C, 2): those of part k, counted row by row, are `listed[stops[k]:stops[k + 1]]` and rise."""
    stops, listed = np.zeros(len(down) * len(across) + 1, np.int64), np.empty(0, np.int64)
    for filling in range(2):
        for i in range(len(boxes)):
            left, top, right, bottom = boxes[i]
            for r in range(len(down)):
                if top >= down[r, 1] or bottom <= down[r, 0]:
                    continue
                for c in range(len(across)):
                    if left >= across[c, 1] or right <= across[c, 0]:
                        continue
                    k = r * len(across) + c
                    if filling:
                        listed[stops[k]] = i
                        stops[k] += 1
                    else:
                        stops[k + 1] += 1
        if not filling:
            stops = np.cumsum(stops)
            listed = np.empty(stops[-1], np.int64)
    # Each part's place has moved to its end.
    stops[1:] = stops[:-1].copy()
    stops[0] = 0
    return stops, listed
