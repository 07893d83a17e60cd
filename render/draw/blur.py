"""A map spread by a Gaussian both ways."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart
from render.compiled import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray


def blurred(values: NDArray[np.float32], deviation: float, *, mirrored: bool = False) -> NDArray[np.float32]:
    """Values (rows, cols) spread by so many places; beyond the edge is nothing, or the same `mirrored`."""
    shares, far = shares_of(deviation), int(np.ceil(4.0 * deviation))
    if not mirrored:
        out = np.empty_like(values)
        blur(values, shares, out)
        return out
    around = np.pad(values, far, "symmetric")
    out = np.empty_like(around)
    blur(around, shares, out)
    return np.ascontiguousarray(out[far:-far, far:-far])


def shares_of(deviation: float) -> NDArray[np.float32]:
    """Those of a Gaussian, of a place itself, of those next to it to either side, and so on."""
    share = np.exp(-0.5 * (np.arange(np.ceil(4.0 * deviation) + 1.0) / deviation) ** 2)
    return np.asarray(share / (share[0] + 2.0 * share[1:].sum()), np.float32)


@njit(cache=True, nogil=True, error_model="numpy")
def blur(values: NDArray[np.float32], shares: NDArray[np.float32], out: NDArray[np.float32]) -> None:
    """Fill `out` with values (rows, cols) spread both ways by `shares`; beyond the edge is nothing."""
    rows, cols = values.shape
    far = len(shares) - 1
    line, none = np.zeros(cols + 2 * far, np.float32), np.zeros(cols, np.float32)
    for r in range(rows):
        own = line[far : far + cols]
        own[:] = 0.0
        add_both(values[r], none, shares[0], own)
        for m in range(1, far + 1):
            above, below = values[max(r - m, 0)], values[min(r + m, rows - 1)]
            add_both(above if r >= m else none, below if r + m < rows else none, shares[m], own)
        out[r] = 0.0
        add_both(own, none, shares[0], out[r])
        for m in range(1, far + 1):
            add_both(line[far - m :], line[far + m :], shares[m], out[r])


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def add_both(
    one: NDArray[np.float32], other: NDArray[np.float32], share: Any, out: NDArray[np.float32]
) -> None:
    """Add a share of two rows."""
    for c in range(len(out)):
        out[c] += (one[c] + other[c]) * share
