"""The course of each strand, sampled every tenth of a millimetre: what drawing looks up all the time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart
from render.compiled import njit
from render.draw.across import lanes
from render.draw.crowd import shared_out
from render.draw.dimples import PIT_MM
from render.draw.grain import line_noise

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.dimples import Bedding
    from render.draw.stack import Stack
    from render.draw.strands import Strands

# Twist is never even: the grooves run ahead and behind by this share of their spacing, over
# such lengths, or they would draw a net across neighbouring rows (estimate).
TWIST_WANDER, TWIST_WANDER_MM = 0.3, 3.5
# Of the light, what a thread that goes down into a needle hole lacks there, and what the hole keeps besides
# where it is as deep a pit as usual (estimates).
HOLE_DARK, PIT_DARK = 0.06, 0.26
HOLE_MM = 0.22  # over this length
# What goes down alone, in a line of single stitches, has only cloth around it, which closes over the hole: so
# much is kept there besides, over such a length (by eye: joins are dark, and thread shines between them).
LINE_DARK, LINE_HOLE_MM = 0.80, 0.40
# All of that where the thread ends so far below the face of the cloth, nothing above it (estimate).
BELOW_MM = 0.10
# What has gone down by more than the first in so many samples sees less sky; half at the second, and no less
# than that: beyond a steep flank, as over foam, it is open (estimates).
SUNK_FROM_MM, SUNK_HALF_MM, SUNK_SAMPLES = 0.10, 0.26, 3
# Filaments that are seen lie so many half-heights above a thread's underside, in the mean over its width.
SEEN_HEIGHT = 1.0 + np.pi / 4.0
# Columns of a profile.
HEIGHT, HALF_HEIGHT, SLIMNESS, ASIDE, TILT, PHASE, HOLE, GATHER, COLUMNS = 0, 1, 2, 3, 4, 5, 6, 7, 8
_f = np.float32
_i = np.int32


def thread_profile(
    strands: Strands, stacked: Stack, px_per_mm: float, twist: float
) -> tuple[NDArray[np.float32], NDArray[np.float64]]:
    """A row for each of the stack's samples (M, `COLUMNS`), and how many pixels each strand reaches to
    either side at most (N,).

    HEIGHT of the underside and HALF_HEIGHT in mm, SLIMNESS one over the half-width in pixels, ASIDE
    pixels by which the thread's middle lies to the right of its line, TILT degrees by which what is seen
    of it rises, PHASE turns of the ply's twist, HOLE the light that the needle's hole leaves it, GATHER
    degrees by which the filaments of its sides spread. All that along the thread as it was laid. `twist` -1
    turns every thread's hand.
    """
    profile = np.empty((len(stacked.height_mm), COLUMNS), np.float32)
    half_width_px = np.empty(len(strands.stitch))
    start, end = strands.laid_ends_mm()
    length = np.hypot(*(end - start).T)
    course = (
        np.maximum(length, 1e-6),
        strands.along_mm,
        strands.dives,
        strands.grain,
        stacked.height_mm,
        stacked.section_mm,
        stacked.first,
        twist * strands.twist_per_mm,
        px_per_mm,
        holes_of(strands, stacked.bedding),
        profile,
        half_width_px,
    )
    shared_out(len(length), lambda own: fill_profile(own, *course))
    return profile, half_width_px


def holes_of(strands: Strands, bedding: Bedding) -> NDArray[np.float64]:
    """Share of the light that its holes keep from each strand, where it lies on cloth and where on other
    thread, and over which length, mm (N, 3)."""
    line = (strands.stitch >= 0) & (strands.piece < 0)
    among = np.full(len(line), HOLE_DARK + PIT_DARK * bedding.pit_mm / PIT_MM)
    alone = np.where(line, HOLE_DARK + LINE_DARK * bedding.closes, among)
    return np.stack([alone, among, np.where(line, LINE_HOLE_MM, HOLE_MM)], 1)


@njit(cache=True, nogil=True, error_model="numpy")
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
    room, sections = room_for(first, chosen), section.reshape(-1)
    high, half, slim, aside, tilt, gather = room[0], room[1], room[2], room[3], room[4], room[7]
    seen, wide = room[8], room[9]
    for i in chosen:
        at, n = first[i], first[i + 1] - first[i]
        rows, step = profile[at : at + n], length_mm[i] / (n - 1)
        for k in range(n):
            high[k] = rows[k, HEIGHT]
        widest = press(at, n, step, px_per_mm, sections, high, half, slim, aside, tilt, gather, seen, wide)
        half_width_px[i] = widest * px_per_mm
        for k in range(n):
            rows[k, HALF_HEIGHT], rows[k, SLIMNESS], rows[k, ASIDE] = half[k], slim[k], aside[k]
            rows[k, TILT], rows[k, GATHER] = tilt[k], gather[k]


@njit(cache=True, nogil=True, error_model="numpy")
def fill_profile(
    own: tuple[int, int],
    length_mm: NDArray[np.float64],
    along_mm: NDArray[np.float64],
    dives: NDArray[np.bool_],
    grain: NDArray[np.uint32],
    height: NDArray[np.float32],
    section: NDArray[np.float32],
    first: NDArray[np.int64],
    twists: NDArray[np.float64],
    px_per_mm: float,
    holes: NDArray[np.float64],
    profile: NDArray[np.float32],
    half_width_px: NDArray[np.float64],
) -> None:
    """Fill the rows of strands from `own[0]` to `own[1]`, and how far each reaches; `twists` are turns a mm,
    negative for S, `holes` (N, 3) those of `holes_of`."""
    sections, rows = section.reshape(-1), profile.reshape(-1)
    room = room_for(first, np.arange(own[0], own[1]))
    high, half, slim, aside, tilt = room[0], room[1], room[2], room[3], room[4]
    phase, hole, gather, seen, wide = room[5], room[6], room[7], room[8], room[9]
    for i in range(own[0], own[1]):
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
        run(at, n, turns, (word & 0xFFFF) + 0x2F1, height, high, phase, hole)
        widest = press(at, n, step, px_per_mm, sections, high, half, slim, aside, tilt, gather, seen, wide)
        half_width_px[i] = widest * px_per_mm
        hole_mm = holes[i, 2]
        near = min(int(hole_mm / step) + 1, n)
        for end in range(2):
            # Cloth closes over what ends below its face, not over what lies on other thread.
            below = min(max(high[n - 1 if end else 0] / -BELOW_MM, 0.0), 1.0)
            dark = holes[i, 1] + below * (holes[i, 0] - holes[i, 1])
            # Only samples near the holes; all of a short stitch near both.
            for m in range(near if dives[i, end] else 0):
                k, share = (n - 1 - m if end else m), max(1.0 - m * step / hole_mm, 0.0)
                hole[k] *= 1.0 - dark * share * share
        # What lies further in is sunk into no hole.
        for k in range(near + n - max(n - near, near)):
            k = k if k < near else k - near + max(n - near, near)
            s = k * step
            if (dives[i, 0] and s < hole_mm) or (dives[i, 1] and length - s < hole_mm):
                inward = max(high[min(k + SUNK_SAMPLES, n - 1)], high[max(k - SUNK_SAMPLES, 0)])
                sunk = min(max(inward - high[k] - SUNK_FROM_MM, 0.0) / SUNK_HALF_MM, 1.0)
                # Both tell of the same hole.
                hole[k] = min(hole[k], 1.0 / (1.0 + sunk * sunk))
        put(at, n, high, half, slim, aside, tilt, phase, hole, gather, rows)


@njit(cache=True, nogil=True, error_model="numpy")
def room_for(first: NDArray[np.int64], chosen: NDArray[np.int64]) -> NDArray[np.float32]:
    """Room for each column of the longest of chosen strands, and for two more that reach further by one to
    either side: numbers beside each other are worked on many at a time."""
    longest = 0
    for i in chosen:
        longest = max(longest, first[i + 1] - first[i])
    return np.ones((COLUMNS + 2, lanes(longest) + 2), np.float32)


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def run(
    at: int,
    n: int,
    turns: tuple[float, float, float, float, float],
    name: int,
    height: NDArray[np.float32],
    high: NDArray[np.float32],
    phase: NDArray[np.float32],
    hole: NDArray[np.float32],
) -> None:
    """Fill columns of n rows from number `at` on, as if no hole were near. `turns` are those at the start and
    of a step, by how many they wander, and the waves of that so far and of a step."""
    begin, turn, amount = _f(turns[0]), _f(turns[1]), _f(turns[2])
    whole = np.floor(turns[3])
    crest, before_it, wave = np.uint32(np.int64(whole)), _f(turns[3] - whole), _f(turns[4])
    for k in range(n):
        high[k] = height[np.uintp(at + k)]
    for k in range(lanes(n)):
        wander = line_noise(crest, before_it + wave * _f(_i(k)), name)
        phase[k] = begin + turn * _f(_i(k)) + amount * wander
        hole[k] = _f(1.0)


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def press(
    at: int,
    n: int,
    step: float,
    px_per_mm: float,
    section: NDArray[np.float32],
    high: NDArray[np.float32],
    half: NDArray[np.float32],
    slim: NDArray[np.float32],
    aside: NDArray[np.float32],
    tilt: NDArray[np.float32],
    gather: NDArray[np.float32],
    seen: NDArray[np.float32],
    wide: NDArray[np.float32],
) -> Any:
    """Fill columns of n rows, from number `at` on and `step` mm from each other, by their sections, and
    return how many mm they reach to either side at most; `seen` and `wide` are room.

    How filaments run is the mean of the slopes to either side: none has corners. A thread that gathers is
    rounder there, so that its upper side bends down by less than its underside.
    """
    widest = _f(0.0)
    for k in range(n):
        own, after = np.uintp(3 * (at + k)), np.uintp(k + 1)
        left, right, thick = section[own], section[own + np.uintp(1)], section[own + np.uintp(2)]
        wide[after], half[k] = left + right, thick
        aside[k] = _f(0.5) * (right - left) * _f(px_per_mm)
        seen[after] = high[k] + _f(SEEN_HEIGHT) * thick
        widest = max(widest, max(left, right))
    seen[0], wide[0], seen[n + 1], wide[n + 1] = seen[1], wide[1], seen[n], wide[n]
    per_step, per_two = _f(1.0 / step), _f(0.5 / step)
    for k in range(lanes(n)):
        here, two = np.uintp(k + 1), np.uintp(k + 2)
        per_mm = per_step if (k == 0) | (k == n - 1) else per_two
        slim[k] = _f(2.0) / (wide[here] * _f(px_per_mm))
        tilt[k] = arctan_deg((seen[two] - seen[k]) * per_mm)
        gather[k] = arctan_deg((wide[two] - wide[k]) * (_f(0.5) * per_mm))
    return widest


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def put(
    at: int,
    n: int,
    high: NDArray[np.float32],
    half: NDArray[np.float32],
    slim: NDArray[np.float32],
    aside: NDArray[np.float32],
    tilt: NDArray[np.float32],
    phase: NDArray[np.float32],
    hole: NDArray[np.float32],
    gather: NDArray[np.float32],
    rows: NDArray[np.float32],
) -> None:
    """Put the columns of n rows beside each other, from row `at` on."""
    for k in range(n):
        row = np.uintp(COLUMNS * (at + k))
        rows[row + np.uintp(HEIGHT)], rows[row + np.uintp(HALF_HEIGHT)] = high[k], half[k]
        rows[row + np.uintp(SLIMNESS)], rows[row + np.uintp(ASIDE)] = slim[k], aside[k]
        rows[row + np.uintp(TILT)], rows[row + np.uintp(PHASE)] = tilt[k], phase[k]
        rows[row + np.uintp(HOLE)], rows[row + np.uintp(GATHER)] = hole[k], gather[k]


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
