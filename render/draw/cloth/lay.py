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

    Plane = NDArray[np.float32]
    Floats = NDArray[np.float64]

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

    `texels (R, C, 4)` float32: radiance and height in mm; `per_mm` columns and rows a mm;
    `shifts (K, 2)` fixed-point column and row shifts that keep the pattern in phase; `cell_mm`
    and `blend` of the triangle grid; `streaks (2, 3)`: spacing mm, amplitude and length mm of
    single-yarn lightness for yarns along y and along x; `slow` amplitudes of drape, mottle
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


def piece_shifts(repeats: tuple[int, int], texels_shape: tuple[int, int], seed: int) -> NDArray[np.int64]:
    """64 shifts of whole repeats, or any shift for cloth without a pattern (repeats 0)."""
    rng = np.random.default_rng([seed & 0xFFFFFFFF, 5])
    rows, cols = texels_shape
    nx, ny = repeats
    if nx == 0 or ny == 0:
        shift = rng.uniform(0, 1, (64, 2))
    else:
        shift = np.column_stack([rng.integers(0, nx, 64) / nx, rng.integers(0, ny, 64) / ny])
    return np.rint(shift * np.array([cols, rows]) * ONE).astype(np.int64)


def lay(piece: Piece, u_mm: Floats, v_mm: Floats) -> Plane:
    """Texels (rows, cols, 4) at cloth coordinates u, v of the same shape (rows, cols)."""
    columns, rows = piece.per_mm
    nodes, first = slow_nodes(u_mm, v_mm, piece.slow, piece.seed)
    yarns_x, first_x = _yarn_range(u_mm, piece.streaks[0, 0])
    yarns_y, first_y = _yarn_range(v_mm, piece.streaks[1, 0])
    out = np.empty((*u_mm.shape, 4), np.float32)
    lay_texels(
        out,
        u_mm,
        v_mm,
        piece.texels,
        np.array([columns, rows, piece.cell_mm, piece.blend]),
        piece.shifts,
        nodes,
        np.array([first[0], first[1], first_x, first_y]),
        yarn_tones(yarns_x, first_x, piece.seed + 17),
        yarn_tones(yarns_y, first_y, piece.seed + 29),
        piece.streaks,
        piece.seed,
    )
    return out


def _yarn_range(place_mm: Floats, spacing_mm: float) -> tuple[int, int]:
    """How many yarns the places span, with a margin for the wandering grain, and the first."""
    first = int(np.floor((place_mm.min() - 2.0) / spacing_mm)) - 2
    last = int(np.ceil((place_mm.max() + 2.0) / spacing_mm)) + 2
    return last - first + 1, first


@njit(cache=True, nogil=True)
def yarn_tones(count: int, first: int, word: int) -> Floats:
    """Tone in [-1, 1] of `count` yarns, and where along it each begins to change (count, 2)."""
    out = np.empty((count, 2))
    for k in range(count):
        a = lattice_unit(first + k, 3, word)
        b = lattice_unit(first + k, 4, word)
        # Most yarns differ little, a few clearly.
        out[k, 0] = (a + b - 1.0) * (0.6 + 1.2 * lattice_unit(first + k, 5, word) ** 4)
        out[k, 1] = 1000.0 * lattice_unit(first + k, 6, word)
    return out


def slow_nodes(u_mm: Floats, v_mm: Floats, slow: Floats, seed: int) -> tuple[Plane, tuple[int, int]]:
    """The slow fields at whole-millimetre nodes around the places, and the first node."""
    u0, v0 = int(np.floor(u_mm.min() / NODE_MM)), int(np.floor(v_mm.min() / NODE_MM))
    u1, v1 = int(np.floor(u_mm.max() / NODE_MM)) + 2, int(np.floor(v_mm.max() / NODE_MM)) + 2
    out = np.empty((v1 - v0 + 1, u1 - u0 + 1, SLOW), np.float32)
    fill_nodes(out, u0, v0, slow, np.array(DRAPE), np.array(MOTTLE), seed)
    return out, (u0, v0)


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
    out: Plane,
    u_mm: Floats,
    v_mm: Floats,
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
    """Fill `out (rows, cols, 4)`. `scale`: columns and rows a mm, grid cell mm, blend width."""
    high, wide = texels.shape[0], texels.shape[1]
    cell, blend = scale[2], scale[3]
    words = np.empty(3, np.int64)
    weight = np.empty(3)
    kept = -(1 << 40)
    kept_b = kept
    kept_up = False
    for r in range(out.shape[0]):
        for c in range(out.shape[1]):
            u, v = u_mm[r, c], v_mm[r, c]
            gu, gv = u / NODE_MM - first[0], v / NODE_MM - first[1]
            i, j = int(gu), int(gv)
            fu, fv = gu - i, gv - j
            w00, w01 = (1 - fu) * (1 - fv), fu * (1 - fv)
            w10, w11 = (1 - fu) * fv, fu * fv
            gain = (
                nodes[j, i, 0] * w00
                + nodes[j, i + 1, 0] * w01
                + nodes[j + 1, i, 0] * w10
                + nodes[j + 1, i + 1, 0] * w11
            )
            u += (
                nodes[j, i, 1] * w00
                + nodes[j, i + 1, 1] * w01
                + nodes[j + 1, i, 1] * w10
                + nodes[j + 1, i + 1, 1] * w11
            )
            v += (
                nodes[j, i, 2] * w00
                + nodes[j, i + 1, 2] * w01
                + nodes[j + 1, i, 2] * w10
                + nodes[j + 1, i + 1, 2] * w11
            )
            gain *= (1.0 + streaks[0, 1] * _tone(u, v, streaks[0], tones_x, first[2], seed + 41)) * (
                1.0 + streaks[1, 1] * _tone(v, u, streaks[1], tones_y, first[3], seed + 43)
            )
            a, b = (u - v * 0.5773502691896258) / cell, v * 1.1547005383792517 / cell
            ia, ib = int(np.floor(a)), int(np.floor(b))
            fa, fb = a - ia, b - ib
            up = fa + fb < 1.0
            if ia != kept or ib != kept_b or up != kept_up:
                kept, kept_b, kept_up = ia, ib, up
                corner = 0 if up else 1
                words[0] = mix32((ia + corner) * 0x27D4EB2F + (ib + corner) * 0x165667B1 + seed) % len(shifts)
                words[1] = mix32((ia + 1) * 0x27D4EB2F + ib * 0x165667B1 + seed) % len(shifts)
                words[2] = mix32(ia * 0x27D4EB2F + (ib + 1) * 0x165667B1 + seed) % len(shifts)
            if up:
                weight[0], weight[1], weight[2] = 1.0 - fa - fb, fa, fb
            else:
                weight[0], weight[1], weight[2] = fa + fb - 1.0, 1.0 - fb, 1.0 - fa
            most = max(weight[0], weight[1], weight[2]) - blend
            total = 0.0
            for k in range(3):
                weight[k] = max(weight[k] - most, 0.0)
                total += weight[k]
            x0 = int(np.rint((u * scale[0] - 0.5) * ONE))
            y0 = int(np.rint((v * scale[1] - 0.5) * ONE))
            red = green = blue = level = 0.0
            for k in range(3):
                if weight[k] <= 0.0:
                    continue
                x, y = x0 + shifts[words[k], 0], y0 + shifts[words[k], 1]
                col, row = x >> 16, y >> 16
                fx, fy = (x & 65535) / 65536.0, (y & 65535) / 65536.0
                c0, r0 = col % wide, row % high
                c1 = c0 + 1 if c0 + 1 < wide else 0
                r1 = r0 + 1 if r0 + 1 < high else 0
                share = weight[k] / total
                s00, s01 = share * (1 - fx) * (1 - fy), share * fx * (1 - fy)
                s10, s11 = share * (1 - fx) * fy, share * fx * fy
                red += (
                    s00 * texels[r0, c0, 0]
                    + s01 * texels[r0, c1, 0]
                    + s10 * texels[r1, c0, 0]
                    + s11 * texels[r1, c1, 0]
                )
                green += (
                    s00 * texels[r0, c0, 1]
                    + s01 * texels[r0, c1, 1]
                    + s10 * texels[r1, c0, 1]
                    + s11 * texels[r1, c1, 1]
                )
                blue += (
                    s00 * texels[r0, c0, 2]
                    + s01 * texels[r0, c1, 2]
                    + s10 * texels[r1, c0, 2]
                    + s11 * texels[r1, c1, 2]
                )
                level += (
                    s00 * texels[r0, c0, 3]
                    + s01 * texels[r0, c1, 3]
                    + s10 * texels[r1, c0, 3]
                    + s11 * texels[r1, c1, 3]
                )
            out[r, c, 0], out[r, c, 1], out[r, c, 2] = red * gain, green * gain, blue * gain
            out[r, c, 3] = level


@njit(cache=True, nogil=True, inline="always")
def _tone(across_mm: float, along_mm: float, streak: Floats, tones: Floats, first: int, word: int) -> float:
    """Lightness of the yarn here, eased into its neighbours' and changing slowly along it."""
    if streak[1] == 0.0:
        return 0.0
    at = across_mm / streak[0] - 0.5
    k = int(np.floor(at))
    f = at - k
    f = f * f * (3.0 - 2.0 * f)
    k -= first
    here = tones[k, 0] * np.cos((along_mm + tones[k, 1]) / streak[2])
    there = tones[k + 1, 0] * np.cos((along_mm + tones[k + 1, 1]) / streak[2])
    return float(here * (1.0 - f) + there * f)
