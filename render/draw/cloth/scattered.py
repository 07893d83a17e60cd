"""Cloth at scattered places, with any number of planes, laid as `laying` lays it over rectangles."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.compiled import njit
from render.draw.cloth.laying import NODE_MM, ONE, _mixed, _tone, _wrapped, slow_fields, weigh_corners
from render.draw.grain import mix32

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.cloth.laying import Piece

    Plane = NDArray[np.floating[Any]]


def add_planes(
    out: Plane,
    piece: Piece,
    axes: NDArray[np.float64],
    places_mm: NDArray[np.float32],
    chosen: NDArray[np.int64],
    weight: NDArray[np.float32],
) -> None:
    """Add the piece's planes to the `chosen (N,)` rows of `out (G, C)`, `weight (N,)` times what lies at
    those rows of `places_mm (G, 2 or more)`, design space."""
    slow = slow_fields(piece, extent(places_mm, axes, chosen))
    lay_places(
        out,
        places_mm,
        axes,
        chosen,
        weight,
        piece.texels,
        np.array([*piece.per_mm, piece.cell_mm, piece.blend]),
        piece.shifts,
        slow.nodes,
        slow.first,
        *slow.tones,
        piece.streaks,
        piece.seed,
    )


@njit(cache=True, nogil=True)
def extent(
    places: NDArray[np.float32], axes: NDArray[np.float64], chosen: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Least and greatest cloth coordinates ((u0, u1), (v0, v1)) of the chosen places."""
    box = np.array([[np.inf, -np.inf], [np.inf, -np.inf]])
    for n in chosen:
        for k in range(2):
            at = axes[k, 0] * places[n, 0] + axes[k, 1] * places[n, 1]
            box[k, 0], box[k, 1] = min(box[k, 0], at), max(box[k, 1], at)
    return box


@njit(cache=True, nogil=True)
def lay_places(
    out: Plane,
    places: NDArray[np.float32],
    axes: NDArray[np.float64],
    chosen: NDArray[np.int64],
    amount: NDArray[np.float32],
    texels: Plane,
    scale: NDArray[np.float64],
    shifts: NDArray[np.int64],
    nodes: Plane,
    first: NDArray[np.int64],
    tones_x: Plane,
    tones_y: Plane,
    streaks: Plane,
    seed: int,
) -> None:
    """As `lay_texels`, at the `chosen` places and for all planes, added to rows of `out`."""
    high, wide, _ = texels.shape
    cell, blend = scale[2], scale[3]
    turns_x, turns_y = 1.0 / wide, 1.0 / high
    words = np.zeros(3, np.int64)
    weight = np.zeros(3)
    for n in range(len(chosen)):
        x_mm, y_mm = places[chosen[n], 0], places[chosen[n], 1]
        u, v = axes[0, 0] * x_mm + axes[0, 1] * y_mm, axes[1, 0] * x_mm + axes[1, 1] * y_mm
        # As in `lay_texels`; a function for both costs that a fifth of its speed.
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
        corner = 0 if fa + fb < 1.0 else 1
        words[0] = mix32((ia + corner) * 0x27D4EB2F + (ib + corner) * 0x165667B1 + seed) % len(shifts)
        words[1] = mix32((ia + 1) * 0x27D4EB2F + ib * 0x165667B1 + seed) % len(shifts)
        words[2] = mix32(ia * 0x27D4EB2F + (ib + 1) * 0x165667B1 + seed) % len(shifts)
        total = weigh_corners(fa, fb, blend, weight)
        x0 = int(np.floor((u * scale[0] - 0.5) * ONE + 0.5))
        y0 = int(np.floor((v * scale[1] - 0.5) * ONE + 0.5))
        row = out[chosen[n]]
        gain *= amount[n] / total
        for k in range(3):
            if weight[k] <= 0.0:
                continue
            at = x0 + shifts[words[k], 0], y0 + shifts[words[k], 1]
            add_texel(row, texels, at, (turns_x, turns_y), gain * weight[k])


@njit(cache=True, nogil=True, inline="always")
def add_texel(
    row: Plane, texels: Plane, at: tuple[int, int], turns: tuple[float, float], share: float
) -> None:
    """Add a share of what lies between four texels, at a fixed-point place; `turns` is one over how many
    columns and rows there are."""
    high, wide, kinds = texels.shape
    x, y = at
    fx, fy = (x & 65535) / 65536.0, (y & 65535) / 65536.0
    c0, r0 = _wrapped(x >> 16, wide, turns[0]), _wrapped(y >> 16, high, turns[1])
    c1 = c0 + 1 if c0 + 1 < wide else 0
    r1 = r0 + 1 if r0 + 1 < high else 0
    s00, s01 = np.float32(share * (1 - fx) * (1 - fy)), np.float32(share * fx * (1 - fy))
    s10, s11 = np.float32(share * (1 - fx) * fy), np.float32(share * fx * fy)
    one, two, three, four = texels[r0, c0], texels[r0, c1], texels[r1, c0], texels[r1, c1]
    for m in range(kinds):
        row[m] += s00 * one[m] + s01 * two[m] + s10 * three[m] + s11 * four[m]
