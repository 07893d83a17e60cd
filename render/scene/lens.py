"""Depth of field: each point spreads over its circle of confusion."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.compiled import njit
from render.scene.bands import in_bands

if TYPE_CHECKING:
    from numpy.typing import NDArray

SHARP_PX = 0.7  # a circle of confusion smaller than this changes nothing that shows
LEVEL_PX = 7.5  # larger circles are spread on a picture of half the size, and so on
REDUCED_VAR = 0.45  # square pixels of the reduced picture (measured on a point of light)
BAND = 48


@dataclass(frozen=True, slots=True, eq=False)
class Spreading:
    """A picture whose points are spread as they are asked for: its light (rows, cols, K), its circles of
    confusion with `reach` pixels all round, and the light of wide circles alone, spread on half the size
    (rows / 2, cols / 2, K + 1): times its share of each pixel, and the share; empty where there are none."""

    light: NDArray[np.float32]
    circle: NDArray[np.float32]
    reach: int
    wider: NDArray[np.float32]


def spreading(light: NDArray[np.float32], confusion_px: NDArray[np.float32]) -> Spreading:
    """Spread `light (rows, cols, K)` by the diameters `confusion_px (rows, cols)`.

    A pixel gathers from those whose own circle reaches it; diameters are negative behind the plane
    of focus, and such light does not spread over what is sharp before it. The light of wide circles is
    spread on reduced copies, apart from the rest, and laid where they reach.
    """
    return _level(light, confusion_px, confusion_px)


def _level(light: NDArray[np.float32], circle: NDArray[np.float32], own: NDArray[np.float32]) -> Spreading:
    """`own` is what is left of each circle, the light having been spread by reducing it."""
    widest = float(np.abs(circle).max())
    wider = np.zeros((0, 0, light.shape[2] + 1), np.float32)
    if widest > LEVEL_PX and min(circle.shape) > 16:
        rows, cols = ((side + 1) // 2 for side in circle.shape)
        half_light = np.empty((rows, cols, light.shape[2] + 1), np.float32)
        half_circle = np.empty((rows, cols), np.float32)
        in_bands(
            rows,
            lambda top: halve_rows(light, circle, top, min(top + BAND, rows), half_light, half_circle),
            BAND,
        )
        # Reducing and enlarging spreads light by itself; variances add.
        left = np.sign(half_circle) * np.sqrt(np.maximum(half_circle**2 - 16 * REDUCED_VAR, 0.5))
        half = _level(half_light, half_circle, np.asarray(left, np.float32))
        wider = _spread(half)
    reach = int(np.ceil(min(float(np.abs(own).max()), LEVEL_PX) / 2 + 1))
    most = np.float32(LEVEL_PX)
    return Spreading(light, np.pad(np.clip(own, -most, most), reach, mode="edge"), reach, wider)


def spread_rows(picture: Spreading, first: int, last: int, out: NDArray[np.float32]) -> None:
    """Rows `first` to `last` of the spread picture, into `out (rows, cols, K)`."""
    gather_light(picture.light, picture.circle, picture.reach, picture.wider, first, last, out)


def blurred(light: NDArray[np.float32], confusion_px: NDArray[np.float32]) -> NDArray[np.float32]:
    """The whole picture spread, see `spreading`."""
    return _spread(spreading(light, confusion_px))


def _spread(picture: Spreading) -> NDArray[np.float32]:
    out = np.empty_like(picture.light)

    def band(top: int) -> None:
        last = min(top + BAND, len(out))
        spread_rows(picture, top, last, out[top:last])

    in_bands(len(out), band, BAND)
    return out


@njit(cache=True, nogil=True, inline="always")
def _wide(circle: float) -> float:
    """Share of a pixel's light that is spread on the picture of half the size, eased in."""
    return min(max((abs(circle) - 0.6 * LEVEL_PX) / (0.4 * LEVEL_PX), 0.0), 1.0)


@njit(cache=True, nogil=True)
def halve_rows(
    plane: NDArray[np.float32],
    circle: NDArray[np.float32],
    first: int,
    last: int,
    out: NDArray[np.float32],
    out_circle: NDArray[np.float32],
) -> None:
    """Rows of the picture of half the size: light of wide circles alone, its share, and their circles there;
    edges count twice where a side is odd."""
    rows, cols, kinds = plane.shape
    for r in range(first, last):
        for c in range(out.shape[1]):
            out[r, c] = 0.0
            total = 0.0
            for k in range(4):
                j, i = min(2 * r + k // 2, rows - 1), min(2 * c + k % 2, cols - 1)
                share = np.float32(0.25 * _wide(circle[j, i]))
                for m in range(kinds):
                    out[r, c, m] += share * plane[j, i, m]
                out[r, c, kinds] += share
                total += share * circle[j, i]
            out_circle[r, c] = 0.5 * total / out[r, c, kinds] if out[r, c, kinds] > 0.0 else 0.0


@njit(cache=True, nogil=True)
def gather_light(
    light: NDArray[np.float32],
    circle: NDArray[np.float32],
    reach: int,
    wider: NDArray[np.float32],
    first: int,
    last: int,
    out: NDArray[np.float32],
) -> None:
    """Rows `first` to `last` of the spread picture; `circle` has `reach` pixels all round."""
    rows, cols, kinds = light.shape
    away = _away(reach)
    at_row = np.array([min(max(r, 0), rows - 1) for r in range(-reach, rows + reach)])
    at_col = np.array([min(max(c, 0), cols - 1) for c in range(-reach, cols + reach)])
    for r in range(first, last):
        for c in range(cols):
            own = abs(circle[r + reach, c + reach])
            spread = out[r - first, c]
            spread[:] = 0.0
            wide = np.float32(0.0)
            if len(wider) and _narrowest(circle, r, c, reach) >= LEVEL_PX:
                wide = np.float32(1.0)
            elif own <= SHARP_PX and _widest(circle, r, c, reach) <= SHARP_PX:
                spread[:] = light[r, c]
            else:
                total = np.float32(0.0)
                for j in range(2 * reach + 1):
                    row = at_row[r + j]
                    for k in range(2 * reach + 1):
                        there = circle[r + j, c + k]
                        share = np.float32(_wide(there)) if len(wider) else np.float32(0.0)
                        if there < 0.0:
                            there = min(-there, own)
                        radius = np.float32(0.5) * max(there, np.float32(1.0))
                        inside = radius - away[j, k]
                        if inside <= 0.0:
                            continue
                        weight = min(inside, np.float32(1.0)) / (radius * radius)
                        total += weight
                        wide += weight * share
                        weight *= np.float32(1.0) - share
                        other = light[row, at_col[c + k]]
                        for m in range(kinds):
                            spread[m] += weight * other[m]
                wide /= total
                for m in range(kinds):
                    spread[m] /= total
            if wide > 0.0:
                _add_doubled(wider, r, c, wide, spread)


@njit(cache=True, nogil=True)
def _away(reach: int) -> NDArray[np.float32]:
    """Pixels from the middle of a square, less half a one."""
    away = np.empty((2 * reach + 1, 2 * reach + 1), np.float32)
    for j in range(-reach, reach + 1):
        for k in range(-reach, reach + 1):
            away[j + reach, k + reach] = np.sqrt(float(j * j + k * k)) - 0.5
    return away


@njit(cache=True, nogil=True, inline="always")
def _add_doubled(
    wider: NDArray[np.float32], r: int, c: int, share: np.float32, out: NDArray[np.float32]
) -> None:
    """Add a share of the light of wide circles, from the picture of half the size, at pixel (r, c): linear
    between pixel centres, each by its share."""
    rows, cols, kinds = wider.shape
    y, x = max((r + 0.5) / 2 - 0.5, 0.0), max((c + 0.5) / 2 - 0.5, 0.0)
    top, left = min(int(y), rows - 1), min(int(x), cols - 1)
    low, right = min(top + 1, rows - 1), min(left + 1, cols - 1)
    b, a = np.float32(y - top), np.float32(x - left)
    one, two, three, four = (1 - a) * (1 - b), a * (1 - b), (1 - a) * b, a * b
    last = kinds - 1
    there = one * wider[top, left, last] + two * wider[top, right, last]
    there += three * wider[low, left, last] + four * wider[low, right, last]
    scale = share / max(there, np.float32(1e-6))
    for m in range(last):
        upper = one * wider[top, left, m] + two * wider[top, right, m]
        out[m] += scale * (upper + three * wider[low, left, m] + four * wider[low, right, m])


@njit(cache=True, nogil=True, inline="always")
def _narrowest(circle: NDArray[np.float32], r: int, c: int, reach: int) -> float:
    """Narrowest circle at a few places that could reach this pixel."""
    narrowest = abs(circle[r + reach, c + reach])
    for j in (0, reach, 2 * reach):
        for k in (0, reach, 2 * reach):
            narrowest = min(narrowest, abs(circle[r + j, c + k]))
    return float(narrowest)


@njit(cache=True, nogil=True, inline="always")
def _widest(circle: NDArray[np.float32], r: int, c: int, reach: int) -> float:
    """Widest circle at a few places that could reach this pixel."""
    widest = 0.0
    for j in (0, reach, 2 * reach):
        for k in (0, reach, 2 * reach):
            widest = max(widest, abs(circle[r + j, c + k]))
    return widest
