"""The layers of a whole window, tile by tile on all cores."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any

import numpy as np

from render.draw.frames import tiles_of
from render.draw.layers import TILE_PX, bed_part, light_part, prepare, raster_among, strands_in
from render.model import Layers

if TYPE_CHECKING:
    from collections.abc import Callable

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
    tops = range(0, rows, tile_px)
    # Told for a row of tiles at a time: to ask every strand for every tile would take long.
    bands = [np.flatnonzero(strands_in(drawing, (top, 0, min(tile_px, rows - top), cols))) for top in tops]
    tiles = tiles_of(rows, cols, tile_px)

    def draw_tile(tile: Part) -> None:
        buffers = raster_among(drawing, tile, bands[tile[0] // tile_px])
        take(tile, light_part(drawing, tile, buffers, bed_part(drawing, tile, buffers)))

    with ThreadPoolExecutor(workers or os.cpu_count() or 1) as pool:
        for done, _ in enumerate(pool.map(draw_tile, tiles), 1):
            if progress is not None:
                progress(done / len(tiles))
