"""Laying a lit tile over any piece of cloth so that no repeat shows.

A triangle grid covers the cloth; each of its vertices shows the tile shifted by another
whole number of repeats, so yarns run on while their irregularities change. On top lies
what never repeats: drape, dye, the lightness of single yarns, a wandering grain. Places
are fixed-point and every irregularity belongs to a place, so a pixel comes out the same
whichever rectangle asks for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numba import njit

from render.draw.grain import lattice_unit, mix32, noise2

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Plane = NDArray[np.floating[Any]]
    Floats = NDArray[np.floating[Any]]

ONE = 65536  # fixed-point steps a tile pixel
NODE_MM = 1.0  # slow fields are computed at this spacing and interpolated
SLOW = 3  # of the slow fields: gain, wander x, wander y
# Wavelengths mm and weights of drape (hollows and crests) and of the dye's mottle (estimate).
DRAPE = ((26.0, 0.55), (9.0, 0.30), (3.2, 0.15))
MOTTLE = ((41.0, 0.5), (13.0, 0.3), (4.1, 0.2))
WANDER_MM = 58.0


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """A tile ready to be laid.

    `texels (R, C, 4)` float32: radiance and height in mm, or other planes; `per_mm` columns and rows a mm;
    `shifts (K, 2)` fixed-point column and row shifts that keep the pattern in phase; `cell_mm`
    and `blend` of the triangle grid; `streaks (2, 2)`: spacing mm and amplitude of single-yarn
    lightness for yarns along y and along x; `slow` amplitudes of drape, mottle
    and grain wander in mm.
    """

    texels: Plane
    per_mm: tuple[float, float]
    shifts: NDArray[np.int64]
    cell_mm: float
    blend: float
    streaks: Floats
    slow: Floats
    seed: int


@dataclass(frozen=True, slots=True, eq=False)
class ClothLayer:
    """Cloth in a rectangle of a picture.

    `radiance_linear (rows, cols, 3)` relative to a flat white card; `height_mm (rows, cols)`
    above the cloth's mean surface.
    """

    radiance_linear: Plane
    height_mm: Plane


def piece_of(
    surface: dict[str, Any],
    texels: Plane,
    size_mm: tuple[float, float],
    repeats: tuple[int, int],
    seed: int,
) -> Piece:
    """The lit tile of a cloth whose structure has this `surface`; the tile is of `size_mm` and so many
    `repeats` of the pattern."""
    rows, cols = texels.shape[:2]
    return Piece(
        texels,
        (cols / size_mm[0], rows / size_mm[1]),
        piece_shifts(repeats, (rows, cols), seed),
        surface["cell_mm"],
        surface["blend"],
        np.array(
            [
                [surface["upright_mm"], surface["upright_tone"]],
                [surface["level_mm"], surface["level_tone"]],
            ]
        ),
        np.array([surface["drape"], surface["mottle"], surface["wander_mm"]]),
        seed & 0xFFFFFF,
    )


def piece_shifts(repeats: tuple[int, int], texels_shape: tuple[int, int], seed: int) -> NDArray[np.int64]:
    """64 shifts of whole repeats, or any shift for cloth without a pattern (repeats 0)."""
    rng = np.random.default_rng([seed & 0xFFFFFFFF, 5])
    rows, cols = texels_shape
    nx, ny = repeats
    if nx == 0 or ny == 0:
        shift = rng.uniform(0, 1, (64, 2))
    else:
        shift = np.column_stack([rng.integers(0, nx, 64) / nx, rng.integers(0, ny, 64) / ny])
    return np.asarray(np.rint(shift * np.array([cols, rows]) * ONE), np.int64)


def lay(
    piece: Piece,
    x_mm: Floats,
    y_mm: Floats,
    axes: Floats,
    moved_mm: Floats | None = None,
    wanted: NDArray[np.bool_] | None = None,
) -> ClothLayer:
    """The cloth (rows, cols) where columns lie at `x_mm`, rows at `y_mm`.

    `axes` turns design to cloth coordinates; `moved_mm (rows, cols, 2)` is taken off first. Pixels
    that are not `wanted (rows, cols)` stay 0.
    """
    rows, cols = len(y_mm), len(x_mm)
    moved = np.zeros((0, 0, 2)) if moved_mm is None else moved_mm
    box = _cloth_box(x_mm, y_mm, axes, moved)
    slow = slow_fields(piece, box)
    light, height = np.zeros((rows, cols, 3), np.float32), np.zeros((rows, cols), np.float32)
    lay_texels(
        light,
        height,
        np.ones((rows, cols), np.bool_) if wanted is None else wanted,
        x_mm,
        y_mm,
        axes,
        moved,
        piece.texels,
        np.array([*piece.per_mm, piece.cell_mm, piece.blend]),
        piece.shifts,
        slow.nodes,
        slow.first,
        *slow.tones,
        piece.streaks,
        piece.seed,
    )
    return ClothLayer(light, height)


def _cloth_box(x_mm: Floats, y_mm: Floats, axes: Floats, moved: Floats) -> Floats:
    """Least and greatest cloth coordinates ((u0, u1), (v0, v1)) of a rectangle of pixels."""
    x, y = x_mm[[0, -1]], y_mm[[0, -1]]
    if moved.size:
        least, most = _extent(moved)
        x, y = x - np.array([most[0], least[0]]), y - np.array([most[1], least[1]])
    corners = np.array([[a, b] for a in x for b in y]) @ axes.T
    return np.stack([corners.min(axis=0), corners.max(axis=0)], axis=1)


@njit(cache=True, nogil=True)
def _extent(moved: Floats) -> tuple[Floats, Floats]:
    """The least and the greatest of either coordinate, at one reading."""
    least, most = moved[0, 0].copy(), moved[0, 0].copy()
    for r in range(moved.shape[0]):
        for c in range(moved.shape[1]):
            for k in range(2):
                least[k], most[k] = min(least[k], moved[r, c, k]), max(most[k], moved[r, c, k])
    return least, most


def _yarn_range(span_mm: Floats, spacing_mm: float) -> tuple[int, int]:
    """How many yarns the span holds, with a margin for the wandering grain, and the first."""
    first = int(np.floor((span_mm[0] - 2.0) / spacing_mm)) - 2
    last = int(np.ceil((span_mm[1] + 2.0) / spacing_mm)) + 2
    return last - first + 1, first


@njit(cache=True, nogil=True)
def yarn_tones(count: int, first: int, word: int) -> Floats:
    """Tone of `count` yarns from the first on: most differ little, a few clearly."""
    out = np.empty(count)
    for k in range(count):
        tone = lattice_unit(first + k, 3, word) + lattice_unit(first + k, 4, word) - 1.0
        out[k] = tone * (0.6 + 1.2 * lattice_unit(first + k, 5, word) ** 4)
    return out


@dataclass(frozen=True, slots=True, eq=False)
class SlowFields:
    """What never repeats, around a box: the slow fields at `nodes`, the `tones` of yarns along y and along
    x, and the `first` node and yarn, (4,)."""

    nodes: Plane
    tones: tuple[Floats, Floats]
    first: NDArray[np.int64]


def slow_fields(piece: Piece, box_mm: Floats) -> SlowFields:
    """Of the piece over the box ((u0, u1), (v0, v1)) in cloth coordinates."""
    nodes, first = slow_nodes(box_mm, piece.slow, piece.seed)
    across, first_x = _yarn_range(box_mm[0], piece.streaks[0, 0])
    down, first_y = _yarn_range(box_mm[1], piece.streaks[1, 0])
    tones = yarn_tones(across, first_x, piece.seed + 17), yarn_tones(down, first_y, piece.seed + 29)
    return SlowFields(nodes, tones, np.array([*first, first_x, first_y]))


def slow_nodes(box_mm: Floats, slow: Floats, seed: int) -> tuple[Plane, tuple[int, int]]:
    """The slow fields at whole-millimetre nodes around the box, and the first node."""
    low = np.floor(box_mm[:, 0] / NODE_MM).astype(int) - 1
    high = np.floor(box_mm[:, 1] / NODE_MM).astype(int) + 3
    out = np.empty((high[1] - low[1] + 1, high[0] - low[0] + 1, SLOW), np.float32)
    fill_nodes(out, low[0], low[1], slow, np.array(DRAPE), np.array(MOTTLE), seed)
    return out, (int(low[0]), int(low[1]))


@njit(cache=True, nogil=True)
def fill_nodes(out: Plane, u0: int, v0: int, slow: Floats, drape: Floats, mottle: Floats, seed: int) -> None:
    """Gain by drape and mottle, and wander of the grain, at nodes from (u0, v0)."""
    for r in range(out.shape[0]):
        for c in range(out.shape[1]):
            x, y = (u0 + c) * NODE_MM, (v0 + r) * NODE_MM
            gain = 0.0
            for k in range(len(drape)):
                gain += (
                    slow[0] * drape[k, 1] * noise2(x / drape[k, 0] + 0.3 * k, y / drape[k, 0], seed + 101 + k)
                )
            for k in range(len(mottle)):
                gain += (
                    slow[1]
                    * mottle[k, 1]
                    * noise2(x / mottle[k, 0], y / mottle[k, 0] + 0.7 * k, seed + 211 + k)
                )
            out[r, c, 0] = 1.0 + gain
            out[r, c, 1] = slow[2] * noise2(x / WANDER_MM, y / WANDER_MM, seed + 307)
            out[r, c, 2] = slow[2] * noise2(x / WANDER_MM, y / WANDER_MM, seed + 311)


@njit(cache=True, nogil=True)
def lay_texels(
    light: Plane,
    height: Plane,
    wanted: NDArray[np.bool_],
    x_mm: Floats,
    y_mm: Floats,
    axes: Floats,
    moved: Floats,
    texels: Plane,
    scale: Floats,
    shifts: NDArray[np.int64],
    nodes: Plane,
    first: NDArray[np.int64],
    tones_x: Floats,
    tones_y: Floats,
    streaks: Floats,
    seed: int,
) -> None:
    """Fill light and height of the wanted pixels. `scale`: columns and rows a mm, cell mm, blend width."""
    high, wide = texels.shape[0], texels.shape[1]
    per_mm_x, per_mm_y, cell, blend = scale[0], scale[1], scale[2], scale[3]
    turns_x, turns_y = 1.0 / wide, 1.0 / high
    kinds = len(shifts)
    words = np.zeros(3, np.int64)
    weight = np.zeros(3)
    kept = kept_b = -(1 << 40)
    kept_up = False
    for r in range(height.shape[0]):
        for c in range(height.shape[1]):
            if not wanted[r, c]:
                continue
            at_x, at_y = x_mm[c], y_mm[r]
            if moved.size:
                at_x -= moved[r, c, 0]
                at_y -= moved[r, c, 1]
            u, v = axes[0, 0] * at_x + axes[0, 1] * at_y, axes[1, 0] * at_x + axes[1, 1] * at_y
            gu, gv = u / NODE_MM - first[0], v / NODE_MM - first[1]
            i, j = int(gu), int(gv)
            fu, fv = gu - i, gv - j
            w00, w01, w10, w11 = (1 - fu) * (1 - fv), fu * (1 - fv), (1 - fu) * fv, fu * fv
            gain = _mixed(nodes, j, j + 1, i, i + 1, 0, w00, w01, w10, w11)
            u += _mixed(nodes, j, j + 1, i, i + 1, 1, w00, w01, w10, w11)
            v += _mixed(nodes, j, j + 1, i, i + 1, 2, w00, w01, w10, w11)
            gain *= 1.0 + _tone(u, streaks[0, 0], streaks[0, 1], tones_x, first[2])
            gain *= 1.0 + _tone(v, streaks[1, 0], streaks[1, 1], tones_y, first[3])
            b = v * (1.1547005383792517 / cell)
            a = u / cell - 0.5 * b
            ia, ib = int(np.floor(a)), int(np.floor(b))
            fa, fb = a - ia, b - ib
            up = fa + fb < 1.0
            if ia != kept or ib != kept_b or up != kept_up:
                kept, kept_b, kept_up = ia, ib, up
                corner = 0 if up else 1
                words[0] = mix32((ia + corner) * 0x27D4EB2F + (ib + corner) * 0x165667B1 + seed) % kinds
                words[1] = mix32((ia + 1) * 0x27D4EB2F + ib * 0x165667B1 + seed) % kinds
                words[2] = mix32(ia * 0x27D4EB2F + (ib + 1) * 0x165667B1 + seed) % kinds
            total = weigh_corners(fa, fb, blend, weight)
            x0 = int(np.floor((u * per_mm_x - 0.5) * ONE + 0.5))
            y0 = int(np.floor((v * per_mm_y - 0.5) * ONE + 0.5))
            red = green = blue = level = 0.0
            for k in range(3):
                if weight[k] <= 0.0:
                    continue
                x, y = x0 + shifts[words[k], 0], y0 + shifts[words[k], 1]
                col, row = x >> 16, y >> 16
                fx, fy = (x & 65535) / 65536.0, (y & 65535) / 65536.0
                c0, r0 = _wrapped(col, wide, turns_x), _wrapped(row, high, turns_y)
                c1 = c0 + 1 if c0 + 1 < wide else 0
                r1 = r0 + 1 if r0 + 1 < high else 0
                share = weight[k] / total
                s01, s11 = share * fx * (1 - fy), share * fx * fy
                s00, s10 = share * (1 - fx) * (1 - fy), share * (1 - fx) * fy
                red += _mixed(texels, r0, r1, c0, c1, 0, s00, s01, s10, s11)
                green += _mixed(texels, r0, r1, c0, c1, 1, s00, s01, s10, s11)
                blue += _mixed(texels, r0, r1, c0, c1, 2, s00, s01, s10, s11)
                level += _mixed(texels, r0, r1, c0, c1, 3, s00, s01, s10, s11)
            light[r, c, 0], light[r, c, 1], light[r, c, 2] = red * gain, green * gain, blue * gain
            height[r, c] = level


@njit(cache=True, nogil=True, inline="always")
def weigh_corners(fa: float, fb: float, blend: float, weight: Floats) -> float:
    """Weights of a triangle's corners at (fa, fb) of its cell, eased over `blend`; returns their sum."""
    if fa + fb < 1.0:
        weight[0], weight[1], weight[2] = 1.0 - fa - fb, fa, fb
    else:
        weight[0], weight[1], weight[2] = fa + fb - 1.0, 1.0 - fb, 1.0 - fa
    least = max(weight[0], weight[1], weight[2]) - blend
    total = 0.0
    for k in range(3):
        weight[k] = max(weight[k] - least, 0.0)
        total += weight[k]
    return total


@njit(cache=True, nogil=True, inline="always")
def _mixed(
    grid: Plane,
    r0: int,
    r1: int,
    c0: int,
    c1: int,
    k: int,
    w00: float,
    w01: float,
    w10: float,
    w11: float,
) -> float:
    """Weighted sum of channel k at four grid points."""
    return float(
        grid[r0, c0, k] * w00 + grid[r0, c1, k] * w01 + grid[r1, c0, k] * w10 + grid[r1, c1, k] * w11
    )


@njit(cache=True, nogil=True, inline="always")
def _wrapped(index: int, n: int, turns: float) -> int:
    """index modulo n; a division would cost more than all the rest."""
    k = index - int(np.floor(index * turns)) * n
    if k >= n:
        k -= n
    elif k < 0:
        k += n
    return k


@njit(cache=True, nogil=True, inline="always")
def _tone(across_mm: float, spacing_mm: float, amplitude: float, tones: Floats, first: int) -> float:
    """Lightness of the yarn here, eased into its neighbours'."""
    at = across_mm / spacing_mm - 0.5
    k = int(np.floor(at))
    f = at - k
    f = f * f * (3.0 - 2.0 * f)
    k -= first
    return float(amplitude * (tones[k] * (1.0 - f) + tones[k + 1] * f))
