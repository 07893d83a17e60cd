"""Turn and mirror points about the middle of a design."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.errors import UsageError

if TYPE_CHECKING:
    from render.model import Floats

PER_MM = 2.0**20  # on this grid (a millionth of a millimetre) sums and signs are exact in float64


def on_grid(xy_mm: Floats) -> Floats:
    """Points (N, 2) in mm on a binary grid, so that moves and quarter turns round nothing."""
    return np.round(xy_mm * PER_MM) / PER_MM


def turned(xy_mm: Floats, middle_mm: Floats, degrees: float, *, mirror: bool = False) -> Floats:
    """Points (N, 2) mirrored left to right, then turned clockwise as seen (y runs down).

    Quarter turns of points on the grid are exact: only signs and axes change. Raises UsageError.
    """
    if not np.isfinite(degrees):
        raise UsageError(f"the design cannot be rotated by {degrees:g} degrees: give a number")
    x, y = (xy_mm - middle_mm).T
    if mirror:
        x = -x
    quarter, rest = divmod(degrees % 360.0, 90.0)
    if rest:
        cosine, sine = np.cos(np.deg2rad(rest)), np.sin(np.deg2rad(rest))
        x, y = on_grid(x * cosine - y * sine), on_grid(x * sine + y * cosine)
    for _ in range(int(quarter)):
        x, y = -y, x
    return np.stack([x, y], 1) + middle_mm
