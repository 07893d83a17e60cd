"""The kernel that lays a tile over a rectangle: the pixels wanted of a row, many at a time, see `batch`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart
from render.columns import EIGHT, turn_four
from render.compiled import njit
from render.draw.cloth.batch import (
    ALONG,
    AT_X,
    AT_Y,
    BATCH,
    BLUE,
    COLUMN,
    GAIN,
    GREEN,
    LEVEL,
    NAMES,
    NUMBERS,
    ONE,
    RED,
    SECOND,
    SEEN,
    SHARE,
    TEXEL,
    TEXELS,
    THIRD,
    THREE,
    TO_ALONG,
    TO_UPRIGHT,
    TWO,
    UPRIGHT,
    U,
    V,
    X,
    Y,
    choose,
    go,
    mix_rows,
)
from render.draw.cloth.packed import high_of, low_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Places = NDArray[np.floating[Any]]
    Wholes = NDArray[np.int32]

SHIFTS = 64  # among which each corner of the triangle grid picks one
_f = np.float32
_i = np.int32
_u = np.uint32
# From the word of a corner of the triangle grid to those of the next ones, see `lattice_unit`.
ACROSS, DOWN = _u(0x27D4EB2F), _u(0x165667B1)


@njit(cache=True, nogil=True, error_model="numpy")
def lay_texels(
    light: Floats,
    height: Floats,
    wanted: NDArray[np.bool_],
    x_mm: Places,
    y_mm: Places,
    axes: Places,
    known: Places,
    cell_x: NDArray[np.int64],
    share_x: Places,
    cell_y: NDArray[np.int64],
    share_y: Places,
    texels: Wholes,
    step: Floats,
    scale: Places,
    shifts: Wholes,
    first: NDArray[np.int64],
    tones_x: Floats,
    tones_y: Floats,
    streaks: Places,
    seed: int,
) -> None:
    """Fill light and height, 0 in pixels that are not wanted. `texels` and `step` are those of `Packed`,
    `scale`: columns and rows a mm, cell mm, blend width.

    `known (R, C, 3)` is that of a `Lattice`, whose lines columns and rows lie so far behind; `first` are the
    first yarns along y and along x, of which tones are given.
    """
    rows, cols = height.shape
    numbers, names = np.empty(NUMBERS, np.float32), np.empty(NAMES, np.int32)
    high, wide = texels.shape[0] - 1, texels.shape[1] - 1
    tile, moves = texels.ravel(), shifts.ravel()
    line = np.empty(known.shape[1] * known.shape[2])
    size, yarns = np.array([wide * 65536.0, high * 65536.0]), streaks.astype(np.float32)
    wide_of = _f(scale[2]), _f(scale[3])
    for r in range(rows):
        light[r], height[r], begin = 0.0, 0.0, 0
        mix_rows(known[cell_y[r]].ravel(), known[cell_y[r] + 1].ravel(), share_y[r], line)
        while begin < cols:
            count, begin = choose(wanted[r], begin, names)
            go(count, names, numbers, x_mm, y_mm[r], axes, line, cell_x, share_x, scale, size)
            tell(
                count, numbers, names, wide_of, _i(wide << 16), _i(high << 16), first, tones_x, tones_y,
                yarns, moves, seed,
            )  # fmt: skip
            seen = add_corners(count, numbers, names, moves, _i(wide << 16), _i(high << 16))
            fetch(seen, numbers, names, tile, wide + 1)
            put(count, seen, numbers, names, step, light[r], height[r])


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def tell(
    count: int,
    numbers: Floats,
    names: Wholes,
    grid: tuple[Any, Any],
    wide: Any,
    high: Any,
    first: NDArray[np.int64],
    tones_x: Floats,
    tones_y: Floats,
    streaks: Floats,
    moves: Wholes,
    seed: int,
) -> None:
    """Which shifts of the tile, which is so `wide` and `high`, each place shows and how much of each: first
    the one of which most is seen. `grid` is the triangles' cell in mm and the width of their blend.

    What is to be looked up is worked out first: in one loop the compiler would do so for one place at a time.
    """
    per_cell, slant, blend = _f(1.0) / grid[0], _f(1.1547005383792517) / grid[0], grid[1]
    for j in range(count):
        u, v = numbers[U + j], numbers[V + j]
        names[UPRIGHT + j], numbers[TO_UPRIGHT + j] = _yarn(u * (_f(1.0) / streaks[0, 0]), first[0])
        names[ALONG + j], numbers[TO_ALONG + j] = _yarn(v * (_f(1.0) / streaks[1, 0]), first[1])
        b = v * slant
        a = u * per_cell - _f(0.5) * b
        fa, fb = a - np.floor(a), b - np.floor(b)
        i, k = _i(np.floor(a)), _i(np.floor(b))
        up = fa + fb < _f(1.0)
        here = _u(_u(_u(_u(i) * ACROSS) + _u(_u(k) * DOWN)) + _u(seed))
        name_two, name_three = _u(here + ACROSS), _u(here + DOWN)
        name_one = here if up else _u(name_two + DOWN)
        one = _f(1.0) - fa - fb if up else fa + fb - _f(1.0)
        two, three = fa if up else _f(1.0) - fb, fb if up else _f(1.0) - fa
        most = max(max(one, two), three)
        is_three = three == most
        is_two = (two == most) & (three < most)
        name = name_three if is_three else name_two if is_two else name_one
        name_two, two = (name_one if is_two else name_two), (one if is_two else two)
        name_three, three = (name_one if is_three else name_three), (one if is_three else three)
        two, three = max(two - (most - blend), _f(0.0)), max(three - (most - blend), _f(0.0))
        share = _f(1.0) / (blend + two + three)
        numbers[SHARE + j] = blend * share
        numbers[SECOND + j], numbers[THIRD + j] = two * share, three * share
        # What is seldom seen is scrambled when it is.
        names[ONE + j], names[TWO + j], names[THREE + j] = _scrambled(name), _i(name_two), _i(name_three)
    for j in range(count):
        upright = _tone(tones_x, np.uintp(names[UPRIGHT + j]), numbers[TO_UPRIGHT + j])
        along = _tone(tones_y, np.uintp(names[ALONG + j]), numbers[TO_ALONG + j])
        numbers[GAIN + j] *= (_f(1.0) + streaks[0, 1] * upright) * (_f(1.0) + streaks[1, 1] * along)
        move = np.uintp(2 * names[ONE + j])
        names[X + j] = _wrapped(names[AT_X + j] + moves[move], wide)
        names[Y + j] = _wrapped(names[AT_Y + j] + moves[move + np.uintp(1)], high)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _wrapped(at: Any, size: Any) -> Any:
    return _i(at - size if at >= size else at)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _yarn(at: Any, first: Any) -> tuple[Any, Any]:
    """The yarn before a place, counted from the `first`, and how far it is eased into the next one."""
    at -= _f(0.5)
    whole = np.floor(at)
    f = at - whole
    return _i(whole) - _i(first), f * f * (_f(3.0) - _f(2.0) * f)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _tone(tones: Floats, k: Any, f: Any) -> Any:
    """Tone of the yarn here."""
    return tones[k] + (tones[k + np.uintp(1)] - tones[k]) * f


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _scrambled(word: Any) -> Any:
    """The shift of a corner of the triangle grid: `mix32` of its word, in 32 bits."""
    h = _u(word)
    h = _u(h ^ (h >> _u(16)))
    h = _u(h * _u(0x85EBCA6B))
    h = _u(h ^ (h >> _u(13)))
    h = _u(h * _u(0xC2B2AE35))
    h = _u(h ^ (h >> _u(16)))
    return _i(h & _u(SHIFTS - 1))


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def add_corners(count: int, numbers: Floats, names: Wholes, moves: Wholes, wide: Any, high: Any) -> Any:
    """Note second and third corners where they are seen, and return how much is seen in all."""
    seen = np.int64(count)
    for j in range(count):
        for k in range(2):
            share = numbers[SECOND + k * BATCH + j]
            if share > _f(0.0):
                word = np.uintp(2 * _scrambled(names[TWO + k * BATCH + j]))
                numbers[SHARE + seen], names[COLUMN + seen] = share, j
                names[X + seen] = _wrapped(names[AT_X + j] + moves[word], wide)
                names[Y + seen] = _wrapped(names[AT_Y + j] + moves[word + np.uintp(1)], high)
                seen += 1
    return seen


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def fetch(seen: int, numbers: Floats, names: Wholes, texels: Wholes, wide: int) -> None:
    """What all that is seen shows of the tile, between four texels."""
    eights, below = seen // EIGHT * EIGHT, texels[2 * wide :]
    for n in range(seen):
        names[TEXEL + n] = _i((names[Y + n] >> 16) * _i(wide) + (names[X + n] >> 16))
    # Of each row of the tile two texels of two numbers each.
    for n in range(0, eights, EIGHT):
        turn_four(texels, names, TEXEL + n, 2, names, TEXELS + n, SEEN)
        turn_four(below, names, TEXEL + n, 2, names, TEXELS + 4 * SEEN + n, SEEN)
    for n in range(eights, seen):
        at = 2 * np.int64(names[TEXEL + n])
        for k in range(4):
            names[TEXELS + k * SEEN + n] = texels[at + k]
            names[TEXELS + (k + 4) * SEEN + n] = below[at + k]
    for n in range(seen):
        x, y = names[X + n], names[Y + n]
        fx, fy = _f(x & 65535) * _f(1.0 / 65536.0), _f(y & 65535) * _f(1.0 / 65536.0)
        share = numbers[SHARE + n]
        right, left = share * fx, share * (_f(1.0) - fx)
        s00, s01, s10, s11 = left * (_f(1.0) - fy), right * (_f(1.0) - fy), left * fy, right * fy
        one, two = names[TEXELS + n], names[TEXELS + 2 * SEEN + n]
        three, four = names[TEXELS + 4 * SEEN + n], names[TEXELS + 6 * SEEN + n]
        numbers[RED + n] = low_of(one) * s00 + low_of(two) * s01 + low_of(three) * s10 + low_of(four) * s11
        green = high_of(one) * s00 + high_of(two) * s01 + high_of(three) * s10 + high_of(four) * s11
        one, two = names[TEXELS + SEEN + n], names[TEXELS + 3 * SEEN + n]
        three, four = names[TEXELS + 5 * SEEN + n], names[TEXELS + 7 * SEEN + n]
        numbers[BLUE + n] = low_of(one) * s00 + low_of(two) * s01 + low_of(three) * s10 + low_of(four) * s11
        level = high_of(one) * s00 + high_of(two) * s01 + high_of(three) * s10 + high_of(four) * s11
        numbers[GREEN + n], numbers[LEVEL + n] = green, level


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def put(
    count: int, seen: int, numbers: Floats, names: Wholes, step: Floats, light: Floats, height: Floats
) -> None:
    """Add up what is seen in each place, and put that into its pixel."""
    for n in range(count, seen):
        to = np.uintp(names[COLUMN + n])
        numbers[RED + to] += numbers[RED + n]
        numbers[GREEN + to] += numbers[GREEN + n]
        numbers[BLUE + to] += numbers[BLUE + n]
        numbers[LEVEL + to] += numbers[LEVEL + n]
    for j in range(count):
        c, gain = np.uintp(names[COLUMN + j]), numbers[GAIN + j] * step[0]
        light[c, 0], light[c, 1] = numbers[RED + j] * gain, numbers[GREEN + j] * gain
        light[c, 2], height[c] = numbers[BLUE + j] * gain, numbers[LEVEL + j] * step[1]
