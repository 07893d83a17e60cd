"""Cloth at scattered places, with any number of planes, laid as `laying` lays it over rectangles."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numba import njit

from render.draw.cloth.laying import (
    NODE_MM,
    ONE,
    _mixed,
    _tone,
    _wrapped,
    _yarn_range,
    slow_nodes,
    yarn_tones,
)
from render.draw.grain import mix32

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.cloth.laying import Piece

    Plane = NDArray[np.floating[Any]]


def planes_at(piece: Piece, axes: NDArray[np.float64], place_mm: NDArray[np.float32]) -> NDArray[np.float32]:
    """Planes (N, C) of the piece at places (N, 2) of design space."""
    at = place_mm.astype(np.float64) @ axes.T
    box = np.stack([at.min(0), at.max(0)], 1)
    nodes, first = slow_nodes(box, piece.slow, piece.seed)
    tones, begins = [], []
    for axis in (0, 1):
        count, begin = _yarn_range(box[axis], piece.streaks[axis, 0])
        tones.append(yarn_tones(count, begin, piece.seed + 17 + 12 * axis))
        begins.append(begin)
    out = np.empty((len(at), piece.texels.shape[2]), np.float32)
    scale = np.array([*piece.per_mm, piece.cell_mm, piece.blend])
    begin_at = np.array([*first, *begins])
    lay_places(
        out,
        at,
        piece.texels,
        scale,
        piece.shifts,
        nodes,
        begin_at,
        tones[0],
        tones[1],
        piece.streaks,
        piece.seed,
    )
    return out


@njit(cache=True, nogil=True)
def lay_places(
    out: Plane,
    at: NDArray[np.float64],
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
    """As `lay_texels`, at cloth coordinates `at (N, 2)` and for all planes."""
    high, wide, kinds = texels.shape
    cell, blend = scale[2], scale[3]
    turns_x, turns_y = 1.0 / wide, 1.0 / high
    words = np.zeros(3, np.int64)
    weight = np.zeros(3)
    for n in range(len(at)):
        u, v = at[n, 0], at[n, 1]
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
        if fa + fb < 1.0:
            corner = 0
            weight[0], weight[1], weight[2] = 1.0 - fa - fb, fa, fb
        else:
            corner = 1
            weight[0], weight[1], weight[2] = fa + fb - 1.0, 1.0 - fb, 1.0 - fa
        words[0] = mix32((ia + corner) * 0x27D4EB2F + (ib + corner) * 0x165667B1 + seed) % len(shifts)
        words[1] = mix32((ia + 1) * 0x27D4EB2F + ib * 0x165667B1 + seed) % len(shifts)
        words[2] = mix32(ia * 0x27D4EB2F + (ib + 1) * 0x165667B1 + seed) % len(shifts)
        least = max(weight[0], weight[1], weight[2]) - blend
        total = 0.0
        for k in range(3):
            weight[k] = max(weight[k] - least, 0.0)
            total += weight[k]
        x0 = int(np.floor((u * scale[0] - 0.5) * ONE + 0.5))
        y0 = int(np.floor((v * scale[1] - 0.5) * ONE + 0.5))
        out[n] = 0.0
        for k in range(3):
            if weight[k] <= 0.0:
                continue
            x, y = x0 + shifts[words[k], 0], y0 + shifts[words[k], 1]
            fx, fy = (x & 65535) / 65536.0, (y & 65535) / 65536.0
            c0, r0 = _wrapped(x >> 16, wide, turns_x), _wrapped(y >> 16, high, turns_y)
            c1 = c0 + 1 if c0 + 1 < wide else 0
            r1 = r0 + 1 if r0 + 1 < high else 0
            share = gain * weight[k] / total
            s00, s01 = np.float32(share * (1 - fx) * (1 - fy)), np.float32(share * fx * (1 - fy))
            s10, s11 = np.float32(share * (1 - fx) * fy), np.float32(share * fx * fy)
            one, two, three, four = texels[r0, c0], texels[r0, c1], texels[r1, c0], texels[r1, c1]
            for m in range(kinds):
                out[n, m] += s00 * one[m] + s01 * two[m] + s10 * three[m] + s11 * four[m]
