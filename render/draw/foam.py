"""Foam under satin: how high it stands."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.draw.across import CELL_MM

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats

FOAM_LEFT = 0.8  # of its height that foam has left under the middle of a satin (estimate)
ROUND = 3.2  # exponent of the curve that it has across, 2 being a parabola (estimate)


def foam_under(start_mm: Floats, end_mm: Floats, shape: tuple[int, int]) -> NDArray[np.float32]:
    """How high foam stands under a satin's stitches, of its own height: the needle cuts it off at their
    ends, and the thread presses it round."""
    from scipy.ndimage import gaussian_filter, grey_closing

    high = np.zeros(shape, np.float32)
    for share in np.linspace(0.0, 1.0, 97)[1:-1]:
        at = np.rint((start_mm + (end_mm - start_mm) * share) / CELL_MM).astype(int)
        place = at[:, 1] + shape[0] // 2, at[:, 0] + shape[1] // 2
        np.maximum.at(high, place, np.float32(FOAM_LEFT * (1.0 - abs(2.0 * share - 1.0) ** ROUND)))
    return np.asarray(gaussian_filter(grey_closing(high, 5), 1.0), np.float32)
