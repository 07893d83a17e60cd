"""The course of each strand, sampled every tenth of a millimetre: what drawing looks up all the time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numba import njit

from render.apart import Apart
from render.draw.dimples import PIT_MM
from render.draw.grain import line_noise

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.stack import Stack
    from render.draw.strands import Strands

# Twist is never even: the grooves run ahead and behind by this share of their spacing, over
# such lengths, or they would draw a net across neighbouring rows (estimate).
TWIST_WANDER, TWIST_WANDER_MM = 0.3, 3.5
# Of the light, what a thread that goes down into a needle hole lacks there, and what the hole keeps besides
# where it is as deep a pit as usual (estimates).
HOLE_DARK, PIT_DARK = 0.06, 0.26
HOLE_MM = 0.22  # over this length
# What has gone down by more than the first in so many samples sees less sky; half at the second, and no less
# than that: beyond a steep flank, as over foam, it is open (estimates).
SUNK_FROM_MM, SUNK_HALF_MM, SUNK_SAMPLES = 0.10, 0.26, 3
# Filaments that are seen lie so many half-heights above a thread's underside, in the mean over its width.
SEEN_HEIGHT = 1.0 + np.pi / 4.0
# Columns of a profile.
HEIGHT, HALF_HEIGHT, SLIMNESS, ASIDE, TILT, PHASE, HOLE, GATHER, COLUMNS = 0, 1, 2, 3, 4, 5, 6, 7, 8
_f = np.float32
_i = np.int32


def thread_profile(strands: Strands, stacked: Stack, px_per_mm: float, twist: float) -> NDArray[np.float32]:
    """A row for each of the stack's samples (M, `COLUMNS`).

    HEIGHT of the underside and HALF_HEIGHT in mm, SLIMNESS one over the half-width in pixels, ASIDE
    pixels by which the thread's middle lies to the right of its line, TILT degrees by which what is seen
    of it rises, PHASE turns of the ply's twist, HOLE the light that the needle's hole leaves it, GATHER
    degrees by which the filaments of its sides spread. All that along the thread as it was laid. `twist` -1
    turns every thread's hand.
    """
    profile = np.empty((len(stacked.height_mm), COLUMNS), np.float32)
    start, end = strands.laid_ends_mm()
    length = np.hypot(*(end - start).T)
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
        HOLE_DARK + PIT_DARK * stacked.pit_mm / PIT_MM,
        profile,
    )
    return profile


@njit(cache=True, nogil=True)
def press_profile(
    chosen: NDArray[np.int64],
    first: NDArray[np.int64],
    section: NDArray[np.float32],
    length_mm: NDArray[np.float64],
    px_per_mm: float,
    profile: NDArray[np.float32],
    half_width_px: NDArray[np.float64],
) -> None:
    """Set what of the rows of chosen strands, and of how far they reach, depends on their `section`."""
    rows = profile.reshape(-1)
    for i in chosen:
        widest = np.float32(0.0)
        for k in range(first[i], first[i + 1]):
            left, right = section[k, 0], section[k, 1]
            profile[k, SLIMNESS] = _f(2.0) / ((left + right) * _f(px_per_mm))
            profile[k, ASIDE] = _f(0.5) * (right - left) * _f(px_per_mm)
            profile[k, HALF_HEIGHT] = section[k, 2]
            widest = max(widest, max(left, right))
        half_width_px[i] = widest * px_per_mm
        n = first[i + 1] - first[i]
        incline(first[i], n, length_mm[i] / (n - 1), px_per_mm, rows)


@njit(cache=True, nogil=True, error_model="numpy")
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
    hole_dark: float,
    profile: NDArray[np.float32],
) -> None:
    """Fill the rows of every strand; `twists` are its turns a mm, negative for S, `hole_dark` what holes keep
    of the light."""
    sections, rows = section.reshape(-1), profile.reshape(-1)
    for i in range(len(length_mm)):
        twist = twists[i]
        hand = 1.0 if twist >= 0.0 else -1.0
        at, n = first[i], first[i + 1] - first[i]
        length, word = length_mm[i], int(grain[i])
        step = length / (n - 1)
        # Whole turns would cost the precision of the small type; taken off alike for either hand.
        begin = -2.0 * twist * along_mm[i]
        begin += hand * ((word & 255) / 256.0 - np.floor(hand * begin))
        wave = along_mm[i] / TWIST_WANDER_MM
        turns = (begin, -2.0 * twist * step, hand * TWIST_WANDER, wave, step / TWIST_WANDER_MM)
        run(at, n, turns, (word & 0xFFFF) + 0x2F1, px_per_mm, height, sections, rows)
        incline(at, n, step, px_per_mm, rows)
        for end in range(2):
            # Only samples near the holes; all of a short stitch near both.
            for m in range(min(n, int(HOLE_MM / step) + 1) if dives[i, end] else 0):
                k, near = (n - 1 - m if end else m), max(1.0 - m * step / HOLE_MM, 0.0)
                profile[at + k, HOLE] *= 1.0 - hole_dark * near * near
        # What lies further in is sunk into no hole.
        near = min(int(HOLE_MM / step) + 1, n)
        for k in range(near + n - max(n - near, near)):
            k = k if k < near else k - near + max(n - near, near)
            s = k * step
            if (dives[i, 0] and s < HOLE_MM) or (dives[i, 1] and length - s < HOLE_MM):
                inward = height[at + min(k + SUNK_SAMPLES, n - 1)], height[at + max(k - SUNK_SAMPLES, 0)]
                sunk = max(max(inward[0], inward[1]) - height[at + k] - SUNK_FROM_MM, 0.0) / SUNK_HALF_MM
                sunk = min(sunk, 1.0)
                profile[at + k, HOLE] /= 1.0 + sunk * sunk


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def run(
    at: int,
    n: int,
    turns: tuple[float, float, float, float, float],
    name: int,
    px_per_mm: float,
    height: NDArray[np.float32],
    section: NDArray[np.float32],
    rows: NDArray[np.float32],
) -> None:
    """Fill n rows from number `at` on, as if no hole were near. `turns` are those at the start and of a step,
    by how many they wander, and the waves of that so far and of a step."""
    begin, turn, amount = _f(turns[0]), _f(turns[1]), _f(turns[2])
    whole = np.floor(turns[3])
    crest, before_it, wave = np.uint32(np.int64(whole)), _f(turns[3] - whole), _f(turns[4])
    for k in range(n):
        row, own, here = np.uintp(COLUMNS * (at + k)), np.uintp(3 * (at + k)), np.uintp(at + k)
        left, right = section[own], section[own + np.uintp(1)]
        wander = line_noise(crest, before_it + wave * _f(_i(k)), name)
        rows[row + np.uintp(HEIGHT)] = height[here]
        rows[row + np.uintp(HALF_HEIGHT)] = section[own + np.uintp(2)]
        rows[row + np.uintp(SLIMNESS)] = _f(2.0) / ((left + right) * _f(px_per_mm))
        rows[row + np.uintp(ASIDE)] = _f(0.5) * (right - left) * _f(px_per_mm)
        rows[row + np.uintp(PHASE)] = begin + turn * _f(_i(k)) + amount * wander
        rows[row + np.uintp(HOLE)] = _f(1.0)


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def incline(at: int, n: int, step: float, px_per_mm: float, rows: NDArray[np.float32]) -> None:
    """Fill in how the filaments of n rows, from number `at` on, run: rows are `step` mm from each other.

    The mean of the slopes to either side: none has corners. A thread that gathers is rounder there, so that
    its upper side bends down by less than its underside.
    """
    per_step, per_two = _f(1.0 / step), _f(0.5 / step)
    mm = _f(1.0 / px_per_mm)
    for k in range(n):
        per_mm = per_step if (k == 0) | (k == n - 1) else per_two
        one = np.uintp(COLUMNS * (at + max(k - 1, 0)))
        two = np.uintp(COLUMNS * (at + min(k + 1, n - 1)))
        rise = rows[two + np.uintp(HEIGHT)] - rows[one + np.uintp(HEIGHT)]
        rise += _f(SEEN_HEIGHT) * (rows[two + np.uintp(HALF_HEIGHT)] - rows[one + np.uintp(HALF_HEIGHT)])
        wider = mm / rows[two + np.uintp(SLIMNESS)] - mm / rows[one + np.uintp(SLIMNESS)]
        row = np.uintp(COLUMNS * (at + k))
        rows[row + np.uintp(TILT)] = arctan_deg(rise * per_mm)
        rows[row + np.uintp(GATHER)] = arctan_deg(wider * per_mm)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def arctan_deg(slope: Any) -> Any:
    """The angle of a slope (Abramowitz & Stegun 1964, 4.4.49: to 2e-8 rad)."""
    steep = abs(slope) > _f(1.0)
    x = _f(1.0) / slope if steep else slope
    y = x * x
    series = _f(0.0028662257)
    for factor in (-0.0161657367, 0.0429096138, -0.0752896400, 0.1065626393, -0.1420889944, 0.1999355085):
        series = series * y + _f(factor)
    angle = x * ((series * y + _f(-0.3333314528)) * y + _f(1.0)) * _f(180.0 / np.pi)
    return np.copysign(_f(90.0), slope) - angle if steep else angle


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def course_at(profile: NDArray[np.float32], here: Any, w: Any, column: int) -> Any:
    """A column of a strand's course between a sample and the next."""
    at = here * np.uintp(COLUMNS) + np.uintp(column)
    return profile[at] + (profile[at + np.uintp(COLUMNS)] - profile[at]) * w
