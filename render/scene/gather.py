"""From samples to looks: neighbouring samples of one part within a pixel are looked at together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.compiled import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

SUB = 2  # samples along each side of a pixel
VALUES = 7  # u, v in mm, normal x, y, z, shares of key lamp and dome


@dataclass(frozen=True, slots=True, eq=False)
class Looks:
    """What the pixels of a band show, G looks in all.

    `pixel (G,)` counts along the band's rows; `share (G,)` of the pixel; `part (G,)`, -1 where
    nothing stands; `values (G, 7)` in their mean; `uv (G, 4, 2)` the places of its `count (G,)`
    samples; `nearness (G,)` one over depth.
    """

    pixel: NDArray[np.int64]
    share: NDArray[np.float32]
    part: NDArray[np.int16]
    values: NDArray[np.float32]
    uv: NDArray[np.float32]
    count: NDArray[np.int8]
    nearness: NDArray[np.float32]


def looks_of(which: NDArray[np.int16], depth: NDArray[np.float32], values: NDArray[np.float32]) -> Looks:
    """Group the samples (rows x SUB, cols x SUB) of a band."""
    count = count_looks(which)
    looks = Looks(
        np.empty(count, np.int64),
        np.empty(count, np.float32),
        np.empty(count, np.int16),
        np.empty((count, VALUES), np.float32),
        np.empty((count, SUB * SUB, 2), np.float32),
        np.empty(count, np.int8),
        np.empty(count, np.float32),
    )
    group_samples(
        which,
        depth,
        values,
        looks.pixel,
        looks.share,
        looks.part,
        looks.values,
        looks.uv,
        looks.count,
        looks.nearness,
    )
    return looks


@njit(cache=True, nogil=True)
def count_looks(which: NDArray[np.int16]) -> int:
    """How many looks the samples make."""
    total = 0
    for row in range(which.shape[0] // SUB):
        for col in range(which.shape[1] // SUB):
            for k in range(SUB * SUB):
                here = which[row * SUB + k // SUB, col * SUB + k % SUB]
                fresh = True
                for j in range(k):
                    if which[row * SUB + j // SUB, col * SUB + j % SUB] == here:
                        fresh = False
                if fresh:
                    total += 1
    return total


@njit(cache=True, nogil=True)
def group_samples(
    which: NDArray[np.int16],
    depth: NDArray[np.float32],
    values: NDArray[np.float32],
    pixel: NDArray[np.int64],
    share: NDArray[np.float32],
    part: NDArray[np.int16],
    mean: NDArray[np.float32],
    uv: NDArray[np.float32],
    count: NDArray[np.int8],
    nearness: NDArray[np.float32],
) -> None:
    """Fill the looks, pixel by pixel."""
    cols = which.shape[1] // SUB
    at = 0
    for row in range(which.shape[0] // SUB):
        for col in range(cols):
            begin = at
            for k in range(SUB * SUB):
                r, c = row * SUB + k // SUB, col * SUB + k % SUB
                here = which[r, c]
                g = begin
                while g < at and part[g] != here:
                    g += 1
                if g == at:
                    pixel[g] = row * cols + col
                    part[g] = here
                    count[g] = 0
                    nearness[g] = 0.0
                    mean[g] = 0.0
                    at += 1
                uv[g, count[g], 0] = values[r, c, 0]
                uv[g, count[g], 1] = values[r, c, 1]
                count[g] += 1
                nearness[g] += depth[r, c]
                for j in range(VALUES):
                    mean[g, j] += values[r, c, j]
            for g in range(begin, at):
                share[g] = count[g] / (SUB * SUB)
                nearness[g] /= count[g]
                for j in range(VALUES):
                    mean[g, j] /= count[g]
