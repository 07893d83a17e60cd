"""A narrow cloth factorised in bands, by Cholesky's method."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.linalg import lapack

from render.compiled import njit

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import scipy.sparse as sp
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Bands = NDArray[np.float32] | Floats
    Places = NDArray[np.int32]


def in_bands(
    layers: Sequence[sp.csr_matrix],
    bond_n_per_mm: Floats,
    place: Places,
    size: int,
    *,
    single: bool,
) -> Callable[[Floats], Floats]:
    """What solves for layers (2 N, 2 N) and the bond between them, N/mm, all of it near the diagonal.

    `place (L * 2 N,)` is where each component of the displacement stands among `size`, -1 for nowhere.
    `single` precision is faster.
    """
    own = place.reshape(len(layers), -1)
    wide = max(widest(m.indptr, m.indices, part) for m, part in zip(layers, own, strict=True))
    if len(layers) == 2:
        wide = max(wide, int(np.abs(own[0] - own[1])[(own[0] >= 0) & (own[1] >= 0)].max(initial=0)) + 1)
    bands = np.zeros((size, wide), np.float32 if single else np.float64)
    solve = lapack.spbtrs if single else lapack.dpbtrs
    for matrix, part in zip(layers, own, strict=True):
        add_rows(matrix.indptr, matrix.indices, matrix.data, part, bands)
    if len(layers) == 2:
        add_springs(np.repeat(bond_n_per_mm, 2), own[0], own[1], bands)
    cholesky_in_bands(bands)

    def backwards(force: Floats) -> Floats:
        found: Floats = solve(bands.T, force, lower=1)[0]
        return found

    return backwards


@njit(cache=True)
def widest(starts: Places, cols: Places, place: Places) -> int:
    """How many bands a matrix takes: the furthest place from the diagonal, and the diagonal itself."""
    most = 0
    for row in range(len(place)):
        if place[row] >= 0:
            for k in range(starts[row], starts[row + 1]):
                if place[cols[k]] >= 0:
                    most = max(most, place[row] - place[cols[k]])
    return most + 1


@njit(cache=True)
def add_rows(starts: Places, cols: Places, values: Floats, place: Places, bands: Bands) -> None:
    """Add a sparse matrix to the bands below the diagonal; `bands[c, d]` is the entry (c + d, c)."""
    for row in range(len(place)):
        if place[row] >= 0:
            for k in range(starts[row], starts[row + 1]):
                col = place[cols[k]]
                if 0 <= col <= place[row]:
                    bands[col, place[row] - col] += values[k]


@njit(cache=True)
def add_springs(spring: Floats, one: Places, other: Places, bands: Bands) -> None:
    """Add springs (M,) between two places each, or between one and what is held."""
    for k in range(len(spring)):
        if one[k] >= 0:
            bands[one[k], 0] += spring[k]
        if other[k] >= 0:
            bands[other[k], 0] += spring[k]
        if one[k] >= 0 and other[k] >= 0:
            low, high = min(one[k], other[k]), max(one[k], other[k])
            bands[low, high - low] -= spring[k]


@njit(cache=True)
def cholesky_in_bands(bands: Bands) -> None:
    """Replace a symmetric matrix by its lower Cholesky factor; `bands[c, d]` is its entry (c + d, c).

    Golub & Van Loan, Matrix Computations (4th ed. 2013), section 4.3.5. The libraries' own is faster on
    one thread, but starts several for a matrix that one has done with sooner.
    """
    size, wide = bands.shape
    for col in range(size):
        root = np.sqrt(bands[col, 0])
        for d in range(wide):
            bands[col, d] /= root
        for k in range(1, min(wide, size - col)):
            factor = bands[col, k]
            if factor != 0:
                for d in range(wide - k):
                    bands[col + k, d] -= factor * bands[col, k + d]
