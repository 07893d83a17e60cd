"""A small piece, on cloth that lies still or is drawn together evenly, for tests of what grows."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import samples
from numpy.typing import NDArray

from render.materials.fabrics import load_fabric
from render.model import ClothMove, ClothRest, Sewn

JOB = replace(samples.JOB, fabric=load_fabric("pique"))


def piece(cut: str = "no") -> Sewn:
    """A fill, a dragged or cut thread, and a satin in another colour."""
    return samples.sewn_of(
        samples.Part(samples.fill(14, 8), "fill"),
        samples.Part(samples.satin(12, 3) + (3.0, 1.0), "satin", 1),
        cut=cut,
    )


def pulled_in(sewn: Sewn, most_mm: float, steps: int = 4) -> Sewn:
    """The same piece on cloth that is drawn to its middle, evenly as it is sewn."""
    y, x = np.mgrid[-20.0:21.0:1.0, -20.0:21.0:1.0]
    shape = -np.exp(-(x**2 + y**2) / 150.0)[..., None] * np.stack([x, y], -1) / 10.0 * most_mm
    level = np.zeros(x.shape, np.uint8)

    def move(share: float) -> ClothMove:
        return ClothMove(shape * share, level.copy(), (-20.0, -20.0), 1.0)

    last, count = move(1.0), len(sewn.start_mm)
    rests = [ClothRest(round(count * k / steps), move(k / steps)) for k in range(1, steps)]
    carried = [points + shift_at(shape, points) for points in (sewn.start_mm, sewn.end_mm)]
    return Sewn(sewn.plan, *carried, cloth=last, rests=(*rests, ClothRest(count, last)))


def shift_at(shape: NDArray[np.float64], points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    from scipy.interpolate import RegularGridInterpolator

    at = np.arange(-20.0, 21.0)
    return np.asarray(RegularGridInterpolator((at, at), shape)(points_mm[:, ::-1]))
