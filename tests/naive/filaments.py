"""Slow, plain twins of the texture of filaments."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from naive.grain import lattice, smooth


def round_noise(x: float, y: float, cells: tuple[int, int], word: int) -> float:
    """Noise at shares x around and y along a texture that repeats both ways."""
    around, along = x * cells[0], y * cells[1]
    i, j = math.floor(around), math.floor(along)
    u, w = smooth(around - i), smooth(along - j)
    corner = [[lattice((i + a) % cells[0], (j + b) % cells[1], word) for a in (0, 1)] for b in (0, 1)]
    rows = [low + (high - low) * u for low, high in corner]
    return 2 * (rows[0] + (rows[1] - rows[0]) * w) - 1


def highest_filament(x: float, y: float, c: Any) -> float:
    """How light the filament is that lies highest at a place of the texture."""
    lying = [(-math.inf, -c.ROUND * c.ROUND_MEAN)]
    for k in range(math.floor(x * c.SIDE_BY_SIDE) - 3, math.floor(x * c.SIDE_BY_SIDE) + 4):
        name = k % c.SIDE_BY_SIDE

        def along(stretches: int, word: int, name: int = name) -> float:
            return round_noise(name / c.SIDE_BY_SIDE, y, (c.SIDE_BY_SIDE, stretches), c.WORD + word)

        astray = lattice(name, 0, c.WORD + 31) < c.ASTRAY_SHARE
        aside = (c.ASTRAY_ROOM if astray else c.WANDER_ROOM) * along(c.WANDER_STRETCHES, 77)
        round_ = 1 - ((x * c.SIDE_BY_SIDE - k - 0.5 - aside) / c.HALF_FILAMENT) ** 2
        if round_ > 0:
            top = math.sqrt(round_) + c.LIES_HIGHER * (along(c.WANDER_STRETCHES, 59) + astray)
            light = c.ROUND * (round_ - c.ROUND_MEAN) + c.OWN_TONE * along(c.TONE_STRETCHES, 23)
            lying.append((top, light))
    return max(lying)[1]


def filaments(row: int, col: int, sub_px_per_mm: float, c: Any) -> NDArray[np.float64]:
    """Streak, hair and stray fibre of one sample of the texture, a Gaussian's mean across the thread."""

    def sharp(k: int) -> list[float]:
        x = k % c.COLS / c.COLS
        others = [
            round_noise(x, row / c.ROWS, *by)
            for by in (
                (c.STREAK_CELLS, c.WORD),
                (c.BUNDLE_CELLS, c.WORD + 101),
                (c.FUZZ_CELLS, c.WORD + 151),
            )
        ]
        streak = c.FINE_SHARE * others[0] + c.BUNDLE_SHARE * others[1]
        return [streak, highest_filament(x, row / c.ROWS, c), others[2]]

    sigma = c.COLS / math.pi / (c.USUAL_HALF_WIDTH_MM * sub_px_per_mm / 2) / math.sqrt(12)
    away = np.arange(-int(4 * sigma + 0.5), int(4 * sigma + 0.5) + 1)
    weights = np.exp(-(away**2) / (2 * sigma**2))
    return np.asarray(weights / weights.sum() @ np.array([sharp(col + k) for k in away.tolist()]))


def mean_glint(texture: NDArray[np.float64], sparkle: float, constants: Any) -> float:
    """Mean of how filaments `texture (rows, cols, 2)` glint, over all places on a ply."""
    c = constants
    crowns = [c.CROWN * (1 - 3 * ply**2) for ply in (np.arange(50) + 0.5) / 50]
    streak, hair = texture[..., 0], texture[..., 1]
    bundles = 0.7 * (hair + c.BUNDLE_GLINT * sparkle * streak)
    lying = [np.maximum(bundles + crown * (1 + streak), 0.7 * c.LEAST_GLINT) for crown in crowns]
    shine = 1 + np.array(lying)
    return float(np.mean((1 - sparkle) * shine + sparkle * shine**3))
