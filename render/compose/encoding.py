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
    for i in range(len(linear)):
        out[i] = _level(linear[i], guess, begins)


@njit(cache=True, nogil=True, forceinline=True)
def _level(linear: Any, guess: NDArray[np.uint8], begins: NDArray[np.float32]) -> Any:
    light = min(max(linear, np.float32(0.0)), np.float32(BRIGHTEST))
    level = np.uintp(guess[np.uintp(np.int32(light * np.float32(STEPS)))])
    return np.uint8(level + np.uintp(light >= begins[level + np.uintp(1)]))


def encode_onto(
    pixels: NDArray[np.uint8],
    corner: tuple[int, int],
    thread_linear: NDArray[np.float32],
    cloth_linear: NDArray[np.float32],
    cloth_share: NDArray[np.float32],
) -> None:
    """Fill `pixels (rows, cols, 3)` from a corner (row, column) on with the levels of thread and of the share
    of cloth that is seen."""
    levels_onto(pixels, *corner, thread_linear, cloth_linear, cloth_share, *_tables())


@njit(cache=True, nogil=True)
def levels_onto(
    pixels: NDArray[np.uint8],
    top: int,
    left: int,
    thread_linear: NDArray[np.float32],
    cloth_linear: NDArray[np.float32],
    cloth_share: NDArray[np.float32],
    guess: NDArray[np.uint8],
    begins: NDArray[np.float32],
) -> None:
    """As `encode_onto`."""
    rows, cols = cloth_share.shape
    for r in range(rows):
        for c in range(cols):
            share = cloth_share[r, c]
            for k in range(3):
                light = thread_linear[r, c, k] + cloth_linear[r, c, k] * share
                pixels[top + r, left + c, k] = _level(light, guess, begins)
