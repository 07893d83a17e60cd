"""How thread lies in each pixel: which strand shows, its direction, and the light that its shape leaves."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.compiled import njit
from render.draw.sheen import AZIMUTH_STEPS
from render.draw.surface import AZIMUTH, AZIMUTH_UNIT, HAND, LAST, THREAD, WANDER, thread_surface

if TYPE_CHECKING:
    from numpy.typing import NDArray


@njit(cache=True, nogil=True)
def lie_in_pixels(
    strand: NDArray[np.int32],
    along: NDArray[np.float32],
    across: NDArray[np.float32],
    numbers: NDArray[np.float32],
    wholes: NDArray[np.int32],
    profile: NDArray[np.float32],
    dye: NDArray[np.float32],
    texture: NDArray[np.int32],
    sub: int,
    order: NDArray[np.int32],
    angles: NDArray[np.float32],
    body: NDArray[np.float32],
) -> None:
    """Per pixel the strand that shows in most of `sub` x `sub` samples, how it lies there on average,
    and the share of light that grooves, turned sides and bare cloth leave.

    `angles (rows, cols, 3)` are azimuth in [0, 180), tilt and roll, degrees; the rest is as for
    `thread_surface`. But for foil, filaments are taken to run as askew as their strand does on average.
    """
    rows, cols = order.shape
    of_strands, filaments = (numbers.ravel(), wholes.ravel(), profile.ravel()), texture.ravel()
    for r in range(rows):
        for c in range(cols):
            at, most = shown_most(strand, r * sub, c * sub, sub)
            order[r, c] = at
            if at < 0:
                continue
            left = turn = tilt = roll = 0.0
            for k in range(sub * sub):
                block, one = k // 4, k % 4
                down, right = r * sub + 2 * (block // (sub // 2)), c * sub + 2 * (block % (sub // 2))
                i = strand[down + one // 2, right + one % 2]
                many, v, place = in_block(strand, along, across, down, right, one)
                if i < 0 or many == 0:
                    continue
                u, v = np.uintp(i), min(max(v / many, np.float32(-0.999)), np.float32(0.999))
                place = place / many * numbers[u, LAST]
                flake, fuzz = dye[wholes[u, THREAD], 4], dye[wholes[u, THREAD], 5]
                surface = thread_surface(
                    u, np.float32(place), np.float32(v), *of_strands, flake, fuzz, filaments
                )
                left += many * surface[4]
                if i == at:
                    askew = numbers[u, HAND] * numbers[u, WANDER] * (AZIMUTH_UNIT * AZIMUTH_STEPS / 360.0)
                    turn += (surface[0] if flake > 0.0 else wholes[u, AZIMUTH] + askew) * many / most
                    tilt += surface[1] * many / most
                    roll += surface[2] * many / most
            body[r, c] = left / (sub * sub)
            turn = (turn * (360.0 / (AZIMUTH_UNIT * AZIMUTH_STEPS))) % 360.0
            # A thread has no front: told from its other end, tilt and roll change sign.
            back = turn >= 180.0
            angles[r, c, 0] = turn - 180.0 if back else turn
            angles[r, c, 1] = -tilt if back else tilt
            angles[r, c, 2] = -roll if back else roll


@njit(cache=True, nogil=True)
def shown_most(strand: NDArray[np.int32], top: int, left: int, sub: int) -> tuple[int, int]:
    """The strand that shows in most samples of a pixel, the latest of equals, and in how many; -1 and 0 where
    none does."""
    most, at = 0, -1
    for k in range(sub * sub):
        i = strand[top + k // sub, left + k % sub]
        same = 0
        for m in range(sub * sub):
            same += strand[top + m // sub, left + m % sub] == i
        if i >= 0 and (same > most or (same == most and i > at)):
            most, at = same, i
    return at, most


@njit(cache=True, nogil=True)
def in_block(
    strand: NDArray[np.int32],
    along: NDArray[np.float32],
    across: NDArray[np.float32],
    top: int,
    left: int,
    one: int,
) -> tuple[int, Any, Any]:
    """How many samples of a block of two by two show the same strand as this `one`, and the sums of their
    places across and along: as `shade` does, they are looked at as one. None where an earlier one does."""
    i = strand[top + one // 2, left + one % 2]
    many, v, place = 0, np.float32(0.0), np.float32(0.0)
    for m in range(4):
        y, x = top + m // 2, left + m % 2
        if strand[y, x] == i:
            if m < one:
                return 0, v, place
            many, v, place = many + 1, v + across[y, x], place + along[y, x]
    return many, v, place
