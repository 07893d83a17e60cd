"""Linear light as the 256 levels of sRGB, highlights rolled off."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart
from render.colour import to_linear, to_srgb
from render.compiled import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Light up to here is shown as it is; from here highlights approach white without clipping.
SHOULDER_LINEAR = 0.75
# The first guess of a level is looked up in steps of light so fine that no two levels share one:
# sRGB climbs at most 255 x 12.92 levels a unit (IEC 61966-2-1).
STEPS, BRIGHTEST = 4096, 2.0
PART_BITS = 17  # of a step so many halvings, in which is told where in it the next level begins


def encode(linear: NDArray[Any]) -> NDArray[np.uint8]:
    """The nearest sRGB level of linear light of any shape, white = 1, after the shoulder."""
    flat = np.ascontiguousarray(linear, np.float32).ravel()
    out = np.empty(len(flat), np.uint8)
    levels(flat, level_steps(), out)
    return out.reshape(linear.shape)


def shoulder(linear: NDArray[Any]) -> NDArray[np.float64]:
    """Roll highlights off: identity up to 0.75, then an exponential approach to 1."""
    room = 1.0 - SHOULDER_LINEAR
    over = np.maximum(linear - SHOULDER_LINEAR, 0.0)
    bright = SHOULDER_LINEAR + room * (1.0 - np.exp(-over / room))
    return np.asarray(np.where(linear <= SHOULDER_LINEAR, np.maximum(linear, 0.0), bright))


@cache
def level_begins() -> NDArray[np.float32]:
    """The light at which each of the 256 levels begins, and without end after the last."""
    shown = to_linear((np.arange(257) - 0.5) / 255.0)
    room = 1.0 - SHOULDER_LINEAR
    over = np.minimum(np.maximum(shown - SHOULDER_LINEAR, 0.0) / room, 1.0 - 1e-12)
    begins = np.where(shown <= SHOULDER_LINEAR, shown, SHOULDER_LINEAR - room * np.log1p(-over))
    begins[0], begins[256] = -np.inf, np.inf
    return begins.astype(np.float32)


@cache
def level_steps() -> NDArray[np.uint32]:
    """Of each step of light, in one number, the level at its low end and how many parts of it come before the
    next level."""
    step = np.arange(int(BRIGHTEST * STEPS) + 1)
    level = np.rint(to_srgb(shoulder(step / STEPS)) * 255.0).astype(np.uint32)
    after = level_begins()[level + 1].astype(np.float64) * STEPS - step
    parts = np.ceil(np.clip(after, 0.0, 1.0) * (1 << PART_BITS)).astype(np.uint32)
    return np.asarray((level << 24) | parts, np.uint32)


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def levels(linear: NDArray[np.float32], steps: NDArray[np.uint32], out: NDArray[np.uint8]) -> None:
    """Fill `out` with levels; `steps` are `level_steps`."""
    for i in range(len(linear)):
        out[i] = level_of(linear[i], steps)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def level_of(linear: Any, steps: NDArray[np.uint32]) -> Any:
    """The level of some light."""
    return level_at(parts_of(linear), steps)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def parts_of(linear: Any) -> Any:
    """Light in whole parts of steps."""
    light = min(max(linear, np.float32(0.0)), np.float32(BRIGHTEST))
    return np.int32(light * np.float32(STEPS << PART_BITS))


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def level_at(parts: Any, steps: NDArray[np.uint32]) -> Any:
    """The level of so many parts of steps."""
    step = steps[np.uintp(parts >> np.int32(PART_BITS))]
    over = np.int32(parts & np.int32((1 << PART_BITS) - 1)) >= np.int32(step & np.uint32(0xFFFFFF))
    return np.int32(step >> np.uint32(24)) + np.int32(over)


def encode_onto(
    pixels: NDArray[np.uint8],
    corner: tuple[int, int],
    thread_linear: NDArray[np.float32],
    cloth_linear: NDArray[np.float32],
    cloth_share: NDArray[np.float32],
) -> None:
    """Fill `pixels (rows, cols, 3)` from a corner (row, column) on with the levels of thread and of the share
    of cloth that is seen."""
    thread, cloth = np.ascontiguousarray(thread_linear), np.ascontiguousarray(cloth_linear)
    levels_onto(pixels, *corner, thread, cloth, np.ascontiguousarray(cloth_share), level_steps())


@njit(cache=True, nogil=True)
def levels_onto(
    pixels: NDArray[np.uint8],
    top: int,
    left: int,
    thread_linear: NDArray[np.float32],
    cloth_linear: NDArray[np.float32],
    cloth_share: NDArray[np.float32],
    steps: NDArray[np.uint32],
) -> None:
    """As `encode_onto`."""
    numbers = 3 * cloth_share.shape[1]
    share, parts = np.empty(numbers, np.float32), np.empty(numbers, np.int32)
    for r in range(len(cloth_share)):
        thread, cloth = thread_linear[r].reshape(-1), cloth_linear[r].reshape(-1)
        out = pixels[top + r].reshape(-1)[3 * left :]
        levels_row(thread, cloth, cloth_share[r], steps, share, parts, out)


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def levels_row(
    thread: NDArray[np.float32],
    cloth: NDArray[np.float32],
    cloth_share: NDArray[np.float32],
    steps: NDArray[np.uint32],
    share: NDArray[np.float32],
    parts: NDArray[np.int32],
    out: NDArray[np.uint8],
) -> None:
    """Levels of a row of pixels, RGB one after the other; `share` and `parts` are room."""
    for c in range(len(cloth_share)):
        red = np.uintp(3 * c)
        share[red] = share[red + np.uintp(1)] = share[red + np.uintp(2)] = cloth_share[c]
    for i in range(len(parts)):
        parts[i] = parts_of(thread[i] + cloth[i] * share[i])
    for i in range(len(parts)):
        out[i] = level_at(parts[i], steps)
