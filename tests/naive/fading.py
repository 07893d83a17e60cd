"""Slow, plain twin of what lies between two pictures."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def between(
    one: NDArray[np.uint16], other: NDArray[np.uint16], shares: NDArray[np.int32], tile_px: int, edge_px: int
) -> NDArray[np.uint8]:
    """Levels of two pictures in steps of 1/128 level, mixed by each tile's share of 256, rounded half up."""
    rows, cols = one.shape[:2]
    row, col = ((np.arange(side) + edge_px) // tile_px for side in (rows, cols))
    share = shares[np.ix_(row, col)][..., None] / 256.0
    mixed = one / 128.0 + (other / 128.0 - one / 128.0) * share
    return np.asarray(np.floor(mixed + 0.5), np.uint8)
