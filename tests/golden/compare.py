"""How far a picture is from the one kept, at its worst place."""

from __future__ import annotations

import flip_evaluator
import numpy as np
from numpy.typing import NDArray

WINDOW_PX = 16
# Identical pictures have 0 and a single lost satin stitch well over 0.05; compilers and
# libraries that round differently stay far below.
MOST = 0.03


def flip_map(ours: NDArray[np.uint8], kept: NDArray[np.uint8]) -> NDArray[np.float32]:
    """FLIP (Andersson et al. 2020) of each pixel. A cut-out is judged on white and on black."""
    assert ours.dtype == kept.dtype == np.uint8
    assert ours.shape == kept.shape, f"size or mode changed: {ours.shape}, was {kept.shape}"
    if ours.shape[2] == 3:
        return _flip(ours / 255.0, kept / 255.0)
    return np.maximum(*(_flip(_on(ours, ground), _on(kept, ground)) for ground in (0.0, 1.0)))


def worst_window(difference: NDArray[np.float32]) -> float:
    """Highest mean of any square of 16 x 16 pixels."""
    sums = np.pad(difference.astype(float), ((1, 0), (1, 0))).cumsum(0).cumsum(1)
    n = WINDOW_PX
    squares = sums[n:, n:] - sums[:-n, n:] - sums[n:, :-n] + sums[:-n, :-n]
    return float(squares.max()) / n**2


def _flip(one: NDArray[np.float64], other: NDArray[np.float64]) -> NDArray[np.float32]:
    pair = (np.ascontiguousarray(p, np.float32) for p in (one, other))
    return np.asarray(flip_evaluator.evaluate(*pair, "LDR", applyMagma=False)[0][..., 0])


def _on(cut_out: NDArray[np.uint8], ground: float) -> NDArray[np.float64]:
    share = cut_out[..., 3:] / 255.0
    return np.asarray(cut_out[..., :3] / 255.0 * share + ground * (1 - share))
