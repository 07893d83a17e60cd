"""What the stitch makers return: needle points of one kind, with what was meant by them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """Needle points `points_mm (N, 2)` of one `kind`, in sewing order.

    `row_spacing_mm` is between rows (fill) or between penetrations on one edge (satin),
    `angle_deg` the direction of the thread in [0, 180) where it is one direction, and
    `width_mm` the mean width of a column; None where there is no such thing. An underlay
    says in `serves` which kind of stitch it is made of.
    """

    kind: str
    points_mm: Points
    row_spacing_mm: float | None = None
    angle_deg: float | None = None
    width_mm: float | None = None
    serves: str | None = None


def as_points(points: Sequence[Any] | Points) -> Points:
    """Any list of pairs as an (N, 2) float array."""
    return np.asarray(points, dtype=np.float64).reshape(-1, 2)


def moved(parts: Sequence[Part], dx_mm: float, dy_mm: float) -> list[Part]:
    """The same parts somewhere else."""
    return [replace(part, points_mm=part.points_mm + (dx_mm, dy_mm)) for part in parts]
