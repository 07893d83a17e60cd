"""Light on the topmost thread of each pixel, in linear light, white card = 1.

Numbers are single precision throughout, and indices unsigned where they can be: both make for
shorter machine code, and this is where most of a picture's time goes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numba import njit

from render.draw.dye import dye_left, dye_powers
from render.draw.filaments import COLS, FUZZ, HAIR, ROWS, STREAK, UNIT
from render.draw.grain import noise1, noise2
from render.draw.profile import ASIDE, HOLE, PHASE, SLIMNESS, TILT
from render.draw.sheen import AZIMUTH_STEPS, ROLL_LIMIT_DEG, ROLL_STEPS, TILT_LIMIT_DEG, TILT_STEPS

if TYPE_CHECKING:
    from numpy.typing import NDArray

AZIMUTH_BITS = 8  # azimuths are whole numbers of 5/256 degree, so quarter turns are exact
AZIMUTH_UNIT = 1 << AZIMUTH_BITS
FULL_TURN = AZIMUTH_STEPS * AZIMUTH_UNIT
LEVELS = 2.0**22  # steps of light between black and white while summing
# How far a ply's roundness turns the surface, and what the valley beside it keeps of the light: its filaments
# bulge into the valley, which has no sharp bottom (as path-traced plies show it).
PLY_ROLL_DEG = 12.0
GROOVE_DEPTH = 0.15
# Filaments turn back within their ply, so they follow this share of its turns about the thread: what the path
# tracer's filaments on the outside do.
FOLLOW = 0.3
PLY_ROWS = 181  # from a ply's filaments in their picture to those of the next
# By place across a thread, in steps from its middle: the angle around it in half-turns, and how
# many degrees its flattened top turns its surface.
ROUND_STEPS = 1024
_V = np.minimum(np.arange(ROUND_STEPS + 2) / ROUND_STEPS, 0.999)
ROUND = np.stack([np.arcsin(_V) / np.pi, np.rad2deg(np.arctan(0.35 * _V / np.sqrt(1 - _V * _V)))], 1)
ROUND = ROUND.astype(np.float32)
# Of the light that gaps between threads keep from cloth, what comes by way of them (as path-traced, for a
# thread of middling lightness).
WALLS = 0.3
# Turns of the foil of metallic thread, by how many they run ahead and behind over a millimetre (estimates).
WOUND_PER_MM, WOUND_WANDER = 2.6, 0.4
# Darkening towards a thread's sides, where fewer filaments lie behind each other: as path-traced threads of
# tests/reference show it.
EDGE_DARK = 0.5
# Columns of the numbers of a strand: its direction, samples of its profile a pixel, the last of them,
# rows of the filaments a sample, its own tone and wander in degrees, hand, mm a sample, mm before it.
RIGHT, DOWN, PER_PX, LAST, PER_SAMPLE, TONE, WANDER, HAND, MM, BEFORE, NUMBERS = range(11)
# And of its whole numbers: first sample, azimuth, first row of the filaments, thread, random word.
FIRST, AZIMUTH, ROW, THREAD, WORD, WHOLES = range(6)
# Channels of the packed sheen: surface and volume by the key lamp, RGB of each by all else.
CHANNELS = 10
ONE, NONE = np.float32(1.0), np.float32(0.0)
_f = np.float32


@njit(cache=True, nogil=True, error_model="numpy")
def shade(
    strand: NDArray[np.int32],
    height: NDArray[np.float32],
    lit: NDArray[np.float32],
    sky: NDArray[np.float32],
    start: NDArray[np.float64],
    numbers: NDArray[np.float32],
    wholes: NDArray[np.int32],
    profile: NDArray[np.float32],
    dye: NDArray[np.float32],
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

    Per strand: `start` in sub-pixels, `numbers` and `wholes` as named above. Per thread: `dye (T, 6)`
    RGB albedo, gloss, flake, fuzz; `kind (T,)` which of the sheen `tables`, all of them packed
    one after the other (E, 8). `texture` are the `filaments`; `frame` is (y of the first sub-pixel, x of
    it, key share of the cloth's light, RGB of the key lamp). Fills `thread_linear
    (rows, cols, 3)`, `cloth_share` and `covered (rows, cols)`.
    """
    rows, cols = covered.shape
    y0, x0, key_share = frame[0], frame[1], frame[2]
    key_red, key_green, key_blue = _f(frame[3]), _f(frame[4]), _f(frame[5])
    share, half = 1.0 / (supersample * supersample), supersample // 2
    blend = np.empty(CHANNELS, np.float32)
    runs = np.empty((4, 5), np.int64)
    logs, lift = dye_powers(dye[:, :3])
    for row in range(rows):
        for col in range(cols):
            red = green = blue = light = 0.0
            open_parts = 0
            for block in range(half * half):
                down = 0 if half == 1 else block // half
                r, c = row * supersample + 2 * down, col * supersample + 2 * (block - half * down)
                for at in range(_runs(strand, height, r, c, runs)):
                    i, many, lower = runs[at, 0], runs[at, 1], runs[at, 4]
                    key, open_sky = lit[lower, r >> 1, c >> 1], sky[lower, r >> 1, c >> 1]
                    # Summed in whole numbers: the same in any order, however the design is turned.
                    if i < 0:
                        open_parts += many
                        bright = key_share * key + (1.0 - key_share) * open_sky
                        # Between threads cloth is lit by them as well: light is kept in by their walls.
                        light += np.rint(bright / (1.0 - WALLS * (1.0 - bright)) * LEVELS) * many
                        continue
                    u = np.uintp(i)
                    x = _f(x0 + (c + runs[at, 3] / many) - start[u, 0])
                    y = _f(y0 + (r + runs[at, 2] / many) - start[u, 1])
                    k, v = _place(u, x, y, numbers, wholes, profile)
                    t = np.uintp(wholes[u, THREAD])
                    azimuth, tilt, roll, tone, groove, hair = thread_surface(
                        u, k, v, numbers, wholes, profile, dye[t, 4], dye[t, 5], texture
                    )
                    _look_up(tables, kind[t], azimuth, tilt, roll, blend)
                    sides = tone * groove
                    gloss = dye[t, 3] * groove * max(ONE + _f(0.7) * hair, NONE)
                    gloss *= _f(0.4) + _f(0.6) * open_sky
                    skin, volume = gloss * blend[0] * key, blend[1]
                    one = _body(volume * key_red, blend, 0, t, dye, logs, lift, key, open_sky) * sides
                    two = _body(volume * key_green, blend, 1, t, dye, logs, lift, key, open_sky) * sides
                    three = _body(volume * key_blue, blend, 2, t, dye, logs, lift, key, open_sky) * sides
                    one += skin * key_red + gloss * blend[2] * open_sky
                    two += skin * key_green + gloss * blend[3] * open_sky
                    three += skin * key_blue + gloss * blend[4] * open_sky
                    red += np.rint(np.float64(one) * LEVELS) * many
                    green += np.rint(np.float64(two) * LEVELS) * many
                    blue += np.rint(np.float64(three) * LEVELS) * many
            thread_linear[row, col, 0] = red * share / LEVELS
            thread_linear[row, col, 1] = green * share / LEVELS
            thread_linear[row, col, 2] = blue * share / LEVELS
            cloth_share[row, col] = light * share / LEVELS
            covered[row, col] = 1.0 - open_parts * share


@njit(cache=True, nogil=True, error_model="numpy", inline="always")
def _runs(
    strand: NDArray[np.int32], height: NDArray[np.float32], r: int, c: int, runs: NDArray[np.int64]
) -> int:
    """How many strands (or cloth) a block shows. For each: which, its sub-pixels, sums of their rows and
    columns, and 0 if it is the highest of them or 1."""
    a, b, d, e = strand[r, c], strand[r, c + 1], strand[r + 1, c], strand[r + 1, c + 1]
    if a == b and a == d and a == e:
        runs[0, 0], runs[0, 1], runs[0, 2], runs[0, 3], runs[0, 4] = a, 4, 2, 2, 0
        return 1
    highest = max(max(height[r, c], height[r, c + 1]), max(height[r + 1, c], height[r + 1, c + 1]))
    # Whole numbers, since numpy's truths add up to a truth where this runs uncompiled.
    ab, ad, ae, bd, be, de = int(a == b), int(a == d), int(a == e), int(b == d), int(b == e), int(d == e)
    is_a, is_b = height[r, c] == highest, height[r, c + 1] == highest
    is_d, is_e = height[r + 1, c] == highest, height[r + 1, c + 1] == highest
    runs[0, 0], runs[0, 1], runs[0, 2], runs[0, 3] = a, 1 + ab + ad + ae, ad + ae, ab + ae
    runs[0, 4] = not (is_a or (ab and is_b) or (ad and is_d) or (ae and is_e))
    count = 1
    if not ab:
        runs[1, 0], runs[1, 1], runs[1, 2], runs[1, 3] = b, 1 + bd + be, bd + be, 1 + be
        runs[1, 4] = not (is_b or (bd and is_d) or (be and is_e))
        count = 2
    if not (ad or bd):
        runs[count, 0], runs[count, 1], runs[count, 2], runs[count, 3] = d, 1 + de, 1 + de, 0 + de
        runs[count, 4] = not (is_d or (de and is_e))
        count += 1
    if not (ae or be or de):
        runs[count, 0], runs[count, 1], runs[count, 2], runs[count, 3] = e, 1, 1, 1
        runs[count, 4] = not is_e
        count += 1
    return count


@njit(cache=True, nogil=True, error_model="numpy", inline="always")
def _place(
    u: Any,
    x: Any,
    y: Any,
    numbers: NDArray[np.float32],
    wholes: NDArray[np.int32],
    profile: NDArray[np.float32],
) -> tuple[Any, Any]:
    """Where along strand u, in samples, and across it, in [-1, 1], a point x, y from its start lies."""
    right, down = numbers[u, RIGHT], numbers[u, DOWN]
    k = min(max((x * right + y * down) * numbers[u, PER_PX], NONE), numbers[u, LAST])
    whole = np.int64(k)
    w, here = k - _f(whole), np.uintp(wholes[u, FIRST] + whole)
    following = here + np.uintp(1)
    slim = profile[here, SLIMNESS] + (profile[following, SLIMNESS] - profile[here, SLIMNESS]) * w
    aside = profile[here, ASIDE] + (profile[following, ASIDE] - profile[here, ASIDE]) * w
    return k, min(max((y * right - x * down - aside) * slim, _f(-0.999)), _f(0.999))


@njit(cache=True, nogil=True, error_model="numpy", inline="always")
def thread_surface(
    u: Any,
    k: Any,
    v: Any,
    numbers: NDArray[np.float32],
    wholes: NDArray[np.int32],
    profile: NDArray[np.float32],
    flake: Any,
    fuzz: Any,
    texture: NDArray[np.int16],
) -> tuple[Any, Any, Any, Any, Any, Any]:
    """How the filaments of strand u lie at sample `k` along and `v` across it.

    Azimuth in 1/256 table steps, tilt and roll in degrees; lightness of the streak, of the grooves
    between plies and of the sides, and a number about 0 for single filaments.
    """
    hand = numbers[u, HAND]
    step = np.uintp(abs(v) * _f(ROUND_STEPS) + _f(0.5))
    around, facing = ROUND[step, 0], ROUND[step, 1]
    if v < NONE:
        around, facing = -around, -facing
    whole = np.int64(k)
    w, here = k - _f(whole), np.uintp(wholes[u, FIRST] + whole)
    following = here + np.uintp(1)
    # Where in the twist: position within the ply in [-1, 1], its edges are the grooves.
    phase = around + profile[here, PHASE] + (profile[following, PHASE] - profile[here, PHASE]) * w
    ply = _f(2.0) * (phase - np.floor(phase + _f(0.5)))
    edge = ply * ply
    square = v * v
    groove = ONE - _f(GROOVE_DEPTH) * edge * edge * (ONE - _f(0.6) * square)
    groove *= ONE - _f(EDGE_DARK) * square * square
    groove *= profile[here, HOLE] + (profile[following, HOLE] - profile[here, HOLE]) * w
    # Each strand shows another place of the filaments, and its plies others still.
    steps, turn = k * numbers[u, PER_SAMPLE], hand * (around + _f(FOLLOW) * (phase - around)) * _f(COLS)
    down, right = np.int64(steps), np.int64(np.floor(turn))
    p, q = steps - _f(down), turn - _f(right)
    down += PLY_ROWS * np.int64(np.floor(phase + _f(0.5)))
    top = np.uintp((down + wholes[u, ROW]) & (ROWS - 1))
    low = (top + np.uintp(1)) & np.uintp(ROWS - 1)
    left = np.uintp(right & (COLS - 1))
    streak = _between(texture, top, low, left, STREAK, p, q)
    hair = _between(texture, top, low, left, HAIR, p, q)
    tone = ONE + _f(0.06) * streak + _f(0.26) * hair + numbers[u, TONE]
    # Tangent: azimuth of the strand, small wander of filaments, tilt from its height.
    wander = _f(2.5) * streak + _f(6.0) * hair + numbers[u, WANDER]
    if fuzz > NONE:
        wander += fuzz * _f(14.0) * _between(texture, top, low, left, FUZZ, p, q)
    tilt = profile[here, TILT] + (profile[following, TILT] - profile[here, TILT]) * w
    if flake > NONE:
        s = numbers[u, BEFORE] + k * numbers[u, MM]
        # Foil winds round the core in a flat strip: each turn of it lies a little differently.
        # Half of it is seen, and where it begins is by chance.
        name = (wholes[u, WORD] & 0xFFFF) + 0x51A3 + 31
        wound = s * _f(WOUND_PER_MM) + hand * _f(0.5) * around + _f(wholes[u, WORD]) * _f(1.0 / 65536.0)
        wound += _f(WOUND_WANDER) * _f(noise1(s, name))
        strip = np.floor(wound)
        facet = flake * _f(noise2(strip * 3.7, around * np.pi * 1.3 + s * 0.7, name))
        seam = _f(2.0) * (wound - strip) - ONE
        groove *= ONE - _f(0.22) * flake * seam**8
        wander += facet * _f(18.0)
        tilt += facet * _f(14.0)
    roll = facing + _f(PLY_ROLL_DEG) * _f(1.87) * ply * (ONE - edge * edge) * (ONE - square)
    azimuth = wholes[u, AZIMUTH] + np.int64(np.rint(hand * wander * _f(AZIMUTH_UNIT / 5.0)))
    return azimuth, tilt, roll, tone, groove, hair


@njit(cache=True, nogil=True, error_model="numpy", inline="always")
def _between(texture: NDArray[np.int16], top: Any, low: Any, left: Any, channel: int, p: Any, q: Any) -> Any:
    """One channel of the filaments between four samples."""
    right = (left + np.uintp(1)) & np.uintp(COLS - 1)
    above, below = _f(texture[top, left, channel]), _f(texture[low, left, channel])
    above += (_f(texture[top, right, channel]) - above) * q
    below += (_f(texture[low, right, channel]) - below) * q
    return (above + (below - above) * p) * _f(UNIT)


@njit(cache=True, nogil=True, error_model="numpy", inline="always")
def _look_up(
    tables: NDArray[np.float32],
    kind: Any,
    azimuth: Any,
    tilt: Any,
    roll: Any,
    blend: NDArray[np.float32],
) -> None:
    """Fill `blend` with the sheen of one kind, between its eight samples around."""
    azimuth += FULL_TURN if azimuth < 0 else 0
    azimuth -= FULL_TURN if azimuth >= FULL_TURN else 0
    step = azimuth >> AZIMUTH_BITS
    after = 0 if step + 1 == AZIMUTH_STEPS else step + 1
    fa = _f(azimuth & (AZIMUTH_UNIT - 1)) * _f(1.0 / AZIMUTH_UNIT)
    ut = (tilt + _f(TILT_LIMIT_DEG)) * _f((TILT_STEPS - 1) / (2.0 * TILT_LIMIT_DEG))
    ur = (roll + _f(ROLL_LIMIT_DEG)) * _f((ROLL_STEPS - 1) / (2.0 * ROLL_LIMIT_DEG))
    ut = min(max(ut, NONE), _f(TILT_STEPS - 1.001))
    ur = min(max(ur, NONE), _f(ROLL_STEPS - 1.001))
    t, r = np.int64(ut), np.int64(ur)
    ft, fr = ut - _f(t), ur - _f(r)
    low = np.uintp(((kind * AZIMUTH_STEPS + step) * TILT_STEPS + t) * ROLL_STEPS + r)
    high = np.uintp(((kind * AZIMUTH_STEPS + after) * TILT_STEPS + t) * ROLL_STEPS + r)
    one, up = np.uintp(1), np.uintp(ROLL_STEPS)
    ga, gt, gr = ONE - fa, ONE - ft, ONE - fr
    w0, w1, w2, w3 = ga * gt * gr, ga * gt * fr, ga * ft * gr, ga * ft * fr
    w4, w5, w6, w7 = fa * gt * gr, fa * gt * fr, fa * ft * gr, fa * ft * fr
    # All channels at a time, which the compiler turns into vector instructions.
    for j in range(CHANNELS):
        blend[j] = w0 * tables[low, j] + w1 * tables[low + one, j]
        blend[j] += w2 * tables[low + up, j] + w3 * tables[low + up + one, j]
        blend[j] += w4 * tables[high, j] + w5 * tables[high + one, j]
        blend[j] += w6 * tables[high + up, j] + w7 * tables[high + up + one, j]


@njit(cache=True, nogil=True, error_model="numpy", inline="always")
def _body(
    by_key: Any,
    blend: NDArray[np.float32],
    channel: int,
    t: Any,
    dye: NDArray[np.float32],
    logs: NDArray[np.float32],
    lift: NDArray[np.float32],
    key: Any,
    open_sky: Any,
) -> Any:
    """One channel of the light from within thread t, of what `_look_up` found; `by_key` is the lamp's."""
    by_key *= lift[t, channel] * dye_left(logs[t, channel], blend[8])
    by_rest = blend[5 + channel] * lift[t, channel] * dye_left(logs[t, channel], blend[9])
    return tinted(by_key, by_rest, dye[t, channel], key, open_sky)


@njit(cache=True, nogil=True, error_model="numpy", inline="always")
def tinted(by_key: Any, by_rest: Any, albedo: Any, key: Any, open_sky: Any) -> Any:
    """Light that the dye has left: what is blocked reaches it by way of its neighbours, tinted once more."""
    again = _f(0.75) * albedo
    bounced_key = key / (ONE - again * (ONE - key))
    bounced_sky = open_sky / (ONE - again * (ONE - open_sky))
    return by_key * bounced_key + by_rest * bounced_sky
