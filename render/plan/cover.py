"""Underlay: what later stitches of the same thread cover."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from render.compiled import njit
from render.model import AREA_KINDS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats, Ints, SewnObject

CELL_MM = 0.47  # never a multiple of the files' 0.1 mm: no needle point lies on a cell's edge
SAMPLE_MM = 0.2
COVERED_SHARE = 0.6  # "over most of its length"
CLOSE_MM = 0.9  # rows further apart than this do not cover what is below (estimate)
_COVERING = (*AREA_KINDS, "e-stitch")


def mark_underlay(
    objects: tuple[SewnObject, ...], start_mm: Floats, end_mm: Floats, object_index: Ints, block: Ints
) -> tuple[SewnObject, ...]:
    """Call underlay what lies under later, close stitching of its own colour block.

    Stitching that is close itself is no underlay, however it came to lie below: a column sewn
    twice is crowded, not padded.
    """
    covering = np.array([o.kind in _COVERING and o.row_spacing_mm < CLOSE_MM for o in objects])
    if not covering.any():
        return objects
    low = np.minimum(start_mm, end_mm).min(0)
    high = np.maximum(start_mm, end_mm).max(0)
    # The middle of the design is the middle of a cell, so that turning it turns the cells.
    half = np.ceil((high - low) / (2 * CELL_MM)) + 1
    corner = (low + high) / 2 - (half + 0.5) * CELL_MM
    cols, rows = (2 * half + 1).astype(int)
    share = covered(
        start_mm - corner,
        end_mm - corner,
        object_index.astype(np.int64),
        block.astype(np.int64),
        covering,
        np.full((rows, cols), -1, np.int32),
    )
    return tuple(
        replace(o, kind="underlay", serves=o.kind)
        if share[o.index] > COVERED_SHARE and o.kind != "tie" and not covering[o.index]
        else o
        for o in objects
    )


@njit(cache=True, nogil=True)
def covered(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    index: NDArray[np.int64],
    block: NDArray[np.int64],
    covering: NDArray[np.bool_],
    last: NDArray[np.int32],
) -> NDArray[np.float64]:
    """Share of each object's length that a later covering object of its block lies over.

    Walks the stitches backwards; `last` remembers, a cell, the block whose covering
    stitches come later there (block numbers only fall, so one is enough).
    """
    objects = len(covering)
    under = np.zeros(objects)
    total = np.zeros(objects)
    high = len(start)
    while high > 0:
        low = high - 1
        while low > 0 and index[low - 1] == index[high - 1]:
            low -= 1
        thing = index[low]
        for write in range(2):
            if write == 1 and not covering[thing]:
                continue
            for i in range(low, high):
                x, y = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]
                steps = int(np.sqrt(x * x + y * y) / SAMPLE_MM) + 1
                for k in range(steps):
                    t = (k + 0.5) / steps
                    r = int((start[i, 1] + y * t) / CELL_MM)
                    c = int((start[i, 0] + x * t) / CELL_MM)
                    if write == 1:
                        last[r, c] = block[i]
                    else:
                        total[thing] += 1.0
                        if last[r, c] == block[i]:
                            under[thing] += 1.0
        high = low
    for thing in range(objects):
        under[thing] /= total[thing]
    return under
