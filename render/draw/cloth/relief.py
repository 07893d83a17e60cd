"""What relief does to light: how much of the sky a place sees, and the shadow of a lamp."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.compiled import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Plane = NDArray[np.floating[Any]]

SHADOW_STEPS, SHADOW_GROWTH, SHADOW_FIRST_MM = 13, 1.38, 0.022
SKY_DIRECTIONS, SKY_TAPS, SKY_GROWTH, SKY_FIRST_MM = 6, 7, 1.7, 0.022


def open_sky(height_mm: Plane, per_mm: tuple[float, float]) -> Plane:
    """Share of an even sky's light on the relief, [0, 1], same shape."""
    taps, reach = [], []
    for k in range(SKY_DIRECTIONS):
        angle = 2 * np.pi * (k + 0.25) / SKY_DIRECTIONS
        for t in range(SKY_TAPS):
            far = SKY_FIRST_MM * SKY_GROWTH**t
            taps.append([round(np.sin(angle) * far * per_mm[1]), round(np.cos(angle) * far * per_mm[0])])
            reach.append(far)
    return sky_share(height_mm, np.array(taps), np.array(reach), SKY_TAPS)


def sky_share(
    height: Plane, taps: NDArray[np.int64], reach: NDArray[np.float64], per_direction: int
) -> Plane:
    """Mean over directions of cos² of the horizon: the open part of a Lambert hemisphere.

    `taps (T, 2)` rows and columns away, `per_direction` in a row, at distances `reach` mm.
    """
    halo = int(np.abs(taps).max())
    out = np.empty(height.shape, np.float32)
    see_horizons(out, np.pad(height, halo, mode="wrap"), halo, taps, reach, per_direction)
    return out


@njit(cache=True, nogil=True)
def see_horizons(
    out: Plane, height: Plane, halo: int, taps: NDArray[np.int64], reach: Plane, per_direction: int
) -> None:
    """Fill `out (R, C)` from the heights with a `halo` all round."""
    rows, cols = out.shape
    directions = len(taps) // per_direction
    for r in range(rows):
        for c in range(cols):
            z = height[r + halo, c + halo]
            total = 0.0
            for d in range(directions):
                rise = 0.0
                for k in range(d * per_direction, (d + 1) * per_direction):
                    there = height[r + halo + taps[k, 0], c + halo + taps[k, 1]]
                    rise = max(rise, (there - z) / reach[k])
                total += 1.0 / (1.0 + rise * rise)
            out[r, c] = total / directions


def lamp_shadow(
    height_mm: Plane, per_mm: tuple[float, float], direction: NDArray[np.float64], size_deg: float
) -> Plane:
    """Share of a lamp that each place sees, [0, 1]; `direction` points at the lamp."""
    flat = float(np.hypot(direction[0], direction[1]))
    far = SHADOW_FIRST_MM * SHADOW_GROWTH ** np.arange(SHADOW_STEPS)
    if flat < 1e-6:
        return np.ones_like(height_mm)
    taps = np.column_stack(
        [
            np.rint(direction[1] / flat * far * per_mm[1]),
            np.rint(direction[0] / flat * far * per_mm[0]),
        ]
    ).astype(np.int64)
    climb = far * direction[2] / flat
    soft = far * np.tan(np.deg2rad(max(size_deg, 4.0) / 2)) + 0.012
    return shadow_share(height_mm, taps, climb, soft)


def shadow_share(height: Plane, taps: NDArray[np.int64], climb: Plane, soft: Plane) -> Plane:
    """Share of the lamp seen: `taps (T, 2)` towards it, where its ray has climbed `climb` mm.

    `soft` mm is how far a crest reaches from hiding nothing of the lamp to all of it.
    """
    halo = int(np.abs(taps).max())
    out = np.empty(height.shape, np.float32)
    march(out, np.pad(height, halo, mode="wrap"), halo, taps, climb, 1.0 / soft)
    return out


@njit(cache=True, nogil=True)
def march(
    out: Plane, height: Plane, halo: int, taps: NDArray[np.int64], climb: Plane, per_soft: Plane
) -> None:
    """Fill `out (R, C)` from the heights with a `halo` all round: the worst crest sets the shade."""
    rows, cols = out.shape
    for r in range(rows):
        for c in range(cols):
            z = height[r + halo, c + halo]
            hidden = 0.0
            for k in range(len(taps)):
                there = height[r + halo + taps[k, 0], c + halo + taps[k, 1]]
                hidden = max(hidden, (there - z - climb[k]) * per_soft[k] + 0.5)
            out[r, c] = 1.0 - min(hidden, 1.0)
