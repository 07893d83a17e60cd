"""A soluble film laid over the cloth: clear, crinkled, and glossy where a facet of it mirrors the lamp."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.compiled import njit
from render.draw.grain import noise2

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Light

CLEAR = 0.93  # light of the cloth that it lets through (estimate)
VEIL = 0.022  # white of the sky that it mirrors everywhere (estimate)
# It lies in facets between creases, of two sizes: their number a mm, and how high they stand, mm (estimates).
COARSE, COARSE_MM, FINE, FINE_MM = 0.17, 0.62, 0.62, 0.20
BLUNT = 0.04  # of its noise, over which a crease is round
STEP_MM = 0.08  # over which its slope is measured
# A facet so steep, facing the lamp, mirrors it; one that is off by `WIDE` 60 % of it (estimates).
MIRROR, WIDE, GLOSS = 0.297, 0.08, 0.40
CREASED, CREASE = 9.0, 0.055  # how narrow a crease is, and how bright its edge


def mirrors(light: Light) -> NDArray[np.float64]:
    """How film mirrors the key lamp (3,): how its facets that do so rise to the right and downwards, and how
    much of the lamp they show; none where no lamp is."""
    if not light.lamps:
        return np.zeros(3)
    azimuth = np.deg2rad(light.lamps[0].azimuth_deg)
    return np.array([-MIRROR * np.cos(azimuth), -MIRROR * np.sin(azimuth), GLOSS])


@njit(cache=True, nogil=True)
def film_over(
    light: NDArray[np.float32],
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    seed: int,
    mirrors: NDArray[np.float64],
) -> NDArray[np.float32]:
    """Light of the cloth (rows, cols, 3) through the film, at columns `x` and rows `y` in mm; `mirrors` is
    how it mirrors the lamp."""
    out = np.empty_like(light)
    for r in range(light.shape[0]):
        for c in range(light.shape[1]):
            level, crease = crinkle(x[c], y[r], seed)
            right, _ = crinkle(x[c] + STEP_MM, y[r], seed)
            down, _ = crinkle(x[c], y[r] + STEP_MM, seed)
            across, along = (right - level) / STEP_MM - mirrors[0], (down - level) / STEP_MM - mirrors[1]
            gloss = mirrors[2] * np.exp(-0.5 * (across * across + along * along) / (WIDE * WIDE))
            white = VEIL + gloss + CREASE * crease
            for channel in range(3):
                out[r, c, channel] = light[r, c, channel] * CLEAR + white
    return out


@njit(cache=True, nogil=True)
def crinkle(x: float, y: float, seed: int) -> tuple[float, float]:
    """Height of the film, mm, and how near a place lies to a crease, 0 to 1."""
    bend = 0.6 * noise2(x * 0.11, y * 0.11, seed + 5)
    coarse = np.hypot(noise2(x * COARSE + bend, y * COARSE * 0.8 - bend, seed + 3), BLUNT)
    fine = np.hypot(noise2(x * FINE + bend, y * FINE, seed + 13), BLUNT)
    crease = max(1.0 - CREASED * coarse, 0.0) + 0.6 * max(1.0 - CREASED * fine, 0.0)
    return COARSE_MM * coarse + FINE_MM * fine, min(crease, 1.0)
