"""Which places lie inside a closed outline, by the even-odd rule."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.compiled import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats


def inside(outline_mm: Floats, points_mm: Floats) -> NDArray[np.bool_]:
    """Which points (N, 2) lie inside the outline."""
    x, y = points_mm[:, 0], points_mm[:, 1]
    odd = np.zeros(len(points_mm), bool)
    for (x0, y0), (x1, y1) in zip(outline_mm, np.roll(outline_mm, -1, axis=0), strict=True):
        spans = (y0 > y) != (y1 > y)
        with np.errstate(divide="ignore", invalid="ignore"):
            odd ^= spans & (x < (x1 - x0) * (y - y0) / (y1 - y0) + x0)
    return odd


@njit(cache=True, nogil=True)
def scan(outline: Floats, x: Floats, y: Floats) -> NDArray[np.bool_]:
    """Even-odd inside test on the grid of rising `x` (columns) and `y` (rows)."""
    out = np.zeros((len(y), len(x)), np.bool_)
    crossing = np.empty(len(outline))
    for r in range(len(y)):
        count = 0
        for k in range(len(outline)):
            x0, y0 = outline[k, 0], outline[k, 1]
            x1, y1 = outline[(k + 1) % len(outline), 0], outline[(k + 1) % len(outline), 1]
            if (y0 > y[r]) != (y1 > y[r]):
                crossing[count] = (x1 - x0) * (y[r] - y0) / (y1 - y0) + x0
                count += 1
        ordered = np.sort(crossing[:count])
        for pair in range(0, count - 1, 2):
            first = np.searchsorted(x, ordered[pair])
            last = np.searchsorted(x, ordered[pair + 1])
            out[r, first:last] = True
    return out
