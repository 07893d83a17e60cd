"""For how many frames a tile that the cloth carries on is drawn ahead: as few drawings as are not seen.

What is shown lies between two drawings of a tile, and is seen by how far they are apart. A tile is drawn as
it lies in a frame of the film: where that is each `n`-th one, only those between are seen at all.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

# What lies a share `s` of the way between two drawings `a` levels apart is seen by a mean FLIP of
# `SEEN * a ** POWER * (4 s (1 - s)) ** AMID` (thread and bare cloth), as fitted to 980 tiles of the crest at
# random, with up to a pixel between drawings.
SEEN, SEEN_BARE, POWER, AMID = 0.0122, 0.0056, 0.7, 0.3
# What is foretold of a frame is to be so much at most, and on white cloth so much less, by its lightness:
# the lighter it is the further frames lie off stills however exactly they are drawn. A tile by itself is to
# be seen so much half-way, so that it is no more blurred than its neighbours (by eye). So far tiles are seen
# otherwise than foretold (of that, root mean square): there is room for twice as much, less of it where many
# tiles share a frame. In the mean of all frames there is to be that much less.
MOST_SEEN, LESS_ON_WHITE, TILE_AT_MOST, UNSURE, MEAN = 0.0096, 0.0037, 0.02, 0.35, 0.8
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # of linear sRGB, IEC 61966-2-1
DEARER = 0.6  # how much longer thread takes to draw than cloth alone (estimate)
AHEAD = np.array([1, 2, 3, 4, 5, 6, 8, 10, 12, 16, 24, 32])
OCTAVES = 40  # of what not to be seen is worth in drawings


def seen_levels(apart: Floats, bare: Floats) -> Floats:
    """By what mean FLIP tiles are seen half-way between drawings so many levels apart, of which such a share
    shows bare cloth."""
    return np.asarray(_seen(bare) * apart**POWER)


def _seen(bare: Floats) -> Floats:
    return SEEN + (SEEN_BARE - SEEN) * bare


def off_px(gone: Floats, come: Floats, both: Floats, bare: Floats) -> Floats:
    """How far apart two drawings would be half-way between which as much is seen as of a tile that has come
    some way beside or along the line between its two.

    `gone` is how far the line goes, `come` how far the tile has, squared, `both` the product of the two ways.
    What lies beside the line is seen wholly. Half-way on it half as much is seen of thread, of which samples
    have changed hands or not; of bare cloth, which goes evenly, still less.
    """
    share = np.clip(both / np.maximum(gone, 1e-12), 0.0, 1.0)
    beside = np.maximum(come - share * (2.0 * both - share * gone), 0.0)
    along = gone * (4.0 * share * (1.0 - share)) ** (2.0 * AMID / POWER)
    return np.asarray(np.sqrt(along + beside * (2.0**POWER * SEEN / _seen(bare)) ** (2.0 / POWER)))


def at_most(holds: Floats, cloth_linear: Floats) -> float:
    """How much of a frame may be planned to be seen, of which tiles hold such shares, on cloth of a colour
    (3,) with white card = 1."""
    most = MOST_SEEN - LESS_ON_WHITE * min(float(np.cbrt(cloth_linear @ LUMINANCE)), 1.0)
    return most / (1.0 + 2.0 * UNSURE * float(np.sqrt((holds * holds).sum())))


def worthwhile(seen: Floats, allowed: NDArray[np.bool_], bare: Floats, budget: float) -> NDArray[np.int64]:
    """Which of `AHEAD` each of N tiles is drawn for, where that costs the fewest drawings: those are `seen
    (A, N)` in the mean of their frames, of the whole picture, all within the `budget`; only the `allowed
    (A, N)` are taken.

    By Lagrange's rule: being seen is worth equally many drawings in all tiles.
    """
    count = len(seen)
    cost = (1.0 + DEARER * (1.0 - bare)) / AHEAD[:count, None]
    tile, low, high = np.arange(seen.shape[1]), -20.0, 20.0
    found = np.zeros(len(tile), np.int64)
    for _ in range(OCTAVES // 2):
        worth = 0.5 * (low + high)
        chosen = np.where(allowed, cost + 10.0**worth * seen, np.inf).argmin(0)
        if seen[chosen, tile].sum() <= budget:
            found, high = chosen, worth
        else:
            low = worth
    return found


def take(planned: Floats, most: float, seen: Floats, which: int) -> int:
    """For how many frames to draw a tile that is `seen (A, K)` in the frames to come: as many as `AHEAD` has
    at `which`, or fewer, so that with what is `planned (K,)` already no frame is seen more than it may.
    It is planned as well."""
    for one in range(which, 0, -1):
        if (planned + seen[one] <= most).all():
            planned += seen[one]
            return int(AHEAD[one])
    return 1
