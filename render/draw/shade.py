"""Light on the topmost thread of each pixel, in linear light, white card = 1."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numba import njit

from render.draw.filaments import COLS, FUZZ, HAIR, PER_MM, ROWS, STREAK, UNIT
from render.draw.grain import mix32, noise2
from render.draw.profile import ASIDE, HOLE, PHASE, SLIMNESS, TILT
from render.draw.sheen import AZIMUTH_STEPS, ROLL_LIMIT_DEG, ROLL_STEPS, TILT_LIMIT_DEG, TILT_STEPS

if TYPE_CHECKING:
    from numpy.typing import NDArray

AZIMUTH_BITS = 8  # azimuths are whole numbers of 5/256 degree, so quarter turns are exact
AZIMUTH_UNIT = 1 << AZIMUTH_BITS
LEVELS = 2.0**22  # steps of light between black and white while summing
PLY_ROLL_RAD = 0.42  # how far a ply's roundness turns the surface at its edge (estimate)
GROOVE_DEPTH = 0.17
# By place across a thread, in steps from its middle: the angle around it, and how far its
# flattened top turns its surface.
ROUND_STEPS = 1024
_V = np.minimum(np.arange(ROUND_STEPS + 2) / ROUND_STEPS, 0.999)
ROUND = np.stack([np.arcsin(_V), np.arctan(0.35 * _V / np.sqrt(1 - _V * _V))], 1)
WALLS = 0.55  # of the light that gaps between threads keep from cloth, what comes by way of them (estimate)
WOUND_PER_MM = 3.2  # turns of the foil of metallic thread (estimate)
COLUMN_EDGE = 0.22  # darkening towards a thread's sides, where it turns under


@njit(cache=True, nogil=True)
def shade(
    strand: NDArray[np.int32],
    height: NDArray[np.float32],
    lit: NDArray[np.float32],
    sky: NDArray[np.float32],
    start: NDArray[np.float64],
    run: NDArray[np.float64],
    geometry: NDArray[np.float64],
    azimuth: NDArray[np.int64],
    grain: NDArray[np.uint32],
    profile: NDArray[np.float32],
    first: NDArray[np.int64],
    dye: NDArray[np.float64],
    tables: NDArray[np.float32],
    kind: NDArray[np.int64],
    texture: NDArray[np.int16],
    frame: NDArray[np.float64],
    supersample: int,
    thread_linear: NDArray[np.float32],
    cloth_share: NDArray[np.float32],
    covered: NDArray[np.float32],
) -> None:
    """Sum thread radiance and open cloth over the sub-pixels of each pixel.

    A pixel is blocks of two by two sub-pixels. Those of a block that show the same strand are shaded
    as one, at their middle. `lit` and `sky (2, rows, cols)` say how much of the key lamp and of the dome
    reaches the highest strand of each block, and what lies lower.

    Per strand: `start` and `run` in sub-pixels, see `PixelStrands`, `geometry (N, 4)` length mm,
    thread length before it, twist in turns per mm (Z positive), thread index; `azimuth` in 1/256
    table steps. Per thread: `dye (T, 6)` RGB albedo, gloss, flake, fuzz; `kind (T,)` which of the
    sheen tables, `tables` all of them in one flat row. `texture` are the `filaments`; `frame` is (y of
    the first sub-pixel, x of it, key share of the cloth's light). Fills `thread_linear (rows, cols, 3)`,
    `cloth_share` and `covered (rows, cols)`.
    """
    rows, cols = covered.shape
    y0, x0, key_share = frame[0], frame[1], frame[2]
    share = 1.0 / (supersample * supersample)
    blend = np.empty(12, np.float32)
    name = np.empty(4, np.int64)
    for row in range(rows):
        for col in range(cols):
            red = green = blue = light = 0.0
            open_parts = 0
            for block in range(supersample * supersample // 4):
                r = row * supersample + 2 * (block // (supersample // 2))
                c = col * supersample + 2 * (block % (supersample // 2))
                highest = max(
                    max(height[r, c], height[r, c + 1]), max(height[r + 1, c], height[r + 1, c + 1])
                )
                name[0], name[1] = strand[r, c], strand[r, c + 1]
                name[2], name[3] = strand[r + 1, c], strand[r + 1, c + 1]
                done = 0
                for at in range(4):
                    if done & (1 << at):
                        continue
                    i, many, down, right = name[at], 0, 0, 0
                    lower = 1
                    for other in range(at, 4):
                        if name[other] == i:
                            if height[r + (other >> 1), c + (other & 1)] == highest:
                                lower = 0
                            done |= 1 << other
                            many += 1
                            down += other >> 1
                            right += other & 1
                    key, open_sky = float(lit[lower, r >> 1, c >> 1]), float(sky[lower, r >> 1, c >> 1])
                    # Summed in whole numbers: the same in any order, however the design is turned.
                    if i < 0:
                        open_parts += many
                        bright = key_share * key + (1.0 - key_share) * open_sky
                        # Between threads cloth is lit by them as well: light is kept in by their walls.
                        light += np.rint(bright / (1.0 - WALLS * (1.0 - bright)) * LEVELS) * many
                        continue
                    x = x0 + (c + right / many) - start[i, 0]
                    y = y0 + (r + down / many) - start[i, 1]
                    place, v = _place(i, x, y, run, profile, first)
                    one, two, three = _thread_radiance(
                        i,
                        place,
                        v,
                        key,
                        open_sky,
                        geometry,
                        azimuth,
                        grain,
                        profile,
                        first,
                        dye,
                        tables,
                        kind,
                        texture,
                        blend,
                    )
                    red += np.rint(one * LEVELS) * many
                    green += np.rint(two * LEVELS) * many
                    blue += np.rint(three * LEVELS) * many
            thread_linear[row, col, 0] = red * share / LEVELS
            thread_linear[row, col, 1] = green * share / LEVELS
            thread_linear[row, col, 2] = blue * share / LEVELS
            cloth_share[row, col] = light * share / LEVELS
            covered[row, col] = 1.0 - open_parts * share


@njit(cache=True, nogil=True, inline="always")
def _place(
    i: int,
    x: float,
    y: float,
    run: NDArray[np.float64],
    profile: NDArray[np.float32],
    first: NDArray[np.int64],
) -> tuple[float, float]:
    """Where along, in [0, 1], and across, in [-1, 1], strand i a point x, y from its start lies."""
    place = min(max((x * run[i, 0] + y * run[i, 1]) / run[i, 2], 0.0), 1.0)
    k = place * (first[i + 1] - first[i] - 1)
    k0 = min(int(k), first[i + 1] - first[i] - 2)
    here = first[i] + k0
    slim = profile[here, SLIMNESS] + (profile[here + 1, SLIMNESS] - profile[here, SLIMNESS]) * (k - k0)
    aside = profile[here, ASIDE] + (profile[here + 1, ASIDE] - profile[here, ASIDE]) * (k - k0)
    return place, (y * run[i, 0] - x * run[i, 1] - aside) * slim


@njit(cache=True, nogil=True, inline="always")
def thread_surface(
    i: int,
    place: float,
    v: float,
    geometry: NDArray[np.float64],
    azimuth: NDArray[np.int64],
    grain: NDArray[np.uint32],
    profile: NDArray[np.float32],
    first: NDArray[np.int64],
    dye: NDArray[np.float64],
    texture: NDArray[np.int16],
) -> tuple[int, float, float, float, float, float]:
    """How the filaments of strand i lie at `place` along and `v` across it.

    Azimuth in 1/256 table steps, tilt and roll in degrees; lightness of the streak, of the groove
    between plies, and a number about 0 for single filaments.
    """
    length, thread, word = geometry[i, 0], int(geometry[i, 3]), int(grain[i])
    hand = 1.0 if geometry[i, 2] >= 0.0 else -1.0
    v = min(max(v, -0.999), 0.999)
    step = int(abs(v) * ROUND_STEPS + 0.5)
    around, facing = ROUND[step, 0], ROUND[step, 1]
    if v < 0.0:
        around, facing = -around, -facing
    n = first[i + 1] - first[i]
    k = place * (n - 1)
    k0 = min(int(k), n - 2)
    w, here = k - k0, first[i] + k0
    # Where in the twist: position within the ply in [-1, 1], its edges are the grooves.
    phase = around / np.pi + profile[here, PHASE] + (profile[here + 1, PHASE] - profile[here, PHASE]) * w
    ply = 2.0 * (phase - np.floor(phase + 0.5))
    edge = ply * ply
    groove = 1.0 - GROOVE_DEPTH * edge * edge * (1.0 - 0.6 * v * v)
    groove *= profile[here, HOLE] + (profile[here + 1, HOLE] - profile[here, HOLE]) * w
    # Each strand shows another place of the filaments.
    steps, turn = place * length * PER_MM, (hand * around / np.pi + 0.5) * (COLS - 1)
    down, right = int(steps), int(turn)
    p, q = steps - down, turn - right
    down += mix32(word)
    w00, w01, w10, w11 = (
        (1.0 - p) * (1.0 - q) * UNIT,
        (1.0 - p) * q * UNIT,
        p * (1.0 - q) * UNIT,
        p * q * UNIT,
    )
    one, two = texture[down & (ROWS - 1), right], texture[down & (ROWS - 1), right + 1]
    three, four = texture[(down + 1) & (ROWS - 1), right], texture[(down + 1) & (ROWS - 1), right + 1]
    streak = w00 * one[STREAK] + w01 * two[STREAK] + w10 * three[STREAK] + w11 * four[STREAK]
    hair = w00 * one[HAIR] + w01 * two[HAIR] + w10 * three[HAIR] + w11 * four[HAIR]
    flake, fuzz = dye[thread, 4], dye[thread, 5]
    tone = 1.0 + 0.06 * streak + 0.26 * hair + 0.05 * (((word >> 8) & 255) / 255.0 - 0.5)
    # Tangent: azimuth of the strand, small wander of filaments, tilt from its height.
    wander = streak * 2.5 + hair * 6.0 + (((word >> 16) & 255) / 255.0 - 0.5) * 3.0
    if fuzz > 0.0:
        stray = w00 * one[FUZZ] + w01 * two[FUZZ] + w10 * three[FUZZ] + w11 * four[FUZZ]
        wander += fuzz * 14.0 * stray
    facet = 0.0
    if flake > 0.0:
        s = geometry[i, 1] + place * length
        name = (word & 0xFFFF) + 0x51A3 + 31
        # Foil winds round the core in a flat strip: each turn of it lies a little differently.
        wound = s * WOUND_PER_MM + hand * around / np.pi
        strip = np.floor(wound)
        facet = flake * noise2(strip * 3.7, around * 1.3 + s * 0.7, name)
        seam = 2.0 * (wound - strip) - 1.0
        groove *= 1.0 - 0.3 * flake * seam**8
        wander += facet * 18.0
    tilt = profile[here, TILT] + (profile[here + 1, TILT] - profile[here, TILT]) * w + facet * 14.0
    roll = np.rad2deg(facing + PLY_ROLL_RAD * ply * (1.0 - v * v))
    return azimuth[i] + int(np.rint(hand * wander * (AZIMUTH_UNIT / 5.0))), tilt, roll, tone, groove, hair


@njit(cache=True, nogil=True, inline="always")
def _thread_radiance(
    i: int,
    place: float,
    v: float,
    key: float,
    open_sky: float,
    geometry: NDArray[np.float64],
    azimuth: NDArray[np.int64],
    grain: NDArray[np.uint32],
    profile: NDArray[np.float32],
    first: NDArray[np.int64],
    dye: NDArray[np.float64],
    tables: NDArray[np.float32],
    kind: NDArray[np.int64],
    texture: NDArray[np.int16],
    blend: NDArray[np.float32],
) -> tuple[float, float, float]:
    """Radiance of one point of strand i: twist, filaments, table look-up, dye."""
    thread = int(geometry[i, 3])
    az, tilt, roll, tone, groove, hair = thread_surface(
        i, place, v, geometry, azimuth, grain, profile, first, dye, texture
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
