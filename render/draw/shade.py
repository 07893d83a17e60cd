"""Light on the topmost thread of each pixel, in linear light, white card = 1.

Places of threads that a row of pixels shows are gathered first, then lit many at a time (`lit_thread`), and
their light is shared out to the pixels.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.apart import Apart, Lent
from render.compiled import njit
from render.draw.dye import dye_powers
from render.draw.gather import find_places, open_cloth, pick
from render.draw.lit_thread import WIDE_SHOWN, light_threads
from render.draw.place_rows import BLUE, COLUMN, GREEN, LEVELS, MANY, NAMES, PLACES, RED

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Wholes = NDArray[np.int32]
    Sums = NDArray[np.float64]

# What is summed of a pixel: RGB of its threads, light on its cloth, sub-pixels that show cloth.
LIGHT, OPEN, SUMS = 3, 4, 5
_f = np.float32


def shade(
    strand: Wholes,
    sets: Wholes,
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

    A pixel is blocks of two by two sub-pixels, whose `sets` are told; `edge` of them lie around the first
    within `strand` and `sets`. Those of a block that show the same strand are shaded as one, at their middle.
    `lit` and `sky (2, rows, cols)` say how much of the key lamp and of the dome reaches the highest strand of
    each block, and what lies lower; `thick_mm (rows, cols)` how much thread lies over each pixel.

    Per strand: `start` in sub-pixels, `numbers` and `wholes` as `surface` names their columns. Per thread:
    `dye (T, 6)` RGB albedo, gloss, flake, fuzz; `kind (T,)` which of the sheen `tables`, all of them
    packed one after the other (E, channels); `shown (T, STEPS, 3)` what shows of it by thickness.
    `texture` are the packed filaments; `frame` is (y of the first sub-pixel, x of it, key share of the
    cloth's light, RGB of the key lamp, what threads throw back of light on cloth between them, how
    far the map of thread has spread it out, see `lie_across`). Fills `thread_linear (rows, cols, 3)`,
    `cloth_share` and `covered (rows, cols)`.
    """
    cols, half = covered.shape[1], supersample // 2
    shade_rows(
        strand,
        sets,
        lit,
        sky,
        thick_mm,
        start.ravel(),
        numbers.ravel(),
        wholes.ravel(),
        profile.ravel(),
        dye,
        *dye_powers(dye[:, :3]),
        bool((dye[:, 4] > 0.0).any()),
        bool((dye[:, 5] > 0.0).any()),
        tables.ravel(),
        tables.shape[1],
        kind,
        np.pad(shown, ((0, 0), (0, 0), (0, WIDE_SHOWN - 3))).ravel(),
        texture.ravel(),
        frame,
        frame[3:6].astype(np.float32),
        half,
        edge,
        np.empty(PLACES, np.float32),
        np.empty(NAMES, np.int32),
        (np.arange(cols * half) // half).astype(np.int32),
        np.zeros((SUMS, cols)),
        thread_linear.reshape(-1),
        cloth_share,
        covered,
    )


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Lent)
def shade_rows(
    strand: Wholes,
    sets: Wholes,
    lit: Floats,
    sky: Floats,
    thick_mm: Floats,
    starts: NDArray[np.float64],
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
    frame: NDArray[np.float64],
    key_linear: Floats,
    half: int,
    edge: int,
    places: Floats,
    names: Wholes,
    pixels: Wholes,
    sums: Sums,
    thread_linear: Floats,
    cloth_share: Floats,
    covered: Floats,
) -> None:
    """`shade` of all rows: `logs` and `lift` are those of `dye_powers`, a pixel is `half` blocks wide and
    each block's is one of `pixels`; `places` and `names` are room to work in, and so are `sums`, which begin
    at 0.

    These are whole numbers, which are exact: the same in any order, however the design is turned.
    """
    rows, cols = covered.shape
    blocks, share = cols * half, 1.0 / (4 * half * half)
    keys, skies, plane = lit.reshape(-1), sky.reshape(-1), lit.shape[1] * lit.shape[2]
    for row in range(rows):
        for fine in range(half):
            own, block = row * half + fine, 0
            r = 2 * own
            shows = sets[own + edge, edge : edge + blocks]
            top, low = strand[r + 2 * edge, 2 * edge :], strand[r + 2 * edge + 1, 2 * edge :]
            reach = lit[0, own], lit[1, own], sky[0, own], sky[1, own]
            open_cloth(shows, half, *reach, frame[2], frame[6], sums[LIGHT], sums[OPEN])
            corner = frame[1] + 0.5, frame[0] + r + 0.5
            while block < blocks:
                count, block = pick(block, top, low, shows, names)
                first = own * blocks
                find_places(
                    count, pixels, first, plane, keys, skies, thick_mm[row], starts, corner, places, names
                )
                light_threads(
                    count,
                    places,
                    names,
                    numbers,
                    wholes,
                    profile,
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
                    _f(frame[7]),
                )
                share_out(count, places, names, sums)
        out = thread_linear[3 * cols * row :], cloth_share[row], covered[row]
        settle_up(sums[0], sums[1], sums[2], sums[LIGHT], sums[OPEN], share, *out)


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
    """From the sums of a row of pixels, of which a sub-pixel is such a `share`, to their means; the sums
    begin anew."""
    for c in range(len(covered)):
        at = np.uintp(3 * c)
        thread_linear[at] = red[c] * (share / LEVELS)
        thread_linear[at + np.uintp(1)] = green[c] * (share / LEVELS)
        thread_linear[at + np.uintp(2)] = blue[c] * (share / LEVELS)
        cloth_share[c] = light[c] * (share / LEVELS)
        covered[c] = 1.0 - open_[c] * share
        red[c] = green[c] = blue[c] = light[c] = open_[c] = 0.0
