"""The course of each strand, sampled every tenth of a millimetre: what drawing looks up all the time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numba import njit

from render.draw.grain import noise1

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.stack import Stack
    from render.draw.strands import Strands

# Twist is never even: the grooves run ahead and behind by this share of their spacing, over
# such lengths, or they would draw a net across neighbouring rows (estimate).
TWIST_WANDER, TWIST_WANDER_MM = 0.3, 3.5
HOLE_DARK = 0.06  # of the light, what the needle hole keeps from a thread that goes down into it (estimate)
HOLE_MM = 0.28  # over this length
# What has gone down by more than the first in so many samples sees less sky; half at the second (estimates).
SUNK_FROM_MM, SUNK_HALF_MM, SUNK_SAMPLES = 0.10, 0.26, 3
# Columns of a profile.
HEIGHT, HALF_HEIGHT, SLIMNESS, ASIDE, TILT, PHASE, HOLE, COLUMNS = 0, 1, 2, 3, 4, 5, 6, 8


def thread_profile(strands: Strands, stacked: Stack, px_per_mm: float, twist: float) -> NDArray[np.float32]:
    """A row for each of the stack's samples (M, `COLUMNS`).

    HEIGHT of the underside and HALF_HEIGHT in mm, SLIMNESS one over the half-width in pixels, ASIDE
    pixels by which the thread's middle lies to the right of its line, TILT degrees by which it rises,
    PHASE turns of the ply's twist, HOLE the light that the needle's hole leaves it. All that along the
    thread as it was laid. `twist` -1 turns every thread's hand.
    """
    profile = np.empty((len(stacked.height_mm), COLUMNS), np.float32)
    laid = strands.unmoved()
    length = np.hypot(*(laid.end_mm - laid.start_mm).T)
    fill_profile(
        np.maximum(length, 1e-6),
        strands.along_mm,
        strands.dives,
        strands.grain,
        stacked.height_mm,
        stacked.section_mm,
        stacked.first,
        twist * strands.twist_per_mm,
        px_per_mm,
        profile,
    )
    return profile


@njit(cache=True, nogil=True)
def press_profile(
    chosen: NDArray[np.int64],
    first: NDArray[np.int64],
    section: NDArray[np.float32],
    px_per_mm: float,
    profile: NDArray[np.float32],
    half_width_px: NDArray[np.float64],
) -> None:
    """Set what of the rows of chosen strands, and of how far they reach, depends on their `section`."""
    for i in chosen:
        widest = np.float32(0.0)
        for k in range(first[i], first[i + 1]):
            left, right = section[k, 0], section[k, 1]
            profile[k, SLIMNESS] = 2.0 / ((left + right) * px_per_mm)
            profile[k, ASIDE] = 0.5 * (right - left) * px_per_mm
            profile[k, HALF_HEIGHT] = section[k, 2]
            widest = max(widest, max(left, right))
        half_width_px[i] = widest * px_per_mm


@njit(cache=True, nogil=True)
def fill_profile(
    length_mm: NDArray[np.float64],
    along_mm: NDArray[np.float64],
    dives: NDArray[np.bool_],
    grain: NDArray[np.uint32],
    height: NDArray[np.float32],
    section: NDArray[np.float32],
    first: NDArray[np.int64],
    twists: NDArray[np.float64],
    px_per_mm: float,
    profile: NDArray[np.float32],
) -> None:
    """Fill the rows of every strand; `twists` are its turns a mm, negative for S."""
    for i in range(len(length_mm)):
        twist = twists[i]
        hand = 1.0 if twist >= 0.0 else -1.0
        at, n = first[i], first[i + 1] - first[i]
        length, word = length_mm[i], int(grain[i])
        step = length / (n - 1)
        # Whole turns would cost the precision of the small type; taken off alike for either hand.
        begin = -2.0 * twist * along_mm[i]
        begin += hand * ((word & 255) / 256.0 - np.floor(hand * begin))
        for k in range(n):
            s = k * step
            left, right = section[at + k, 0], section[at + k, 1]
            light = 1.0
            if dives[i, 0] and s < HOLE_MM:
                light *= 1.0 - HOLE_DARK * (1.0 - s / HOLE_MM) ** 2
            if dives[i, 1] and length - s < HOLE_MM:
                light *= 1.0 - HOLE_DARK * (1.0 - (length - s) / HOLE_MM) ** 2
            inward = height[at + min(k + SUNK_SAMPLES, n - 1)], height[at + max(k - SUNK_SAMPLES, 0)]
            if (dives[i, 0] and s < HOLE_MM) or (dives[i, 1] and length - s < HOLE_MM):
                sunk = max(max(inward[0], inward[1]) - height[at + k] - SUNK_FROM_MM, 0.0) / SUNK_HALF_MM
                light /= 1.0 + sunk * sunk
            # The mean of the slopes to either side: tilt has no corners.
            before, after = max(k - 1, 0), min(k + 1, n - 1)
            slope = (height[at + after] - height[at + before]) / ((after - before) * step)
            wander = noise1((along_mm[i] + s) / TWIST_WANDER_MM, (word & 0xFFFF) + 0x2F1)
            profile[at + k, HEIGHT] = height[at + k]
            profile[at + k, SLIMNESS] = 2.0 / ((left + right) * px_per_mm)
            profile[at + k, ASIDE] = 0.5 * (right - left) * px_per_mm
            profile[at + k, HALF_HEIGHT] = section[at + k, 2]
            profile[at + k, TILT] = np.rad2deg(np.arctan(slope))
            profile[at + k, PHASE] = begin - 2.0 * twist * s + hand * TWIST_WANDER * wander
            profile[at + k, HOLE] = light


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def course_at(profile: NDArray[np.float32], here: Any, w: Any, column: int) -> Any:
    """A column of a strand's course between a sample and the next."""
    at = here * np.uintp(COLUMNS) + np.uintp(column)
    return profile[at] + (profile[at + np.uintp(COLUMNS)] - profile[at]) * w
