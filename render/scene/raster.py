"""Which part of a scene each sample sees: triangles into a depth buffer, all values right in perspective."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.compiled import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray


@njit(cache=True, nogil=True)
def fill_triangles(
    place: NDArray[np.float64],
    values: NDArray[np.float32],
    corners: NDArray[np.int64],
    part: NDArray[np.int64],
    chosen: NDArray[np.int64],
    top: int,
    depth: NDArray[np.float32],
    which: NDArray[np.int16],
    out: NDArray[np.float32],
) -> None:
    """Draw the `chosen` triangles into rows `top` and on.

    `place (N, 3)`: column, row and one over depth of each point; `values (N, K)` to interpolate.
    `depth (rows, cols)` holds one over depth, the larger being nearer, `which` the part.
    """
    rows, cols = depth.shape
    kinds = values.shape[1]
    for t in chosen:
        a, b, c = corners[t, 0], corners[t, 1], corners[t, 2]
        ax, ay, bx, by = place[a, 0], place[a, 1], place[b, 0], place[b, 1]
        cx, cy = place[c, 0], place[c, 1]
        area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        if abs(area) < 1e-12:
            continue
        left = max(int(np.ceil(min(ax, bx, cx) - 0.5)), 0)
        right = min(int(np.floor(max(ax, bx, cx) - 0.5)), cols - 1)
        low = max(int(np.ceil(min(ay, by, cy) - 0.5)), top)
        high = min(int(np.floor(max(ay, by, cy) - 0.5)), top + rows - 1)
        wa, wb, wc = place[a, 2], place[b, 2], place[c, 2]
        for r in range(low, high + 1):
            y = r + 0.5
            for k in range(left, right + 1):
                x = k + 0.5
                p = ((bx - x) * (cy - y) - (by - y) * (cx - x)) / area
                q = ((cx - x) * (ay - y) - (cy - y) * (ax - x)) / area
                s = 1.0 - p - q
                # A hair over the edge, so that neighbours leave no crack.
                if p < -1e-9 or q < -1e-9 or s < -1e-9:
                    continue
                near = p * wa + q * wb + s * wc
                if near <= depth[r - top, k]:
                    continue
                depth[r - top, k] = near
                which[r - top, k] = part[t]
                pa, qb, sc = p * wa / near, q * wb / near, s * wc / near
                for j in range(kinds):
                    out[r - top, k, j] = pa * values[a, j] + qb * values[b, j] + sc * values[c, j]


@njit(cache=True, nogil=True)
def fill_depth(place: NDArray[np.float64], corners: NDArray[np.int64], depth: NDArray[np.float32]) -> None:
    """Nearest depth only, of points given as column, row and height towards the looker."""
    rows, cols = depth.shape
    for t in range(len(corners)):
        a, b, c = corners[t, 0], corners[t, 1], corners[t, 2]
        ax, ay, bx, by = place[a, 0], place[a, 1], place[b, 0], place[b, 1]
        cx, cy = place[c, 0], place[c, 1]
        area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        if abs(area) < 1e-9:
            continue
        left = max(int(np.ceil(min(ax, bx, cx) - 0.5)), 0)
        right = min(int(np.floor(max(ax, bx, cx) - 0.5)), cols - 1)
        low = max(int(np.ceil(min(ay, by, cy) - 0.5)), 0)
        high = min(int(np.floor(max(ay, by, cy) - 0.5)), rows - 1)
        for r in range(low, high + 1):
            for k in range(left, right + 1):
                x, y = k + 0.5, r + 0.5
                p = ((bx - x) * (cy - y) - (by - y) * (cx - x)) / area
                q = ((cx - x) * (ay - y) - (cy - y) * (ax - x)) / area
                s = 1.0 - p - q
                if p < -1e-9 or q < -1e-9 or s < -1e-9:
                    continue
                height = p * place[a, 2] + q * place[b, 2] + s * place[c, 2]
                if height > depth[r, k]:
                    depth[r, k] = height
