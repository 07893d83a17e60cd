"""Places on the cloth before anything was sewn, and where they have come to since."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.compiled import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import ClothMove, Floats

ROUNDS = 6  # each brings a place nearer by a factor of the cloth's strain, a tenth at most


def moved_mm(move: ClothMove, first_mm: Floats) -> NDArray[np.float64]:
    """How far the cloth that first lay at (N, 2) has moved; beyond the grid as at its edge."""
    places = np.ascontiguousarray(first_mm, np.float64)
    out = np.empty_like(places)
    movement(move.u_mm, np.array([*move.origin_mm, move.cell_mm]), places, out)
    return out


def first_places_mm(move: ClothMove, places_mm: Floats) -> NDArray[np.float64]:
    """Where the cloth that lies at `places_mm` (N, 2) now lay before the first stitch."""
    found = np.asarray(places_mm, np.float64)
    for _ in range(ROUNDS):
        found = places_mm - moved_mm(move, found)
    return found


@njit(cache=True, nogil=True)
def movement(
    u: NDArray[np.float64],
    frame: NDArray[np.float64],
    places: NDArray[np.float64],
    out: NDArray[np.float64],
) -> None:
    """Fill `out` with `u` between its points; `frame` is the first point and the distance of points, mm."""
    rows, cols = u.shape[:2]
    for i in range(len(places)):
        c = min(max((places[i, 0] - frame[0]) / frame[2], 0.0), cols - 1.0)
        r = min(max((places[i, 1] - frame[1]) / frame[2], 0.0), rows - 1.0)
        k, h = min(int(c), cols - 2), min(int(r), rows - 2)
        p, q = c - k, r - h
        for axis in range(2):
            top = u[h, k, axis] * (1.0 - p) + u[h, k + 1, axis] * p
            low = u[h + 1, k, axis] * (1.0 - p) + u[h + 1, k + 1, axis] * p
            out[i, axis] = top * (1.0 - q) + low * q
