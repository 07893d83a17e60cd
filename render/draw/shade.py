"""Light on the topmost thread of each pixel, in linear light, white card = 1."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numba import njit

from render.draw.grain import noise1, noise2
from render.draw.sheen import AZIMUTH_STEPS, ROLL_LIMIT_DEG, ROLL_STEPS, TILT_LIMIT_DEG, TILT_STEPS

if TYPE_CHECKING:
    from numpy.typing import NDArray

AZIMUTH_BITS = 8  # azimuths are whole numbers of 5/256 degree, so quarter turns are exact
AZIMUTH_UNIT = 1 << AZIMUTH_BITS
LEVELS = 2.0**22  # steps of light between black and white while summing
PLY_ROLL_RAD = 0.42  # how far a ply's roundness turns the surface at its edge (estimate)
GROOVE_DEPTH = 0.17
# Twist is never even: the grooves run ahead and behind by this share of their spacing, over
# such lengths, or they would draw a net across neighbouring rows (estimate).
TWIST_WANDER, TWIST_WANDER_MM = 0.3, 3.5
LEVEL, UPRIGHT, SLANTED = 0, 1, 2  # how a thread lies in the picture
# By place across a thread, in steps from its middle: the angle around it, and how far its
# flattened top turns its surface.
ROUND_STEPS = 1024
_V = np.minimum(np.arange(ROUND_STEPS + 2) / ROUND_STEPS, 0.999)
ROUND = np.stack([np.arcsin(_V), np.arctan(0.35 * _V / np.sqrt(1 - _V * _V))], 1)
WALLS = 0.55  # of the light that gaps between threads keep from cloth, what comes by way of them (estimate)
HOLE_DARK = 0.40  # of the light, what the needle hole keeps from a thread that goes down into it (estimate)
HOLE_MM = 0.28  # over this length
COLUMN_EDGE = 0.22  # darkening towards a thread's sides, where it turns under


@njit(cache=True, nogil=True)
def shade(
    strand: NDArray[np.int32],
    along: NDArray[np.float32],
    across: NDArray[np.float32],
    lit: NDArray[np.float32],
    sky: NDArray[np.float32],
    geometry: NDArray[np.float64],
    azimuth: NDArray[np.int64],
    grain: NDArray[np.uint32],
    samples: NDArray[np.float32],
    first: NDArray[np.int64],
    dye: NDArray[np.float64],
    tables: NDArray[np.float32],
    kind: NDArray[np.int64],
    detail: NDArray[np.float64],
    supersample: int,
    thread_linear: NDArray[np.float32],
    uncovered: NDArray[np.float32],
) -> None:
    """Sum thread radiance and open cloth over the sub-pixels of each pixel.

    Sub-pixels of a pixel that lie along one thread are shaded in pairs, midway between the two:
    along a thread light hardly changes, across it it does.

    Per strand: `geometry (N, 6)` length mm, thread length before it, twist in turns per mm (Z
    positive), thread index, whether its start and its end go down (0 or 1); `azimuth` in 1/256 table
    steps. Per thread: `dye (T, 6)` RGB albedo, gloss, flake, fuzz; `kind (T,)` which of the sheen
    tables, `tables` all of them in one flat row. `detail` is (pixels a mm, key share of the
    cloth's light). Fills `thread_linear (rows, cols, 3)` and `uncovered (rows, cols, 2)`:
    the share of cloth seen, and that share as lit.
    """
    rows, cols = thread_linear.shape[:2]
    share = 1.0 / (supersample * supersample)
    fine = min(max((detail[0] - 24.0) / 50.0, 0.0), 1.0)
    key_share = detail[1]
    blend = np.empty(12, np.float32)
    for row in range(rows):
        for col in range(cols):
            red = green = blue = 0.0
            seen = lit_cloth = 0.0
            top, left = row * supersample, col * supersample
            upright = False
            # Along the sub-rows first, then along the sub-columns for threads that stand upright.
            for line in range(2 * supersample):
                standing = line >= supersample
                if standing and not upright:
                    break
                at = 0
                while at < supersample:
                    r = top + (at if standing else line)
                    c = left + (line - supersample if standing else at)
                    i = strand[r, c]
                    open_sky, key = float(sky[r, c]), float(lit[r, c])
                    at += 1
                    if i < 0:
                        if not standing:
                            light = key_share * key + (1.0 - key_share) * open_sky
                            seen += share
                            # Between threads cloth is lit by them as well: light is kept in by their walls.
                            lit_cloth += share * light / (1.0 - WALLS * (1.0 - light))
                        continue
                    way = _way(azimuth[i])
                    upright |= way == UPRIGHT
                    if standing != (way == UPRIGHT):
                        continue
                    place, v, many = float(along[r, c]), float(across[r, c]), 1
                    # In pairs that are the same from either end.
                    if at % 2 == 1 and supersample % 2 == 0 and way != SLANTED:
                        r = top + (at if standing else line)
                        c = left + (line - supersample if standing else at)
                        if strand[r, c] == i:
                            place += along[r, c]
                            v += across[r, c]
                            open_sky += sky[r, c]
                            key += lit[r, c]
                            many = 2
                            at += 1
                    one, two, three = _thread_radiance(
                        i,
                        place / many,
                        v / many,
                        key / many,
                        open_sky / many,
                        fine,
                        geometry,
                        azimuth,
                        grain,
                        samples,
                        first,
                        dye,
                        tables,
                        kind,
                        blend,
                    )
                    # Summed in whole numbers: the same in any order, however the design is turned.
                    red += np.rint(one * LEVELS) * many
                    green += np.rint(two * LEVELS) * many
                    blue += np.rint(three * LEVELS) * many
            thread_linear[row, col, 0] = red * share / LEVELS
            thread_linear[row, col, 1] = green * share / LEVELS
            thread_linear[row, col, 2] = blue * share / LEVELS
            uncovered[row, col, 0] = seen
            uncovered[row, col, 1] = lit_cloth


@njit(cache=True, nogil=True, inline="always")
def _way(azimuth: int) -> int:
    """Whether a thread lies more along the rows or the columns, or exactly between."""
    eighth = AZIMUTH_STEPS * AZIMUTH_UNIT // 8
    turn = azimuth % (4 * eighth)
    if turn == eighth or turn == 3 * eighth:
        return SLANTED
    return UPRIGHT if eighth < turn < 3 * eighth else LEVEL


@njit(cache=True, nogil=True, inline="always")
def thread_surface(
    i: int,
    place: float,
    v: float,
    fine: float,
    geometry: NDArray[np.float64],
    azimuth: NDArray[np.int64],
    grain: NDArray[np.uint32],
    samples: NDArray[np.float32],
    first: NDArray[np.int64],
    dye: NDArray[np.float64],
) -> tuple[int, float, float, float, float, float]:
    """How the filaments of strand i lie at `place` along and `v` across it.

    Azimuth in 1/256 table steps, tilt and roll in degrees; lightness of the streak, of the groove
    between plies, and a number about 0 for single filaments.
    """
    length, before, twist = geometry[i, 0], geometry[i, 1], geometry[i, 2]
    thread = int(geometry[i, 3])
    word = int(grain[i])
    s = before + place * length
    v = min(max(v, -0.999), 0.999)
    hand = 1.0 if twist >= 0.0 else -1.0
    step = int(abs(v) * ROUND_STEPS)
    beyond = abs(v) * ROUND_STEPS - step
    around = ROUND[step, 0] + (ROUND[step + 1, 0] - ROUND[step, 0]) * beyond
    facing = ROUND[step, 1] + (ROUND[step + 1, 1] - ROUND[step, 1]) * beyond
    if v < 0.0:
        around, facing = -around, -facing
    # Where in the twist: position within the ply in [-1, 1], its edges are the grooves.
    phase = (around - 2.0 * np.pi * twist * s) / np.pi + (word & 255) / 256.0 * hand
    phase += hand * TWIST_WANDER * noise1(s / TWIST_WANDER_MM, (word & 0xFFFF) + 0x2F1)
    ply = 2.0 * (phase - np.floor(phase + 0.5))
    edge = ply * ply
    groove = 1.0 - GROOVE_DEPTH * edge * edge * (1.0 - 0.6 * v * v)
    from_start, from_end = place * length / HOLE_MM, (1.0 - place) * length / HOLE_MM
    if geometry[i, 4] > 0.0 and from_start < 1.0:
        groove *= 1.0 - HOLE_DARK * (1.0 - from_start) ** 2
    if geometry[i, 5] > 0.0 and from_end < 1.0:
        groove *= 1.0 - HOLE_DARK * (1.0 - from_end) ** 2
    # Filaments run nearly along the thread: streaks, long along it and narrow across.
    q = hand * around
    name = (word & 0xFFFF) + 0x51A3
    streak = noise2(q * 2.6, s * 1.1, name)
    # Each octave fades out before its cells are smaller than two sub-pixels.
    finer = max(2.0 * fine - 1.0, 0.0)
    hair = 0.0
    if fine > 0.0:
        hair += 0.7 * fine * noise2(q * 4.5, s * 1.2, name + 77)
    if finer > 0.0:
        hair += finer * noise2(q * 8.5, s * 1.7, name + 59)
    flake, fuzz = dye[thread, 4], dye[thread, 5]
    tone = 1.0 + 0.06 * streak + 0.26 * hair + 0.05 * (((word >> 8) & 255) / 255.0 - 0.5)
    # Tangent: azimuth of the strand, small wander of filaments, tilt from its height.
    wander = hand * (streak * 2.5 + hair * 6.0 + (((word >> 16) & 255) / 255.0 - 0.5) * 3.0)
    if fuzz > 0.0:
        wander += hand * fuzz * 14.0 * noise2(q * 4.0, s * 5.0, name + 151)
    facet = 0.0
    if flake > 0.0:
        facet = flake * noise2(np.floor(s * 9.0) * 3.7, np.floor(ply * 2.0) * 5.1 + 0.5, name + 31)
        wander += hand * facet * 18.0
    n = first[i + 1] - first[i]
    u = place * (n - 1)
    k = min(max(int(u), 0), n - 2)
    slope = (samples[first[i] + k + 1] - samples[first[i] + k]) * (n - 1) / length
    if 0 < k < n - 2:
        # Blend with the slope of the samples beside, so that facets do not show.
        w = u - k
        before_slope = (samples[first[i] + k] - samples[first[i] + k - 1]) * (n - 1) / length
        after_slope = (samples[first[i] + k + 2] - samples[first[i] + k + 1]) * (n - 1) / length
        slope = 0.5 * slope + 0.5 * (before_slope * (1.0 - w) + after_slope * w)
    tilt = np.rad2deg(_arctan(slope)) + facet * 14.0
    roll = np.rad2deg(facing + PLY_ROLL_RAD * ply * (1.0 - v * v))
    return azimuth[i] + int(np.rint(wander * (AZIMUTH_UNIT / 5.0))), tilt, roll, tone, groove, hair


@njit(cache=True, nogil=True, inline="always")
def _thread_radiance(
    i: int,
    place: float,
    v: float,
    key: float,
    open_sky: float,
    fine: float,
    geometry: NDArray[np.float64],
    azimuth: NDArray[np.int64],
    grain: NDArray[np.uint32],
    samples: NDArray[np.float32],
    first: NDArray[np.int64],
    dye: NDArray[np.float64],
    tables: NDArray[np.float32],
    kind: NDArray[np.int64],
    blend: NDArray[np.float32],
) -> tuple[float, float, float]:
    """Radiance of one point of strand i: twist, filaments, table look-up, dye."""
    thread = int(geometry[i, 3])
    az, tilt, roll, tone, groove, hair = thread_surface(
        i, place, v, fine, geometry, azimuth, grain, samples, first, dye
    )
    v = min(max(v, -0.999), 0.999)
    a0 = (az >> AZIMUTH_BITS) % AZIMUTH_STEPS
    wa = (az & (AZIMUTH_UNIT - 1)) / AZIMUTH_UNIT
    a1 = (a0 + 1) % AZIMUTH_STEPS
    ut = min(max((tilt + TILT_LIMIT_DEG) / (2 * TILT_LIMIT_DEG), 0.0), 0.9999) * (TILT_STEPS - 1)
    t0 = int(ut)
    wt = ut - t0
    ur = min(max((roll + ROLL_LIMIT_DEG) / (2 * ROLL_LIMIT_DEG), 0.0), 0.9999) * (ROLL_STEPS - 1)
    r0 = int(ur)
    wr = ur - r0
    low = ((kind[thread] * AZIMUTH_STEPS + a0) * TILT_STEPS + t0) * (ROLL_STEPS * 12) + r0 * 12
    high = ((kind[thread] * AZIMUTH_STEPS + a1) * TILT_STEPS + t0) * (ROLL_STEPS * 12) + r0 * 12
    up = ROLL_STEPS * 12
    one, fa, ft, fr = np.float32(1.0), np.float32(wa), np.float32(wt), np.float32(wr)
    w0, w1 = (one - fa) * (one - ft) * (one - fr), (one - fa) * (one - ft) * fr
    w2, w3 = (one - fa) * ft * (one - fr), (one - fa) * ft * fr
    w4, w5 = fa * (one - ft) * (one - fr), fa * (one - ft) * fr
    w6, w7 = fa * ft * (one - fr), fa * ft * fr
    low_0, low_1 = tables[low : low + 24], tables[low + up : low + up + 24]
    high_0, high_1 = tables[high : high + 24], tables[high + up : high + up + 24]
    # All channels at a time, which the compiler turns into vector instructions.
    for j in range(12):
        blend[j] = w0 * low_0[j] + w1 * low_0[j + 12] + w2 * low_1[j] + w3 * low_1[j + 12]
        blend[j] += w4 * high_0[j] + w5 * high_0[j + 12] + w6 * high_1[j] + w7 * high_1[j + 12]
    sides = (1.0 - COLUMN_EDGE * v * v) * tone * groove
    gloss = dye[thread, 3] * groove * max(1.0 + 0.7 * hair, 0.0) * (0.4 + 0.6 * open_sky)
    return (
        _channel(0, blend, dye[thread, 0], key, open_sky, sides, gloss),
        _channel(1, blend, dye[thread, 1], key, open_sky, sides, gloss),
        _channel(2, blend, dye[thread, 2], key, open_sky, sides, gloss),
    )


@njit(cache=True, nogil=True, inline="always")
def _arctan(x: float) -> float:
    """The arc tangent within 1e-5 (Abramowitz & Stegun 1964, 4.4.49), at a fraction of its cost."""
    a = abs(x)
    t = 1.0 / a if a > 1.0 else a
    q = t * t
    y = t * (0.9998660 + q * (-0.3302995 + q * (0.1801410 + q * (-0.0851330 + q * 0.0208351))))
    if a > 1.0:
        y = 0.5 * np.pi - y
    return -y if x < 0.0 else y


@njit(cache=True, nogil=True, inline="always")
def _channel(
    channel: int,
    blend: NDArray[np.float32],
    albedo: float,
    key: float,
    open_sky: float,
    sides: float,
    gloss: float,
) -> float:
    """One colour of a thread's light, from the table's columns."""
    body = tinted(blend[6 + channel], blend[9 + channel], albedo, key, open_sky)
    skin = blend[channel] * key + blend[3 + channel] * open_sky
    return float(albedo * body * sides + gloss * skin)


@njit(cache=True, nogil=True, inline="always")
def tinted(by_key: float, by_rest: float, albedo: float, key: float, open_sky: float) -> float:
    """Light in the dye: what is blocked reaches it by way of its neighbours, tinted once more."""
    bounced_key = key / (1.0 - 0.75 * albedo * (1.0 - key))
    bounced_sky = open_sky / (1.0 - 0.75 * albedo * (1.0 - open_sky))
    return by_key * bounced_key + by_rest * bounced_sky
