"""Push: stitches press the cloth outwards across their own direction."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import scipy.sparse as sp
from numba import njit

from render.sew.membrane import eigenstress_matrix
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
    node: Ints, fraction: Floats, cols: int, samples: int, direction: Floats, length: Floats, out: Floats
) -> None:
    """Add each stitch's length to nodes (N, 3), times xx, yy, xy of the square of its normal.

    `node (S * samples,)` and `fraction` say where points along the stitches lie.
    """
    for s in range(len(length)):
        mx, my = -direction[s, 1], direction[s, 0]
        share = length[s] / samples
        for p in range(s * samples, (s + 1) * samples):
            n, a, b = node[p], fraction[p, 0], fraction[p, 1]
            for k in range(4):
                w = share * (a if k % 2 else 1 - a) * (b if k // 2 else 1 - b)
                at = n + k % 2 + cols * (k // 2)
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
    deal_out(places.node, places.fraction, len(grid.x_mm), SAMPLES, direction, length, out)
    return out


def push_matrix(grid: Grid) -> sp.csr_matrix:
    """Nodal forces (2 N,) for a stress of its own at the nodes (3 N,), even within a cell."""
    mesh = grid.mesh
    cells, nodes = len(mesh.elements), len(mesh.nodes_mm)
    mean = sp.coo_matrix(
        (np.full(4 * cells, 0.25), (np.repeat(np.arange(cells), 4), mesh.elements.ravel())), (cells, nodes)
    )
    return (eigenstress_matrix(mesh) @ sp.kron(mean, sp.eye(3))).tocsr()


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
