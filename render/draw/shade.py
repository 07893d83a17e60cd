"""Light on the topmost thread of each pixel, in linear light, white card = 1.

Places of threads that a row of pixels shows are gathered first, then lit many at a time (`lit_thread`), and
their light is shared out to the pixels.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numba import njit

from render.apart import Apart
from render.draw.dye import bounced, dye_powers
from render.draw.lit_thread import CHANNELS, light_threads
from render.draw.place_rows import (
    BATCH,
    BLUE,
    COLUMN,
    GREEN,
    KEY,
    LEVELS,
    MANY,
    NAME,
    NAMES,
    PLACES,
    RED,
    SKY,
    THICK,
    X,
    Y,
)
from render.draw.raster import ASKEW_PX

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Wholes = NDArray[np.int32]
    Sums = NDArray[np.float64]

# What is summed of a pixel: RGB of its threads, light on its cloth, sub-pixels that show cloth.
LIGHT, OPEN, SUMS = 3, 4, 5
_f = np.float32


@njit(cache=True, nogil=True, error_model="numpy")
def shade(
    strand: Wholes,
    height: Floats,
    lit: Floats,
    sky: Floats,
    thick_mm: Floats,
    start: NDArray[np.float64],
    numbers: Floats,
    wholes: Wholes,
    profile: Floats,
    dye: Floats,
    tables: Floats,
    kind: Wholes,
    shown: Floats,
    texture: Wholes,
    frame: NDArray[np.float64],
    supersample: int,
    edge: int,
    thread_linear: Floats,
    cloth_share: Floats,
    covered: Floats,
) -> None:
    """Sum thread radiance and open cloth over the sub-pixels of each pixel.

    A pixel is blocks of two by two sub-pixels; the first begins `edge` rows and columns within `strand`
    and `height`. Those of a block that show the same strand are shaded as one, at their middle. `lit` and
    `sky (2, rows, cols)` say how much of the key lamp and of the dome reaches the highest strand of each
    block, and what lies lower; `thick_mm (rows, cols)` how much thread lies over each pixel.

    Per strand: `start` in sub-pixels, `numbers` and `wholes` as `surface` names their columns. Per thread:
    `dye (T, 6)` RGB albedo, gloss, flake, fuzz; `kind (T,)` which of the sheen `tables`, all of them
    packed one after the other (E, channels); `shown (T, STEPS, 3)` what shows of it by thickness.
    `texture` are the packed filaments; `frame` is (y of the first sub-pixel, x of it, key share of the
    cloth's light, RGB of the key lamp, what threads throw back of light on cloth between them). Fills
    `thread_linear (rows, cols, 3)`, `cloth_share` and `covered (rows, cols)`.
    """
    rows, cols = covered.shape
    share, half = 1.0 / (supersample * supersample), supersample // 2
    key_linear = frame[3:6].astype(np.float32)
    logs, lift = dye_powers(dye[:, :3])
    foil, fuzzy = bool((dye[:, 4] > 0.0).any()), bool((dye[:, 5] > 0.0).any())
    of_strands = numbers.ravel(), wholes.ravel(), profile.ravel()
    places, names, channels = np.empty(PLACES, np.float32), np.empty(NAMES, np.int32), tables.shape[1]
    sheen, open_light = np.empty(BATCH * CHANNELS, np.float32), np.empty((2, cols * half), np.int32)
    tables, texture, shown = tables.ravel(), texture.ravel(), shown.ravel()
    # Whole numbers, of which sums are exact: the same in any order, however the design is turned.
    sums = np.empty((SUMS, cols))
    for row in range(rows):
        sums[:] = 0.0
        for fine in range(half):
            r, block = row * supersample + 2 * fine, 0
            top, low = strand[r + edge, edge:], strand[r + edge + 1, edge:]
            top_mm, low_mm = height[r + edge, edge:], height[r + edge + 1, edge:]
            above, below = lit[:, r >> 1], sky[:, r >> 1]
            open_row(above[0], below[0], frame[2], frame[6], open_light[0])
            open_row(above[1], below[1], frame[2], frame[6], open_light[1])
            while block < cols * half:
                count, block = gather(
                    block,
                    half,
                    top,
                    low,
                    top_mm,
                    low_mm,
                    above,
                    below,
                    open_light,
                    thick_mm[row],
                    start,
                    frame[1],
                    frame[0] + r,
                    places,
                    names,
                    sums,
                )
                light_threads(
                    count,
                    places,
                    names,
                    sheen,
                    *of_strands,
                    dye,
                    logs,
                    lift,
                    foil,
                    fuzzy,
                    tables,
                    channels,
                    kind,
                    shown,
                    texture,
                    key_linear,
                )
                share_out(count, places, names, sums)
        out = thread_linear[row].reshape(-1), cloth_share[row], covered[row]
        settle_up(sums[0], sums[1], sums[2], sums[LIGHT], sums[OPEN], share, *out)


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def gather(
    begin: int,
    half: int,
    top: Wholes,
    low: Wholes,
    top_mm: Floats,
    low_mm: Floats,
    lit: Floats,
    sky: Floats,
    open_light: Wholes,
    thick_mm: Floats,
    start: NDArray[np.float64],
    x0: float,
    y0: float,
    places: Floats,
    names: Wholes,
    sums: Sums,
) -> tuple[int, Any]:
    """Gather what a row of blocks, two rows of sub-pixels, shows, from block `begin` on until the row or
    the batch is full: how many places, and at which block that was. Open cloth is summed at once."""
    count, stop, one = 0, np.uintp(sums.shape[1] * half), np.uintp(1)
    block = np.uintp(begin)
    while block < stop and count <= BATCH - 4:
        c = block + block
        pixel = block if half == 1 else block // np.uintp(half)
        a, b, d, e = top[c], top[c + one], low[c], low[c + one]
        if (a == b) & (a == d) & (a == e):
            # Most show one strand, or nothing but cloth.
            if a < 0:
                sums[LIGHT, pixel] += 4.0 * open_light[0, block]
                sums[OPEN, pixel] += 4.0
            else:
                u = np.uintp(a)
                x, y = _f(x0 + (c + 0.5) - start[u, 0]), _f(y0 + 0.5 - start[u, 1])
                note(count, places, names, a, pixel, 4, x, y, lit[0, block], sky[0, block], thick_mm[pixel])
                count += 1
            block += one
            continue
        highest = max(max(top_mm[c], top_mm[c + one]), max(low_mm[c], low_mm[c + one]))
        for part in range(4):
            i = a if part == 0 else b if part == 1 else d if part == 2 else e
            is_a, is_b, is_d, is_e = int(i == a), int(i == b), int(i == d), int(i == e)
            if is_a * (part > 0) + is_b * (part > 1) + is_d * (part > 2) > 0:
                continue
            many = is_a + is_b + is_d + is_e
            own = is_a * (top_mm[c] == highest) + is_b * (top_mm[c + one] == highest)
            own += is_d * (low_mm[c] == highest) + is_e * (low_mm[c + one] == highest)
            lower = int(own == 0)
            if i < 0:
                sums[LIGHT, pixel] += np.float64(open_light[lower, block]) * many
                sums[OPEN, pixel] += many
                continue
            u = np.uintp(i)
            right = is_b + is_e + ASKEW_PX * (is_a + is_b - is_d - is_e)
            down = is_d + is_e + ASKEW_PX * (is_b + is_e - is_a - is_d)
            x, y = _f(x0 + (c + right / many) - start[u, 0]), _f(y0 + down / many - start[u, 1])
            key, open_sky = lit[lower, block], sky[lower, block]
            note(count, places, names, i, pixel, many, x, y, key, open_sky, thick_mm[pixel])
            count += 1
        block += one
    return count, np.int64(block)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def note(
    at: Any,
    places: Floats,
    names: Wholes,
    i: Any,
    pixel: Any,
    many: Any,
    x: Any,
    y: Any,
    key: Any,
    open_sky: Any,
    thick_mm: Any,
) -> None:
    """Note a place of strand i."""
    places[X + at], places[Y + at] = x, y
    places[KEY + at], places[SKY + at], places[THICK + at] = key, open_sky, thick_mm
    names[NAME + at], names[COLUMN + at], names[MANY + at] = i, pixel, many


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def open_row(key: Floats, open_sky: Floats, key_share: float, walls: float, out: Wholes) -> None:
    """Light on cloth that shows between threads, whose `walls` throw so much of it back, in `LEVELS`."""
    by_key, again = _f(key_share), _f(walls)
    for c in range(len(out)):
        by_lamp, around = bounced(key[c], open_sky[c], again)
        out[c] = np.int32(np.rint((by_key * by_lamp + (_f(1.0) - by_key) * around) * _f(LEVELS)))


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def share_out(count: int, places: Floats, names: Wholes, sums: Sums) -> None:
    """Add the light of each place to its pixel's."""
    for j in range(count):
        pixel, many = np.uintp(names[COLUMN + j]), np.float64(names[MANY + j])
        sums[0, pixel] += places[RED + j] * many
        sums[1, pixel] += places[GREEN + j] * many
        sums[2, pixel] += places[BLUE + j] * many


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def settle_up(
    red: Sums,
    green: Sums,
    blue: Sums,
    light: Sums,
    open_: Sums,
    share: float,
    thread_linear: Floats,
    cloth_share: Floats,
    covered: Floats,
) -> None:
    """From the sums of a row of pixels, of which a sub-pixel is such a `share`, to their means."""
    for c in range(len(covered)):
        at = np.uintp(3 * c)
        thread_linear[at] = red[c] * (share / LEVELS)
        thread_linear[at + np.uintp(1)] = green[c] * (share / LEVELS)
        thread_linear[at + np.uintp(2)] = blue[c] * (share / LEVELS)
        cloth_share[c] = light[c] * (share / LEVELS)
        covered[c] = 1.0 - open_[c] * share
