"""Embroidery as a sheet of its own: laid thread that will not be pressed together at will."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.sew.push import THREAD_WIDTH_MM

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.sew.grid import Grid

    Floats = NDArray[np.float64]

# Estimate: along itself a thread of 40 wt resists with so much for a strain of one once it is laid. Pulled
# straight it would with some 130 N to 280 N (from memory: 5 to 10 N/tex for polyester filament, tex 26.7);
# laid in short bows between needle holes it gives ten times as easily and more.
ALONG_N = 10.0
ACROSS_SHARE = 0.3  # estimate: side by side, where threads cover the cloth, they resist less


def thread_stiffness(grid: Grid, laid_mm: Floats, area_mm2: Floats) -> Floats:
    """Stiffness (E, 3, 3), N/mm, of the thread in each cell; `laid_mm (N, 3)` as `laid_lengths` has it.

    Threads of one direction d, so many mm of them on a square mm, resist with that times `ALONG_N` in a
    strain along d; mixed ones count as two such sets, along the main axes of all their directions.
    """
    corners = grid.mesh.elements
    across_xx, across_yy, across_xy = (laid_mm / area_mm2[:, None])[corners].mean(1).T
    # Of the threads, where `laid_mm` is of their normals.
    xx, yy, xy = across_yy, across_xx, -across_xy
    mean, apart = 0.5 * (xx + yy), np.hypot(0.5 * (xx - yy), xy)
    angle = 0.5 * np.arctan2(2 * xy, xx - yy)
    packed = np.minimum((xx + yy) * THREAD_WIDTH_MM, 1.0)
    total = np.zeros((len(corners), 3, 3))
    for much, turn in ((mean + apart, 0.0), (mean - apart, np.pi / 2)):
        for share, aside in ((1.0, 0.0), (ACROSS_SHARE * packed, np.pi / 2)):
            c, s = np.cos(angle + turn + aside), np.sin(angle + turn + aside)
            strain = np.stack([c * c, s * s, c * s], 1)
            total += (ALONG_N * share * much)[:, None, None] * strain[:, :, None] * strain[:, None, :]
    return total
