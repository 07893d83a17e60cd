"""Push: stitches press the cloth outwards across their own direction."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.compiled import njit
from render.sew.stitches import locate

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.sew.grid import Grid

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

THREAD_WIDTH_MM = 0.36  # estimate: a 40 wt thread laid flat
SAMPLES = 4  # points at which a stitch's length is dealt out


@njit(cache=True)
def deal_out(
    node: Ints, weights: Floats, cols: int, samples: int, direction: Floats, length: Floats, out: Floats
) -> None:
    """Add each stitch's length to nodes (N, 3), times xx, yy, xy of the square of its normal.

    `node (S * samples,)` and `weights` say where points along the stitches lie.
    """
    for s in range(len(length)):
        mx, my = -direction[s, 1], direction[s, 0]
        share = length[s] / samples
        for p in range(s * samples, (s + 1) * samples):
            for k in range(4):
                w = share * weights[p, 0, k % 2] * weights[p, 1, k // 2]
                at = node[p] + k % 2 + cols * (k // 2)
                out[at, 0] += w * mx * mx
                out[at, 1] += w * my * my
                out[at, 2] += w * mx * my


def laid_lengths(grid: Grid, ends_mm: Floats, direction: Floats) -> Floats:
    """Thread by direction (N, 3), mm, that stitches with ends (S, 2, 2) lay about each node."""
    run = ends_mm[:, 1] - ends_mm[:, 0]
    share = ((np.arange(SAMPLES) + 0.5) / SAMPLES)[None, :, None]
    places = locate(grid, (ends_mm[:, :1] + share * run[:, None]).reshape(-1, 2))
    out = np.zeros((len(grid.x_mm) * len(grid.y_mm), 3))
    length = np.hypot(run[:, 0], run[:, 1])
    deal_out(places.node, places.weights, len(grid.x_mm), SAMPLES, direction, length, out)
    return out


@njit(cache=True)
def push_forces(stress: Floats, x_mm: Floats, y_mm: Floats) -> Floats:
    """Nodal forces (N, 2) of a stress of its own at the nodes (N, 3) N/mm, even within a cell.

    A positive stress is a pull: the cell would shrink.
    """
    cols = len(x_mm)
    out = np.zeros((len(stress), 2))
    for row in range(len(y_mm) - 1):
        for col in range(cols - 1):
            n = row * cols + col
            half_x, half_y = 0.5 * (x_mm[col + 1] - x_mm[col]), 0.5 * (y_mm[row + 1] - y_mm[row])
            mean = 0.25 * (stress[n] + stress[n + 1] + stress[n + cols] + stress[n + cols + 1])
            for k in range(4):
                at = n + k % 2 + cols * (k // 2)
                along = half_y if k % 2 == 0 else -half_y
                down = half_x if k // 2 == 0 else -half_x
                out[at, 0] += mean[0] * along + mean[2] * down
                out[at, 1] += mean[2] * along + mean[1] * down
    return out


def levelling(laid_mm: Floats, area_mm2: Floats) -> Floats:
    """Share (N,) of its push that thread keeps among the thread (N, 3) laid about the nodes.

    Where threads already cover the cloth more of them find less cloth to press on.
    """
    length = laid_mm[:, 0] + laid_mm[:, 1]
    cover = np.maximum(length * THREAD_WIDTH_MM / area_mm2, 1e-12)
    return -np.expm1(-cover) / cover


def push_stress(laid_mm: Floats, area_mm2: Floats, outward_n: float) -> Floats:
    """Stress (N, 3) in N/mm of threads that each press outwards with `outward_n` along their length."""
    return -outward_n * (laid_mm / area_mm2[:, None]) * levelling(laid_mm, area_mm2)[:, None]
