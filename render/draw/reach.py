"""How much of lamp and dome reaches each place past what stands higher around it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart
from render.compiled import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Wholes = NDArray[np.int32]
    Steps = NDArray[np.int64]
    Shorts = NDArray[np.int16]
    Stands = tuple[Shorts, Shorts, Shorts, Shorts]

SHADOW_STEPS = 11
AROUND = 8  # directions in which the dome is looked for, at each distance
# Heights are whole numbers of such steps, from the lowest that stitching presses anything to the highest that
# foam raises it: differences of them fit 16 bits, and sums are the same in any order.
STEPS_PER_MM, LOWEST_MM, HIGHEST_MM = 4096.0, -2.0, 5.99
_f, _i = np.float32, np.int32


@njit(cache=True, nogil=True, error_model="numpy")
def key_shadow(stands: Stands, halo: int, taps: Steps, rise: NDArray[np.float64]) -> Floats:
    """How much of the key lamp (2, rows, cols) reaches what is highest in each pixel and what lies lower, in
    [0, 1].

    `stands` are the heights of those, that of all that may stand in the way, and what is -1 for cloth alone,
    each (rows, cols) with `halo` pixels around the result; heights as `in_steps`. Cloth does not shade cloth
    here: its own light has that already. `taps (W K, 2)` are pixel steps towards the lamp, none or
    `SHADOW_STEPS` on each way to it, of which it is the mean; `rise (K, 2)` the mm that a ray has climbed
    there and the mm over which the edge of a shadow fades.
    """
    rows, wide = stands[0].shape
    rows, cols = rows - 2 * halo, wide - 2 * halo
    if len(taps) == 0:
        return np.ones((2, rows, cols), np.float32)
    out = np.empty((2, rows, cols), np.float32)
    steps = taps[:, 0] * wide + taps[:, 1]
    free = (0.5 + rise[:, 0] / rise[:, 1]).astype(np.float32)
    per_step = (1.0 / (rise[:, 1] * STEPS_PER_MM)).astype(np.float32)
    flat = stands[0].ravel(), stands[1].ravel(), stands[2].ravel(), stands[3].ravel()
    ways, other = len(steps) // SHADOW_STEPS, np.empty((2, cols), np.float32)
    for r in range(rows):
        at = (r + halo) * wide + halo
        lamp_row(at, cols, flat, steps[:SHADOW_STEPS], free, per_step, out[0, r], out[1, r])
        for begin in range(SHADOW_STEPS, len(steps), SHADOW_STEPS):
            some = steps[begin : begin + SHADOW_STEPS]
            lamp_row(at, cols, flat, some, free, per_step, other[0], other[1])
            out[:, r] += other
        if ways > 1:
            out[:, r] *= np.float32(1.0 / ways)
    return out


@njit(cache=True, nogil=True, error_model="numpy")
def sky_open(stands: Stands, halo: int, taps: Steps, per_mm: NDArray[np.float64]) -> Floats:
    """Share of the dome (2, rows, cols) that reaches what is highest in each pixel and what lies lower, past
    what is higher around it; above 1 where more lies lower: it stands out, lit from its sides as well.

    As `key_shadow`, of which cloth does not close the sky of cloth. `taps (K, 2)` are pixel steps around it,
    `AROUND` at each distance; `per_mm (K,)` what closes per mm of height there, at least 1.
    """
    rows, wide = stands[0].shape
    rows, cols = rows - 2 * halo, wide - 2 * halo
    out, steps = np.empty((2, rows, cols), np.float32), taps[:, 0] * wide + taps[:, 1]
    flat = stands[0].ravel(), stands[1].ravel(), stands[2].ravel(), stands[3].ravel()
    for r in range(rows):
        # Row by row, while that is at hand: all at once would go through memory once more.
        out[:, r] = 1.0
        for k in range(0, len(steps), AROUND):
            some, most = steps[k : k + AROUND], np.int16(np.rint(STEPS_PER_MM / per_mm[k]))
            share = 1.0 / (float(most) * len(taps))
            dome_row((r + halo) * wide + halo, cols, flat, some, most, share, out[0, r], out[1, r])
    return out


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def in_steps(mm: Any) -> Any:
    """A height as a whole number of steps."""
    above = min(max(mm, _f(LOWEST_MM)), _f(HIGHEST_MM)) - _f(LOWEST_MM)
    return np.int16(np.int32(np.rint(above * _f(STEPS_PER_MM))))


@njit(cache=True, nogil=True, error_model="numpy")
def all_in_steps(mm: Floats) -> Shorts:
    """Heights (rows, cols) as whole numbers of steps."""
    out = np.empty(mm.shape, np.int16)
    for r in range(mm.shape[0]):
        for c in range(mm.shape[1]):
            out[r, c] = in_steps(mm[r, c])
    return out


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def lamp_row(
    at: int,
    count: int,
    stands: Stands,
    steps: Steps,
    free: Floats,
    per_step: Floats,
    lit: Floats,
    lit_low: Floats,
) -> None:
    """Light of the lamp on a row of so many pixels, the first of which is number `at` of all: at each of the
    `steps` what is as high has as much as is `free`, and `per_step` less for each step that it is lower.

    How many steps there are is known: the compiler takes them apart, and many pixels at once.
    """
    upper, lower, height, bare = stands
    for c in range(count):
        own = np.uintp(at + c)
        high, low, cloth = _f(_i(upper[own])), _f(_i(lower[own])), bare[own]
        left = left_low = _f(1.0)
        for k in range(SHADOW_STEPS):
            i = np.uintp(at + steps[k] + c)
            # Cloth does not stand in the way of cloth: it is as low as can be.
            there = np.int16(height[i] & np.int16(~np.int16(cloth & bare[i])))
            below = free[k] - _f(_i(there)) * per_step[k]
            left = min(left, high * per_step[k] + below)
            left_low = min(left_low, low * per_step[k] + below)
        left, left_low = max(left, _f(0.0)), max(left_low, _f(0.0))
        lit[np.uintp(c)], lit_low[np.uintp(c)] = left, left_low


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def dome_row(
    at: int,
    count: int,
    stands: Stands,
    steps: Steps,
    most: Any,
    share: float,
    left: Floats,
    left_low: Floats,
) -> None:
    """Take from what is left of the dome what is closed at one distance, as `lamp_row`: such a share for each
    step that something is higher there, up to so many; what is lower opens as much.

    All of it is told to be of 16 bits, so that the compiler takes twice as many pixels at once.
    """
    upper, lower, height, bare = stands
    none, least = np.int16(0), np.int16(-most)
    for c in range(count):
        own = np.uintp(at + c)
        high, low, cloth = upper[own], lower[own], bare[own]
        total = total_low = none
        for k in range(AROUND):
            i = np.uintp(at + steps[k] + c)
            there, counts = height[i], np.int16(~np.int16(cloth & bare[i]))
            above = np.int16(min(np.int16(max(np.int16(there - high), least)), most))
            total = np.int16(total + np.int16(above & counts))
            above = np.int16(min(np.int16(max(np.int16(there - low), least)), most))
            total_low = np.int16(total_low + np.int16(above & counts))
        left[np.uintp(c)] -= _f(np.int32(total)) * _f(share)
        left_low[np.uintp(c)] -= _f(np.int32(total_low)) * _f(share)
