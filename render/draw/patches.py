"""Which parts of a picture to draw again: marked tiles gathered into few rectangles."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.compiled import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats

    Rect = tuple[int, int, int, int]

FULL_ENOUGH = 0.7  # a rectangle with so many of its tiles marked is drawn as one
MOST_TILES = 24  # along a side of a rectangle


def rectangles(marked: NDArray[np.bool_], *, full: float = FULL_ENOUGH, most: int = MOST_TILES) -> list[Rect]:
    """Rectangles (top, left, bottom, right) of tiles that hold all marked ones, none twice.

    Of the tiles of each at least `full` of them all are marked, if there are more than four or `full` is 1;
    they are no more than `most` along a side.
    """
    rows, cols = np.flatnonzero(marked.any(1)), np.flatnonzero(marked.any(0))
    if not len(rows):
        return []
    top, bottom, left, right = int(rows[0]), int(rows[-1]) + 1, int(cols[0]), int(cols[-1]) + 1
    inner = marked[top:bottom, left:right]
    high, wide = inner.shape
    if max(high, wide) <= most and (inner.mean() >= full or (inner.size <= 4 and full < 1.0)):
        return [(top, left, bottom, right)]
    if high >= wide:
        halves = [(inner[: high // 2], top, left), (inner[high // 2 :], top + high // 2, left)]
    else:
        halves = [(inner[:, : wide // 2], top, left), (inner[:, wide // 2 :], top, left + wide // 2)]
    return [
        (row + r0, col + c0, row + r1, col + c1)
        for half, row, col in halves
        for r0, c0, r1, c1 in rectangles(half, full=full, most=most)
    ]


def cheapest(marked: NDArray[np.bool_], own: float, around: float = 0.0) -> list[Rect]:
    """Rectangles of tiles that hold all marked ones, none twice, where drawing one takes as long as its
    tiles, with so many `around` them on either side, and `own` more: what lies between is drawn as well where
    that is sooner done."""

    def cost(high: int, wide: int) -> float:
        return (high + 2.0 * around) * (wide + 2.0 * around) + own

    rows, cols = np.flatnonzero(marked.any(1)), np.flatnonzero(marked.any(0))
    if not len(rows):
        return []
    top, bottom, left, right = int(rows[0]), int(rows[-1]) + 1, int(cols[0]), int(cols[-1]) + 1
    whole, (high, wide) = [(top, left, bottom, right)], (bottom - top, right - left)
    if high * wide - int(marked.sum()) <= own:
        return whole
    middle = (top + bottom) // 2 if high >= wide else (left + right) // 2
    halves = [marked.copy(), marked.copy()]
    if high >= wide:
        halves[0][middle:], halves[1][:middle] = False, False
    else:
        halves[0][:, middle:], halves[1][:, :middle] = False, False
    parts = cheapest(halves[0], own, around) + cheapest(halves[1], own, around)
    taken = sum(cost(rect[2] - rect[0], rect[3] - rect[1]) for rect in parts)
    return parts if taken < cost(high, wide) else whole


@njit(cache=True, nogil=True)
def mark_boxes(marked: NDArray[np.bool_], boxes_px: Floats, tile_px: int) -> None:
    """Mark the tiles that boxes (N, 4), left, top, right, bottom in pixels, touch."""
    rows, cols = marked.shape
    for k in range(len(boxes_px)):
        left, top = np.floor(boxes_px[k, 0] / tile_px), np.floor(boxes_px[k, 1] / tile_px)
        right, bottom = np.floor(boxes_px[k, 2] / tile_px), np.floor(boxes_px[k, 3] / tile_px)
        for r in range(max(int(top), 0), min(int(bottom) + 1, rows)):
            for c in range(max(int(left), 0), min(int(right) + 1, cols)):
                marked[r, c] = True


@njit(cache=True, nogil=True)
def keep_holding(marked: NDArray[np.bool_], some: NDArray[np.bool_], tile_px: int) -> None:
    """Leave those marked of the tiles that hold some of the pixels (rows, cols)."""
    rows, cols = some.shape
    for row in range(marked.shape[0]):
        for col in range(marked.shape[1]):
            if not marked[row, col]:
                continue
            held = False
            for r in range(row * tile_px, min((row + 1) * tile_px, rows)):
                for c in range(col * tile_px, min((col + 1) * tile_px, cols)):
                    held |= some[r, c]
                if held:
                    break
            marked[row, col] = held
