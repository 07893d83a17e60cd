"""Pile before thread: its fibres hide the more of a thread the deeper that has sunk between them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.compiled import njit
from render.draw.block_rows import pressed_level
from render.draw.dimples import MM_PER_STEP
from render.draw.mapped import mix_down, mixed, places_along

if TYPE_CHECKING:
    from numpy.typing import NDArray

THINS_MM = 0.25  # of pile that leave 1/e of a thread to be seen (estimate)
FIBRES = 6.0  # by how much more a fibre hides that is so much brighter: it stands before others (estimate)
HALF_LIT_MM = 0.5  # high, pile lights half of the shadows that thread casts on it (estimate)
LEAST = 0.08  # of usual, what the darkest place between fibres hides (estimate)
STEPS = 65536.0  # of a share, whole ones, so that sums are the same in any order


def lit_by_fibres(pile_mm: float) -> float:
    """Share that pile takes from a shadow on it: its fibres rise into the light."""
    return pile_mm / (pile_mm + HALF_LIT_MM)


@njit(cache=True, nogil=True)
def hidden_share(
    height: NDArray[np.float32],
    strand: NDArray[np.int32],
    supersample: int,
    edge_px: int,
    pile_mm: NDArray[np.float32],
    bright: NDArray[np.float32],
    dimple_steps: NDArray[np.int16],
    frame: NDArray[np.float64],
) -> NDArray[np.float32]:
    """Share of each pixel's thread that pile before it hides, 0 without any thread.

    `height` and `strand` are of sub-pixels, strand -1 where cloth is seen. `pile_mm` is how high the pile
    stands where nothing presses it down, `bright` how much brighter than on the whole it is there, both by
    pixels. All have `edge_px` pixels around those of the result. `frame` is (x, y of the result's first
    pixel from the middle of the map `dimple_steps`, step), in map cells.
    """
    rows, cols = pile_mm.shape[0] - 2 * edge_px, pile_mm.shape[1] - 2 * edge_px
    out = np.zeros((rows, cols), np.float32)
    cell, share, begin = places_along(frame[0], frame[2], cols, dimple_steps.shape[1])
    line = np.empty(cell[-1] + 3, np.float32)
    for r in range(rows):
        mix_down(dimple_steps, MM_PER_STEP, begin, frame[1] + r * frame[2], 0, 1, line)
        for c in range(cols):
            pressed = mixed(line[cell[c]], line[cell[c] + 1], share[c])
            y, x = r + edge_px, c + edge_px
            level = pressed_level(pile_mm[y, x], pressed)
            thick = max(1.0 + FIBRES * bright[y, x], LEAST) / THINS_MM
            hidden, threads = 0.0, 0
            for i in range(y * supersample, (y + 1) * supersample):
                for j in range(x * supersample, (x + 1) * supersample):
                    if strand[i, j] < 0:
                        continue
                    threads += 1
                    over = level - height[i, j]
                    if over > 0.0:
                        hidden += np.rint(STEPS * (1.0 - np.exp(-over * thick)))
            if threads:
                out[r, c] = hidden / (STEPS * threads)
    return out
