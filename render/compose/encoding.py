"""Linear light as the 256 levels of sRGB, highlights rolled off."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
from numba import njit

from render.colour import to_linear, to_srgb

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Light up to here is shown as it is; from here highlights approach white without clipping.
SHOULDER_LINEAR = 0.75
# The first guess of a level is looked up in steps of light so fine that no two levels share one:
# sRGB climbs at most 255 x 12.92 levels a unit (IEC 61966-2-1).
STEPS, BRIGHTEST = 4096, 2.0


def encode(linear: NDArray[Any]) -> NDArray[np.uint8]:
    """The nearest sRGB level of linear light of any shape, white = 1, after the shoulder."""
    flat = np.ascontiguousarray(linear, np.float32).ravel()
    out = np.empty(len(flat), np.uint8)
    levels(flat, *_tables(), out)
    return out.reshape(linear.shape)


def shoulder(linear: NDArray[Any]) -> NDArray[np.float64]:
    """Roll highlights off: identity up to 0.75, then an exponential approach to 1."""
    room = 1.0 - SHOULDER_LINEAR
    over = np.maximum(linear - SHOULDER_LINEAR, 0.0)
    bright = SHOULDER_LINEAR + room * (1.0 - np.exp(-over / room))
    return np.asarray(np.where(linear <= SHOULDER_LINEAR, np.maximum(linear, 0.0), bright))


@cache
def _tables() -> tuple[NDArray[np.uint8], NDArray[np.float32]]:
    """The level at the low end of each step of light, and the light at which each level begins."""
    shown = to_linear((np.arange(257) - 0.5) / 255.0)
    room = 1.0 - SHOULDER_LINEAR
    over = np.minimum(np.maximum(shown - SHOULDER_LINEAR, 0.0) / room, 1.0 - 1e-12)
    begins = np.where(shown <= SHOULDER_LINEAR, shown, SHOULDER_LINEAR - room * np.log1p(-over))
    begins[0], begins[256] = -np.inf, np.inf
    low = np.arange(int(BRIGHTEST * STEPS) + 1) / STEPS
    guess = np.rint(to_srgb(shoulder(low)) * 255.0).astype(np.uint8)
    return guess, begins.astype(np.float32)


@njit(cache=True, nogil=True)
def levels(
    linear: NDArray[np.float32], guess: NDArray[np.uint8], begins: NDArray[np.float32], out: NDArray[np.uint8]
) -> None:
    """Fill `out` with levels; `guess` and `begins` are those of `_tables`."""
    brightest = np.float32(BRIGHTEST)
    for i in range(len(linear)):
        light = min(max(linear[i], np.float32(0.0)), brightest)
        level = np.int64(guess[int(light * np.float32(STEPS))])
        out[i] = level + (light >= begins[level + 1])
