"""Places of threads that a row of blocks shows, two by two sub-pixels each, gathered to be lit at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart
from render.compiled import njit
from render.draw.dye import bounced
from render.draw.place_rows import BATCH, COLUMN, KEY, LEVELS, MANY, NAME, PART, SKY, THICK, X, Y
from render.draw.raster import ASKEW_PX
from render.draw.sets import ALL, HIGHEST, MIXED, OPEN, SET, any_cloth, many_in

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Wholes = NDArray[np.int32]
    Sums = NDArray[np.float64]

SPAN = 64  # blocks that are passed over together where they show no cloth, or nothing else
LOWER = 4  # bit of a noted part above those of its set; its block begins one further
_f, _i = np.float32, np.int32


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def open_cloth(
    sets: Wholes,
    half: int,
    key: Floats,
    low_key: Floats,
    sky: Floats,
    low_sky: Floats,
    key_share: float,
    walls: float,
    light: Sums,
    open_: Sums,
) -> None:
    """Add up in each pixel, `half` blocks wide, the light on its cloth, in `LEVELS`, and the sub-pixels that
    show some. Such shares of lamp and dome reach what is highest in a block, and what lies lower; the `walls`
    between which cloth lies throw so much of it back."""
    by_key, again = _f(key_share), _f(walls)
    if half == 1:  # a loop of its own, of many pixels at a time
        for begin in range(0, len(light), SPAN):
            stop = min(begin + SPAN, len(light))
            if not any_cloth(sets, begin, stop):
                continue
            for c in range(begin, stop):
                at = np.uintp(c)
                level, many = _cloth_of(at, sets, key, low_key, sky, low_sky, by_key, again)
                light[at] += level
                open_[at] += many
        return
    for c in range(len(light)):
        for k in range(c * half, (c + 1) * half):
            level, many = _cloth_of(np.uintp(k), sets, key, low_key, sky, low_sky, by_key, again)
            light[c] += level
            open_[c] += many


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _cloth_of(
    at: Any, sets: Wholes, key: Floats, low_key: Floats, sky: Floats, low_sky: Floats, by_key: Any, again: Any
) -> tuple[Any, Any]:
    """Light of the cloth of a block, and how many sub-pixels show it."""
    part = _i(sets[at] >> _i(OPEN) & _i(ALL))
    many = _f(many_in(part))
    lamp, low_lamp, dome, low_dome = key[at], low_key[at], sky[at], low_sky[at]
    highest = _i(part & _i(sets[at] >> _i(HIGHEST))) > _i(0)
    lamp, dome = lamp if highest else low_lamp, min(dome if highest else low_dome, _f(1.0))
    by_lamp, around = bounced(lamp, dome, again)
    level = np.rint((by_key * by_lamp + (_f(1.0) - by_key) * around) * _f(LEVELS))
    return np.float64(level) * np.float64(many), np.float64(many)


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def pick(begin: int, top: Wholes, low: Wholes, sets: Wholes, names: Wholes) -> tuple[Any, Any]:
    """Note which strands blocks show, and of each its block and set, from block `begin` on until the row or
    the batch is full: how many, and at which block that was."""
    count, block, stop = np.uintp(0), np.uintp(begin), np.uintp(len(sets))
    one, name, part, most = np.uintp(1), np.uintp(NAME), np.uintp(PART), np.uintp(BATCH - 4)
    while block < stop and count <= most:
        shown = sets[block]
        if shown < _i(0):
            block = np.uintp(past_cloth(sets, block))
            continue
        c = block + block
        names[name + count], names[part + count] = top[c], _part(block, shown, 0)
        count += np.uintp((shown & _i(ALL)) > _i(0))
        if shown & _i(MIXED):
            after = c + one
            names[name + count], names[part + count] = top[after], _part(block, shown, 1)
            count += np.uintp((shown >> _i(SET) & _i(ALL)) > _i(0))
            names[name + count], names[part + count] = low[c], _part(block, shown, 2)
            count += np.uintp((shown >> _i(2 * SET) & _i(ALL)) > _i(0))
            names[name + count], names[part + count] = low[after], _part(block, shown, 3)
            count += np.uintp((shown >> _i(3 * SET) & _i(ALL)) > _i(0))
        block += one
    return np.int64(count), np.int64(block)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def past_cloth(sets: Wholes, block: Any) -> Any:
    """The first block from one on that shows something else than cloth, or how many there are."""
    first, count = np.int64(block), np.int64(len(sets))
    while first + SPAN <= count:
        bare = _i(-1)
        for k in range(SPAN):
            bare &= sets[np.uintp(first + k)]
        if bare >= _i(0):
            break
        first += SPAN
    while first < count and sets[np.uintp(first)] < _i(0):
        first += 1
    return first


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _part(block: Any, sets: Any, number: int) -> Any:
    """A block and that set of it, and whether what it shows lies lower than others there."""
    part = sets >> _i(SET * number) & _i(ALL)
    lower = _i((part & sets >> _i(HIGHEST)) == _i(0))
    return _i(block) << _i(LOWER + 1) | lower << _i(LOWER) | part


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def find_places(
    count: int,
    pixels: Wholes,
    first: int,
    plane: int,
    lit: Floats,
    sky: Floats,
    thick_mm: Floats,
    start: NDArray[np.float64],
    corner: tuple[float, float],
    places: Floats,
    names: Wholes,
) -> None:
    """Where what was picked lies, and the light that reaches it. `pixels` are those of the row's blocks; the
    first of these, of which a `plane` has so many, lies at a `corner` (x, y of its middle)."""
    x0, y0 = _f(corner[0]), _f(corner[1])
    for j in range(count):
        noted = names[PART + j]
        part, block = noted & _i(ALL), noted >> _i(LOWER + 1)
        many = many_in(part)
        share = _f(1.0) / _f(many)
        # From the block's middle, so that a mirrored picture has mirrored places, to the bit.
        right = (part >> _i(1) & _i(1)) + (part >> _i(3) & _i(1))
        down = (part >> _i(2) & _i(1)) + (part >> _i(3) & _i(1))
        u = np.uintp(2) * np.uintp(names[NAME + j])
        # Sub-pixels lie askew, the upper ones to the right and the right ones down.
        over, under = _f(right + right - many), _f(down + down - many)
        off_x = (_f(0.5) * over - _f(ASKEW_PX) * under) * share
        off_y = (_f(0.5) * under + _f(ASKEW_PX) * over) * share
        places[X + j] = (x0 + _f(_i(2) * block) - _f(start[u])) + off_x
        places[Y + j] = (y0 - _f(start[u + np.uintp(1)])) + off_y
        lies = np.uintp(_i(first) + block + (noted >> _i(LOWER) & _i(1)) * _i(plane))
        places[KEY + j], places[SKY + j] = lit[lies], sky[lies]
        pixel = pixels[np.uintp(block)]
        places[THICK + j] = thick_mm[np.uintp(pixel)]
        names[COLUMN + j], names[MANY + j] = pixel, many
