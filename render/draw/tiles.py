"""The layers of a whole window, part by part on all cores."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any

import numpy as np

from render.compiled import njit
from render.draw.frames import parts_of, with_halo
from render.draw.layers import bed_part, light_part, prepare, raster_these
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

# A part has at most so many rows and, where there are enough of them for each worker, the second number of
# columns, else the first. Loops run along rows, and what lies around a part is drawn as well: wide parts take
# 0.9 of the time of square ones, but more memory while they are drawn.
HIGH_PX, WIDE_PX, EACH = 512, (512, 2048), 8


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
    """Draw the window; `how` is that of `draw_parts`.

    `twist` 1 is Z, the usual needle thread; -1 is S.
    """
    drawing = prepare(
        strands, stacked, ground, threads=threads, lobes=lobes, light=light, window=window, twist=twist
    )
    shape = window.rows, window.cols
    thread_linear, cloth_linear = (np.empty((*shape, 3), np.float32) for _ in range(2))
    cloth_share, covered = (np.empty(shape, np.float32) for _ in range(2))

    def take(part: Part, drawn: Layers) -> None:
        top, left, high, wide = part
        place = (slice(top, top + high), slice(left, left + wide))
        thread_linear[place], cloth_linear[place] = drawn.thread_linear, drawn.cloth_linear
        cloth_share[place], covered[place] = drawn.cloth_share, drawn.covered

    draw_parts(drawing, take, **how)
    return Layers(thread_linear, cloth_linear, cloth_share, covered)


def draw_parts(
    drawing: Drawing,
    take: Take,
    *,
    high_px: int = HIGH_PX,
    wide_px: tuple[int, int] = WIDE_PX,
    workers: int | None = None,
    progress: Callable[[float], None] | None = None,
) -> None:
    """Draw the window part by part and let each be taken, by any worker and in any order.

    How high and wide parts are, see `HIGH_PX`, and `workers` change the speed, never a byte of the result.
    """
    workers = workers or os.cpu_count() or 1
    parts = parts_of(drawing.window.rows, drawing.window.cols, high_px, wide_px, EACH * workers)
    chosen = strands_by_part(drawing, parts)

    def draw_part(part: Part, own: NDArray[np.int64]) -> None:
        buffers = raster_these(drawing, part, own)
        take(part, light_part(drawing, part, buffers, bed_part(drawing, part, buffers)))

    with ThreadPoolExecutor(workers) as pool:
        for done, _ in enumerate(pool.map(draw_part, parts, chosen), 1):
            if progress is not None:
                progress(done / len(parts))


def strands_by_part(drawing: Drawing, parts: list[Part]) -> list[NDArray[np.int64]]:
    """Which strands may show in each part or its halo, as `strands_in` tells of one: to ask every strand for
    every part would take long. Parts are rows and columns of a grid, row by row."""
    rects = [with_halo(part, drawing.halo_px, drawing.shading.supersample) for part in parts]
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
