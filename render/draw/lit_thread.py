"""Light on many places of threads at a time, step by step, in linear light, white card = 1.

What is known of the places lies in rows, see `place_rows`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart, Lent
from render.compiled import njit
from render.draw.dye import body_light
from render.draw.lying import lie, stray, wind
from render.draw.place_rows import (
    BLUE,
    BY_AZIMUTH,
    BY_ROLL,
    BY_TILT,
    GLINTS,
    GREEN,
    GROOVE,
    KEY,
    LEVELS,
    LIGHTNESS,
    NAME,
    NEXT,
    RED,
    ROLLED,
    SAMPLE,
    SKY,
    STRAY,
    THICK,
    TILTED,
)
from render.draw.sheen import AZIMUTH_STEPS, ROLL_LIMIT_DEG, ROLL_STEPS, TILT_LIMIT_DEG, TILT_STEPS
from render.draw.surface import (
    AZIMUTH,
    AZIMUTH_BITS,
    AZIMUTH_UNIT,
    FULL_TURN,
    HAND,
    NONE,
    ONE,
    THREAD,
    number_of,
    turned_by,
    whole_of,
)
from render.draw.thickness import STEPS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Wholes = NDArray[np.int32]

BRIGHTEST = 500.0  # what a place may send
# Columns of the packed sheen: surface and volume by the key lamp, depth of the volume by it and by all else,
# then surface and volume by all else, in RGB; where that has no colour in one number each, as `NEUTRAL`. What
# is left of a row of so many is empty.
SKIN, VOLUME, BY_KEY, BY_REST, REST = range(5)
NEUTRAL, CHANNELS = 8, 16
_f = np.float32
_i = np.int32


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Lent)
def light_threads(
    count: int,
    places: Floats,
    names: Wholes,
    sheen: Floats,
    numbers: Floats,
    wholes: Wholes,
    profile: Floats,
    dye: Floats,
    logs: Floats,
    lift: Floats,
    foil: bool,
    fuzzy: bool,
    tables: Floats,
    channels: int,
    kind: Wholes,
    shown: Floats,
    texture: Wholes,
    key_linear: Floats,
    spread: Any,
) -> None:
    """Fill in the light of `count` places, of which strand, place and light that reaches them are known.

    `sheen (BATCH * CHANNELS,)` is room to work in; `dye (T, 6)`, `logs` and `lift` of `dye_powers`, which
    of the `tables`, whose rows have so many `channels`, is of which `kind`, `shown` what shows of a thread
    by its thickness, and of strands what `thread_surface` wants; the map of that has `spread` them out as for
    `lie_across`.
    """
    lie(count, places, names, numbers, wholes, profile, texture, spread)
    if fuzzy:
        stray(count, places, names, wholes, dye, texture)
    if foil:
        wind(count, places, names, numbers, wholes, dye)
    begin = 0
    while begin < count:
        # Of each row what begins with the run.
        numbers_of, names_of = places[begin:], names[begin:]
        t, run = run_of(count - begin, names_of, wholes)
        find(run, numbers_of, names_of, numbers, wholes, kind[t])
        mix(run, channels, numbers_of, names_of, tables, sheen)
        tint(run, t, numbers_of, channels, sheen, dye, logs, lift, shown, key_linear)
        begin += run


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Lent)
def run_of(count: int, names: Wholes, wholes: Wholes) -> tuple[Any, int]:
    """The thread of the first of so many places, and how many from there on are of it."""
    t = whole_of(wholes, np.uintp(names[NAME]), THREAD)
    if of_others(count, t, names, wholes) == 0:
        return np.int64(t), count
    run = 1
    while run < count and whole_of(wholes, np.uintp(names[NAME + run]), THREAD) == t:
        run += 1
    return np.int64(t), run


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def of_others(count: int, t: Any, names: Wholes, wholes: Wholes) -> Any:
    """How many places are of other threads than t."""
    others = _i(0)
    for j in range(count):
        others += _i(whole_of(wholes, np.uintp(names[NAME + j]), THREAD) != t)
    return others


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def find(count: int, places: Floats, names: Wholes, numbers: Floats, wholes: Wholes, kind: Any) -> None:
    """Between which samples of the sheen of that `kind` each place lies."""
    first = kind * AZIMUTH_STEPS
    for j in range(count):
        u = np.uintp(names[NAME + j])
        azimuth = whole_of(wholes, u, AZIMUTH) + turned_by(number_of(numbers, u, HAND) * places[STRAY + j])
        azimuth += FULL_TURN if azimuth < 0 else 0
        azimuth -= FULL_TURN if azimuth >= FULL_TURN else 0
        step = azimuth >> AZIMUTH_BITS
        after = 0 if step + 1 == AZIMUTH_STEPS else step + 1
        tilt = (places[TILTED + j] + _f(TILT_LIMIT_DEG)) * _f((TILT_STEPS - 1) / (2.0 * TILT_LIMIT_DEG))
        roll = (places[ROLLED + j] + _f(ROLL_LIMIT_DEG)) * _f((ROLL_STEPS - 1) / (2.0 * ROLL_LIMIT_DEG))
        tilt = min(max(tilt, NONE), _f(TILT_STEPS - 1.001))
        roll = min(max(roll, NONE), _f(ROLL_STEPS - 1.001))
        t, r = _i(tilt), _i(roll)
        names[SAMPLE + j] = _i(((first + step) * TILT_STEPS + t) * ROLL_STEPS + r)
        names[NEXT + j] = _i(((first + after) * TILT_STEPS + t) * ROLL_STEPS + r)
        places[BY_AZIMUTH + j] = _f(azimuth & (AZIMUTH_UNIT - 1)) * _f(1.0 / AZIMUTH_UNIT)
        places[BY_TILT + j], places[BY_ROLL + j] = tilt - _f(t), roll - _f(r)


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def mix(count: int, channels: int, places: Floats, names: Wholes, tables: Floats, sheen: Floats) -> None:
    """The sheen of each place, between its eight samples around: all channels of one place at a time.

    Loops whose length is known would be taken apart.
    """
    right, down = np.uintp(channels), np.uintp(ROLL_STEPS * channels)
    for i in range(count):
        fa, ft, fr = places[BY_AZIMUTH + i], places[BY_TILT + i], places[BY_ROLL + i]
        low, high = right * np.uintp(names[SAMPLE + i]), right * np.uintp(names[NEXT + i])
        ga, gt, gr = ONE - fa, ONE - ft, ONE - fr
        w0, w1, w2, w3 = ga * gt * gr, ga * gt * fr, ga * ft * gr, ga * ft * fr
        w4, w5, w6, w7 = fa * gt * gr, fa * gt * fr, fa * ft * gr, fa * ft * fr
        for j in range(np.uintp(channels)):
            value = w0 * tables[low + j] + w1 * tables[low + right + j]
            value += w2 * tables[low + down + j] + w3 * tables[low + down + right + j]
            value += w4 * tables[high + j] + w5 * tables[high + right + j]
            value += w6 * tables[high + down + j] + w7 * tables[high + down + right + j]
            sheen[np.uintp(i) * np.uintp(CHANNELS) + j] = value


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def tint(
    count: int,
    t: Any,
    places: Floats,
    channels: int,
    sheen: Floats,
    dye: Floats,
    logs: Floats,
    lift: Floats,
    shown: Floats,
    key_linear: Floats,
) -> None:
    """What each place of thread t sends of the light that reaches it, dyed."""
    red, green, blue = key_linear[0], key_linear[1], key_linear[2]
    t, base = np.uintp(t), np.uintp(3 * STEPS * t)
    # From a column of red to that of green, and from red of the surface to red of the volume.
    step = np.uintp(0 if channels == NEUTRAL else 1)
    skin_red, body_red, two_steps = np.uintp(REST), np.uintp(REST + 1) + step + step, step + step
    for j in range(count):
        at = np.uintp(j * CHANNELS)
        key, sky, groove = places[KEY + j], places[SKY + j], places[GROOVE + j]
        gloss, seen = dye[t, 3] * groove * places[GLINTS + j], min(sky, ONE)
        gloss *= _f(0.4) + _f(0.6) * seen
        skin, volume = gloss * sheen[at] * key, sheen[at + np.uintp(VOLUME)]
        # What a groove keeps of the dye's light comes back by way of its walls, as what neighbours keep.
        tone, key_in, sky_in = places[LIGHTNESS + j], key * groove, sky * groove
        deep, deeper = sheen[at + np.uintp(BY_KEY)], sheen[at + np.uintp(BY_REST)]
        thick = _i(places[THICK + j])
        part, row = places[THICK + j] - _f(thick), base + np.uintp(3 * thick)
        around, body = at + skin_red, at + body_red
        red_in, green_in, blue_in = sheen[body], sheen[body + step], sheen[body + two_steps]
        one = body_light(t, 0, volume * red, red_in, deep, deeper, dye, logs, lift, key_in, sky_in)
        two = body_light(t, 1, volume * green, green_in, deep, deeper, dye, logs, lift, key_in, sky_in)
        three = body_light(t, 2, volume * blue, blue_in, deep, deeper, dye, logs, lift, key_in, sky_in)
        one *= tone * _showing(shown, row, part)
        two *= tone * _showing(shown, row + np.uintp(1), part)
        three *= tone * _showing(shown, row + np.uintp(2), part)
        by_rest = gloss * seen
        places[RED + j] = _in_levels(one + (skin * red + by_rest * sheen[around]))
        places[GREEN + j] = _in_levels(two + (skin * green + by_rest * sheen[around + step]))
        places[BLUE + j] = _in_levels(three + (skin * blue + by_rest * sheen[around + two_steps]))


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _in_levels(light: Any) -> Any:
    return np.rint(min(light, _f(BRIGHTEST)) * _f(LEVELS))


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _showing(shown: Floats, row: Any, part: Any) -> Any:
    """What shows of a thread between two steps of thickness."""
    here = shown[row]
    return here + (shown[row + np.uintp(3)] - here) * part
