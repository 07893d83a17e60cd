"""The kernel that lays a tile over a rectangle: the pixels wanted of a row, many at a time.

What is known of them lies in rows of `BATCH` numbers of one array, as in `render.draw.lit_thread`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numba import njit

from render.draw.apart import Apart
from render.draw.grain import mix32

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Places = NDArray[np.floating[Any]]
    Wholes = NDArray[np.int32]

SHIFTS = 64  # among which each corner of the triangle grid picks one
BATCH = 512
# Rows of numbers: lightness of the place, weights of its triangle's corners, where it is between texels.
GAIN, FIRST, SECOND, THIRD, BETWEEN = (BATCH * row for row in range(5))
# And of whole numbers: its column in the rectangle, its place in steps of 1/65536 texel, its corners' shifts.
COLUMN, AT_X, AT_Y, ONE, TWO, THREE, NAMES = (BATCH * row for row in range(7))
_f = np.float32
_i = np.int32


@njit(cache=True, nogil=True, error_model="numpy")
def lay_texels(
    light: Floats,
    height: Floats,
    wanted: NDArray[np.bool_],
    x_mm: Places,
    y_mm: Places,
    axes: Places,
    back: Places,
    cell_x: NDArray[np.int64],
    share_x: Places,
    cell_y: NDArray[np.int64],
    share_y: Places,
    texels: Floats,
    scale: Places,
    shifts: NDArray[np.int64],
    nodes: Floats,
    first: NDArray[np.int64],
    tones_x: Floats,
    tones_y: Floats,
    streaks: Places,
    seed: int,
) -> None:
    """Fill light and height of the wanted pixels. `scale`: columns and rows a mm, cell mm, blend width.

    `back (R, C, 2)` is how far cloth has moved at some places, empty where it lies still; columns and rows
    lie so far between a place and the next.
    """
    rows, cols = height.shape
    numbers, names = np.empty(BETWEEN, np.float32), np.empty(NAMES, np.int32)
    places = np.empty(2 * BATCH)
    high, wide, _ = texels.shape
    across, flat = nodes.shape[1], nodes.ravel()
    tile = texels.ravel()
    line = np.empty(2 * back.shape[1])
    for r in range(rows):
        begin = 0
        if line.size:
            mix_rows(back[cell_y[r]].ravel(), back[cell_y[r] + 1].ravel(), share_y[r], line)
        while begin < cols:
            count, begin = choose(wanted[r], begin, names)
            if line.size:
                go_back(count, names, places, x_mm, y_mm[r], axes, line, cell_x, share_x)
            else:
                go_to(count, names, places, x_mm, y_mm[r], axes)
            tell(count, places, numbers, names, scale, flat, across, first, tones_x, tones_y, streaks, seed)
            pick(count, numbers, names, tile, high, wide, shifts, light[r], height[r])


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def choose(wanted: NDArray[np.bool_], begin: int, names: Wholes) -> tuple[int, int]:
    """The wanted columns from `begin` on, as many as make a batch, and where the next one begins."""
    count = 0
    while begin < len(wanted) and count < BATCH:
        names[COLUMN + count] = begin
        count += wanted[begin]
        begin += 1
    return count, begin


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def go_to(count: int, names: Wholes, places: Places, x_mm: Places, y_mm: float, axes: Places) -> None:
    """Where on the cloth the chosen columns lie, mm."""
    for j in range(count):
        x = x_mm[np.uintp(names[COLUMN + j])]
        places[j] = axes[0, 0] * x + axes[0, 1] * y_mm
        places[BATCH + j] = axes[1, 0] * x + axes[1, 1] * y_mm


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def go_back(
    count: int,
    names: Wholes,
    places: Places,
    x_mm: Places,
    y_mm: float,
    axes: Places,
    line: Places,
    cell: NDArray[np.int64],
    share: Places,
) -> None:
    """The same on cloth that has moved, as a `line` of places says, (x, y) of one after the other."""
    for j in range(count):
        c = np.uintp(names[COLUMN + j])
        k, w = np.uintp(2 * cell[c]), share[c]
        right = line[k] + (line[k + np.uintp(2)] - line[k]) * w
        down = line[k + np.uintp(1)] + (line[k + np.uintp(3)] - line[k + np.uintp(1)]) * w
        x, y = x_mm[c] - right, y_mm - down
        places[j] = axes[0, 0] * x + axes[0, 1] * y
        places[BATCH + j] = axes[1, 0] * x + axes[1, 1] * y


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def mix_rows(above: Places, below: Places, share: float, line: Places) -> None:
    """Fill `line` with what lies between two rows."""
    for k in range(len(line)):
        line[k] = above[k] + (below[k] - above[k]) * share


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def tell(
    count: int,
    places: Places,
    numbers: Floats,
    names: Wholes,
    scale: Places,
    nodes: Floats,
    across: int,
    first: NDArray[np.int64],
    tones_x: Floats,
    tones_y: Floats,
    streaks: Places,
    seed: int,
) -> None:
    """How light each place is, which shifts of the tile it shows and how much of each."""
    per_mm_x, per_mm_y, cell, blend = scale[0], scale[1], scale[2], _f(scale[3])
    for j in range(count):
        u, v = places[j], places[BATCH + j]
        # The slow fields lie at whole millimetres.
        gu, gv = u - first[0], v - first[1]
        left, top = _i(gu), _i(gv)
        at, p, q = 3 * (top * across + left), _f(gu - left), _f(gv - top)
        gain = _slow(nodes, at, across, p, q)
        u += _slow(nodes, at + 1, across, p, q)
        v += _slow(nodes, at + 2, across, p, q)
        gain *= _f(1.0) + _f(streaks[0, 1]) * _tone(u / streaks[0, 0] - 0.5, tones_x, first[2])
        gain *= _f(1.0) + _f(streaks[1, 1]) * _tone(v / streaks[1, 0] - 0.5, tones_y, first[3])
        b = v * (1.1547005383792517 / cell)
        a = u / cell - 0.5 * b
        down, right = np.floor(a), np.floor(b)
        fa, fb, i, k = _f(a - down), _f(b - right), np.int64(down), np.int64(right)
        up = fa + fb < _f(1.0)
        corner = 0 if up else 1
        names[ONE + j] = _word(i + corner, k + corner, seed)
        names[TWO + j] = _word(i + 1, k, seed)
        names[THREE + j] = _word(i, k + 1, seed)
        one = _f(1.0) - fa - fb if up else fa + fb - _f(1.0)
        two, three = fa if up else _f(1.0) - fb, fb if up else _f(1.0) - fa
        least = max(max(one, two), three) - blend
        one, two, three = max(one - least, _f(0.0)), max(two - least, _f(0.0)), max(three - least, _f(0.0))
        share = _f(1.0) / (one + two + three)
        numbers[GAIN + j] = gain
        numbers[FIRST + j], numbers[SECOND + j], numbers[THIRD + j] = one * share, two * share, three * share
        names[AT_X + j] = _i(np.floor((u * per_mm_x - 0.5) * 65536.0 + 0.5))
        names[AT_Y + j] = _i(np.floor((v * per_mm_y - 0.5) * 65536.0 + 0.5))


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _slow(nodes: Floats, at: Any, across: Any, p: Any, q: Any) -> Any:
    """A slow field between four nodes."""
    one, low = np.uintp(at), np.uintp(at + 3 * across)
    above = nodes[one] + (nodes[one + np.uintp(3)] - nodes[one]) * p
    below = nodes[low] + (nodes[low + np.uintp(3)] - nodes[low]) * p
    return above + (below - above) * q


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _tone(at: Any, tones: Floats, first: Any) -> Any:
    """Tone of the yarn here, eased into its neighbour's."""
    whole = np.floor(at)
    f, k = _f(at - whole), np.uintp(np.int64(whole) - first)
    f = f * f * (_f(3.0) - _f(2.0) * f)
    return tones[k] + (tones[k + np.uintp(1)] - tones[k]) * f


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _word(i: Any, j: Any, seed: Any) -> Any:
    """The shift of a corner of the triangle grid."""
    return _i(mix32(int(i) * 0x27D4EB2F + int(j) * 0x165667B1 + seed) & (SHIFTS - 1))


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def pick(
    count: int,
    numbers: Floats,
    names: Wholes,
    texels: Floats,
    high: int,
    wide: int,
    shifts: NDArray[np.int64],
    light: Floats,
    height: Floats,
) -> None:
    """Mix what each place shows of the tile."""
    turns_x, turns_y = 1.0 / wide, 1.0 / high
    for j in range(count):
        red = green = blue = level = _f(0.0)
        for k in range(3):
            share = numbers[FIRST + k * BATCH + j]
            if share <= _f(0.0):
                continue
            word = np.uintp(names[ONE + k * BATCH + j])
            x, y = names[AT_X + j] + shifts[word, 0], names[AT_Y + j] + shifts[word, 1]
            fx, fy = _f(x & 65535) * _f(1.0 / 65536.0), _f(y & 65535) * _f(1.0 / 65536.0)
            c0, r0 = _wrapped(x >> 16, wide, turns_x), _wrapped(y >> 16, high, turns_y)
            c1, r1 = c0 + 1 if c0 + 1 < wide else 0, r0 + 1 if r0 + 1 < high else 0
            a, b = np.uintp(4 * (r0 * wide + c0)), np.uintp(4 * (r0 * wide + c1))
            d, e = np.uintp(4 * (r1 * wide + c0)), np.uintp(4 * (r1 * wide + c1))
            s01, s11 = share * fx * (_f(1.0) - fy), share * fx * fy
            s00, s10 = share * (_f(1.0) - fx) * (_f(1.0) - fy), share * (_f(1.0) - fx) * fy
            red += _mixed(texels, a, b, d, e, 0, s00, s01, s10, s11)
            green += _mixed(texels, a, b, d, e, 1, s00, s01, s10, s11)
            blue += _mixed(texels, a, b, d, e, 2, s00, s01, s10, s11)
            level += _mixed(texels, a, b, d, e, 3, s00, s01, s10, s11)
        c, gain = np.uintp(names[COLUMN + j]), numbers[GAIN + j]
        light[c, 0], light[c, 1], light[c, 2] = red * gain, green * gain, blue * gain
        height[c] = level


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _mixed(
    texels: Floats, a: Any, b: Any, d: Any, e: Any, k: int, s00: Any, s01: Any, s10: Any, s11: Any
) -> Any:
    """Weighted sum of channel k of four texels."""
    m = np.uintp(k)
    return texels[a + m] * s00 + texels[b + m] * s01 + texels[d + m] * s10 + texels[e + m] * s11


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _wrapped(index: Any, n: Any, turns: Any) -> Any:
    """index modulo n; a division would cost more than all the rest."""
    k = index - np.int64(np.floor(index * turns)) * n
    k -= n if k >= n else 0
    return k + n if k < 0 else k
