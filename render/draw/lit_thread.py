"""Light on many places of threads at a time, step by step, in linear light, white card = 1.

What is known of the places lies in rows, see `place_rows`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart, Lent
from render.columns import EIGHT, mix_eight, turn_eight
from render.compiled import njit
from render.draw.dye import body_light
from render.draw.lying import lie, stray, wind
from render.draw.place_rows import (
    BATCH,
    BLUE,
    GLINTS,
    GREEN,
    GROOVE,
    KEY,
    LEVELS,
    LIGHTNESS,
    NEXT,
    OF_STRAND,
    RED,
    ROLLED,
    SAMPLE,
    SHARES,
    SHEEN,
    SHOWN,
    SKY,
    STEP,
    STRAND,
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
    turned_by,
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
WIDE_SHOWN = 4  # numbers of a row of what shows by thickness: with the next row as many as are looked up
_THREAD, _AZIMUTH, _HAND = OF_STRAND + BATCH * THREAD, OF_STRAND + BATCH * AZIMUTH, STRAND + BATCH * HAND
_f = np.float32
_i = np.int32


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Lent)
def light_threads(
    count: int,
    places: Floats,
    names: Wholes,
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

    `dye (T, 6)`, `logs` and `lift` of `dye_powers`, which of the `tables`, whose rows have so many
    `channels`, is of which `kind`, `shown` what shows of a thread by its thickness, RGB and nothing, and of
    strands what `thread_surface` wants; the map of that has `spread` them out as for `lie_across`.
    """
    lie(count, places, names, numbers, wholes, profile, texture, spread)
    if fuzzy:
        stray(count, places, names, dye, texture)
    if foil:
        wind(count, places, names, numbers, wholes, dye)
    begin = 0
    while begin < count:
        # Of each row what begins with the run.
        numbers_of, names_of = places[begin:], names[begin:]
        t, run = run_of(count - begin, names_of)
        find(run, t, numbers_of, names_of, kind[t])
        mix(run, channels, numbers_of, names_of, tables)
        look_up_shown(run, numbers_of, names_of, shown)
        tint(run, t, numbers_of, channels, dye, logs, lift, key_linear)
        begin += run


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Lent)
def run_of(count: int, names: Wholes) -> tuple[Any, int]:
    """The thread of the first of so many places, and how many from there on are of it."""
    t = names[_THREAD]
    if of_others(count, t, names) == 0:
        return np.int64(t), count
    run = 1
    while run < count and names[_THREAD + run] == t:
        run += 1
    return np.int64(t), run


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def of_others(count: int, t: Any, names: Wholes) -> Any:
    """How many places are of other threads than t."""
    others = _i(0)
    for j in range(count):
        others += _i(names[_THREAD + j] != t)
    return others


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def find(count: int, t: Any, places: Floats, names: Wholes, kind: Any) -> None:
    """Between which samples of the sheen of that `kind` each place lies, and how much it shows of each of the
    eight; and at which step of what shows of thread t."""
    first, steps = kind * AZIMUTH_STEPS, _i(t * STEPS)
    for j in range(count):
        azimuth = names[_AZIMUTH + j] + turned_by(places[_HAND + j] * places[STRAY + j])
        azimuth += FULL_TURN if azimuth < 0 else 0
        azimuth -= FULL_TURN if azimuth >= FULL_TURN else 0
        step = azimuth >> AZIMUTH_BITS
        after = 0 if step + 1 == AZIMUTH_STEPS else step + 1
        tilt = (places[TILTED + j] + _f(TILT_LIMIT_DEG)) * _f((TILT_STEPS - 1) / (2.0 * TILT_LIMIT_DEG))
        roll = (places[ROLLED + j] + _f(ROLL_LIMIT_DEG)) * _f((ROLL_STEPS - 1) / (2.0 * ROLL_LIMIT_DEG))
        tilt = min(max(tilt, NONE), _f(TILT_STEPS - 1.001))
        roll = min(max(roll, NONE), _f(ROLL_STEPS - 1.001))
        whole, r = _i(tilt), _i(roll)
        names[SAMPLE + j] = _i(((first + step) * TILT_STEPS + whole) * ROLL_STEPS + r)
        names[NEXT + j] = _i(((first + after) * TILT_STEPS + whole) * ROLL_STEPS + r)
        names[STEP + j] = steps + _i(places[THICK + j])
        fa, ft, fr = _f(azimuth & (AZIMUTH_UNIT - 1)) * _f(1.0 / AZIMUTH_UNIT), tilt - _f(whole), roll - _f(r)
        ga, gt, gr = ONE - fa, ONE - ft, ONE - fr
        low, high, low_after, high_after = ga * gt, ga * ft, fa * gt, fa * ft
        places[SHARES + j], places[SHARES + BATCH + j] = low * gr, low * fr
        places[SHARES + 2 * BATCH + j], places[SHARES + 3 * BATCH + j] = high * gr, high * fr
        places[SHARES + 4 * BATCH + j], places[SHARES + 5 * BATCH + j] = low_after * gr, low_after * fr
        places[SHARES + 6 * BATCH + j], places[SHARES + 7 * BATCH + j] = high_after * gr, high_after * fr


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def mix(count: int, channels: int, places: Floats, names: Wholes, tables: Floats) -> None:
    """The sheen of each place, between its eight samples around: eight channels of eight places at a time."""
    eights, down = count // EIGHT * EIGHT, ROLL_STEPS * channels
    for first in range(0, channels, EIGHT):
        own, to = tables[first:], SHEEN + BATCH * first
        for j in range(0, eights, EIGHT):
            mix_eight(own, names, SAMPLE + j, NEXT + j, channels, down, places, SHARES + j, to + j, BATCH)
        for j in range(eights, count):
            low, high = np.int64(names[SAMPLE + j]) * channels, np.int64(names[NEXT + j]) * channels
            for k in range(EIGHT):
                value = NONE
                for m in range(0, EIGHT, 2):
                    at = (high if m & 4 else low) + (down if m & 2 else 0) + k
                    one, two = places[SHARES + m * BATCH + j], places[SHARES + (m + 1) * BATCH + j]
                    both = one * own[at] + two * own[at + channels]
                    value = value + both if m else both
                places[to + BATCH * k + j] = value


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def look_up_shown(count: int, places: Floats, names: Wholes, shown: Floats) -> None:
    """Put what shows at the steps of thickness before and after each place into columns."""
    eights = count // EIGHT * EIGHT
    for j in range(0, eights, EIGHT):
        turn_eight(shown, names, STEP + j, WIDE_SHOWN, places, SHOWN + j, BATCH)
    for j in range(eights, count):
        at = np.int64(names[STEP + j]) * WIDE_SHOWN
        for k in range(EIGHT):
            places[SHOWN + BATCH * k + j] = shown[at + k]


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def tint(
    count: int,
    t: Any,
    places: Floats,
    channels: int,
    dye: Floats,
    logs: Floats,
    lift: Floats,
    key_linear: Floats,
) -> None:
    """What each place of thread t sends of the light that reaches it, dyed."""
    red, green, blue = key_linear[0], key_linear[1], key_linear[2]
    t = np.uintp(t)
    # From a column of red to that of green, and from red of the surface to red of the volume.
    step = 0 if channels == NEUTRAL else BATCH
    around, body = SHEEN + BATCH * REST, SHEEN + BATCH * (REST + 1) + step + step
    for j in range(count):
        key, sky, groove = places[KEY + j], places[SKY + j], places[GROOVE + j]
        gloss, seen = dye[t, 3] * groove * places[GLINTS + j], min(sky, ONE)
        gloss *= _f(0.4) + _f(0.6) * seen
        skin = gloss * places[SHEEN + BATCH * SKIN + j] * key
        volume = places[SHEEN + BATCH * VOLUME + j]
        # What a groove keeps of the dye's light comes back by way of its walls, as what neighbours keep.
        tone, key_in, sky_in = places[LIGHTNESS + j], key * groove, sky * groove
        deep, deeper = places[SHEEN + BATCH * BY_KEY + j], places[SHEEN + BATCH * BY_REST + j]
        part = places[THICK + j] - _f(_i(places[THICK + j]))
        red_in, green_in, blue_in = places[body + j], places[body + step + j], places[body + 2 * step + j]
        one = body_light(t, 0, volume * red, red_in, deep, deeper, dye, logs, lift, key_in, sky_in)
        two = body_light(t, 1, volume * green, green_in, deep, deeper, dye, logs, lift, key_in, sky_in)
        three = body_light(t, 2, volume * blue, blue_in, deep, deeper, dye, logs, lift, key_in, sky_in)
        one *= tone * _showing(places, j, 0, part)
        two *= tone * _showing(places, j, 1, part)
        three *= tone * _showing(places, j, 2, part)
        by_rest = gloss * seen
        places[RED + j] = _in_levels(one + (skin * red + by_rest * places[around + j]))
        places[GREEN + j] = _in_levels(two + (skin * green + by_rest * places[around + step + j]))
        places[BLUE + j] = _in_levels(three + (skin * blue + by_rest * places[around + 2 * step + j]))


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _in_levels(light: Any) -> Any:
    return np.rint(min(light, _f(BRIGHTEST)) * _f(LEVELS))


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _showing(places: Floats, j: Any, channel: int, part: Any) -> Any:
    """What shows of a thread between two steps of thickness."""
    here = places[SHOWN + BATCH * channel + j]
    return here + (places[SHOWN + BATCH * (WIDE_SHOWN + channel) + j] - here) * part
