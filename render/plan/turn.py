"""Turn and mirror points about the middle of a design."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from render.model import Floats


def turned(xy_mm: Floats, middle_mm: Floats, degrees: float, *, mirror: bool = False) -> Floats:
    """Points (N, 2) mirrored left to right, then turned clockwise as seen (y runs down).

    Quarter turns are exact: only signs and axes change.
    """
    x, y = (xy_mm - middle_mm).T
    if mirror:
        x = -x
    quarter, rest = divmod(degrees % 360.0, 90.0)
    if rest:
        cosine, sine = np.cos(np.deg2rad(rest)), np.sin(np.deg2rad(rest))
        x, y = x * cosine - y * sine, x * sine + y * cosine
    for _ in range(int(quarter)):
        x, y = -y, x
    return np.stack([x, y], 1) + middle_mm
