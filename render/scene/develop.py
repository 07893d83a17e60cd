"""From light on the sensor to sRGB: darker corners and sides, highlights rolled off, a little grain,
sharpened."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageFilter

from render.colour import to_srgb
from render.compiled import njit
from render.compose.encoding import shoulder

if TYPE_CHECKING:
    from numpy.typing import NDArray

GRAIN = 0.006  # of a sensor at a low setting (estimate)
STEPS, BRIGHTEST = 8192, 4.0
# What lens and sensor soften cameras sharpen again: so much of what differs within so many pixels (by eye).
SHARPEN_PERCENT, SHARPEN_PX = 80, 0.8
SOLID = 255


@cache
def tone_curve(exposure: float = 1.0) -> NDArray[np.float32]:
    """sRGB in [0, 1] of light after the shoulder, at even steps up to `BRIGHTEST`; of a white card so much is
    taken for white."""
    return np.asarray(to_srgb(shoulder(exposure * np.linspace(0.0, BRIGHTEST, STEPS + 1))), np.float32)


def grain_of(rng: np.random.Generator, rows: int, cols: int) -> NDArray[np.float32]:
    """Noise (rows, cols, 3) of deviation 1, of which the channels share half: each pixel of a sensor counts
    by itself, and their colours are worked out together."""
    noise = rng.standard_normal((rows, cols, 4), np.float32)
    return np.asarray((noise[..., :3] + noise[..., 3:]) * np.float32(0.5**0.5))


@njit(cache=True, nogil=True)
def develop(
    light: NDArray[np.float32],
    first: int,
    alpha: int,
    corners: float,
    away: NDArray[np.float64],
    place: NDArray[np.int64],
    noise: NDArray[np.float32],
    curve: NDArray[np.float32],
    grain: float,
    out: NDArray[np.uint8],
) -> None:
    """Rows of a picture `out (rows, cols, 3 or 4)` from channels `first` and on of `light (rows, cols, C)`.

    `noise (rows, cols, 3)` is the grain. `alpha` is the channel that says what is solid, -1 for none: then
    corners are darker by the share `corners`, and what lies half the picture's width to the right or down by
    the shares `away (2,)`. Exposed is for where it is brightest, that far to the other side. `place`: number
    of the first row, rows and columns of the whole picture.
    """
    rows, cols = noise.shape[:2]
    most = np.float32(len(curve) - 1.001)
    scale, per_level, half = np.float32((len(curve) - 1) / BRIGHTEST), np.float32(255.0), np.float32(0.5)
    nothing = np.float32(0.0)
    high, wide = place[1], place[2]
    lost = np.hypot(away[0], away[1])
    for r in range(rows):
        y = place[0] + r + 0.5 - high / 2
        for c in range(cols):
            if alpha >= 0:
                solid = min(max(light[r, c, alpha], np.float32(0.0)), np.float32(1.0))
                out[r, c, 3] = np.uint8(np.rint(solid * np.float32(255.0)))
                gain = 1.0 / max(solid, np.float32(1e-3))
            else:
                x = c + 0.5 - wide / 2
                far = (x * x + y * y) / ((high * high + wide * wide) / 4)
                gain = (1.0 - corners * far * far) * (1.0 - lost - (away[0] * x + away[1] * y) / (wide / 2))
            bright = np.float32(gain) * scale
            for j in range(3):
                at = min(max(light[r, c, first + j] * bright, nothing), most)
                k = np.int32(at)
                level = curve[k] + (at - np.float32(k)) * (curve[k + 1] - curve[k])
                level += np.float32(grain) * noise[r, c, j]
                level = min(max(level * per_level + half, nothing), per_level)
                out[r, c, j] = np.uint8(level)


def sharpened(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """A picture (rows, cols, 3 or 4) as cameras hand it out; a cut-out's edges stay as they are."""
    plain = Image.fromarray(np.ascontiguousarray(pixels[..., :3]))
    sharp = plain.filter(ImageFilter.UnsharpMask(SHARPEN_PX, SHARPEN_PERCENT, threshold=0))
    if pixels.shape[2] == 3:
        return np.asarray(sharp)
    # Past an edge there is no colour to compare with.
    alpha = Image.fromarray(np.ascontiguousarray(pixels[..., 3]))
    inside = alpha.filter(ImageFilter.MinFilter(5)).point(lambda level: SOLID * (level == SOLID))
    return np.dstack([np.asarray(Image.composite(sharp, plain, inside)), pixels[..., 3]])
