"""Streaks of a thread's filaments, computed once for a picture and looked up at every point of it."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from render.compiled import njit
from render.disk_cache import code_of, kept
from render.draw import grain
from render.draw.grain import lattice_unit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.disk_cache import Arrays

PER_MM = 16  # samples along the thread
ROWS, COLS = 512, 128  # along, after which it repeats, and around from one side to the other
# Packed, the first row and column come once more after the last, so that what is next needs no looking for:
# numbers in a row, and in a pair of channels.
WIDE, PAIR = COLS + 1, (ROWS + 1) * (COLS + 1)
STREAK, HAIR, FUZZ = 0, 1, 2  # the channels
UNIT = 1.0 / 16384.0  # one step of the samples
# Cells of noise around (half a turn, after which it repeats) and along (the whole texture): filaments run
# nearly along the thread, so they are long along it and narrow across.
STREAK_CELLS = (8, 35)
# Filaments also run in bundles, so wide that they are seen where single ones are not; shares (estimates).
BUNDLE_CELLS, FINE_SHARE, BUNDLE_SHARE = (3, 48), 0.6, 0.8
FUZZ_CELLS = (13, 160)
# Filaments side by side on the half of a thread that is seen: 0.02 mm each, as 40 a ply of 40 wt rayon have.
SIDE_BY_SIDE = 17
# Half a filament's width, of the room it has: they lie closely, and each is brightest along its middle by so
# much more than at its sides, which are so round in the mean.
HALF_FILAMENT, ROUND, ROUND_MEAN = 0.68, 1.6, 0.75
# Each has a lightness of its own, wanders from its place by so much of that room, and lies higher or lower
# than its neighbours, over so many stretches of the texture; a few go astray, across others (estimates).
OWN_TONE, TONE_STRETCHES = 0.6, 18
WANDER_ROOM, WANDER_STRETCHES = 0.3, 18
LIES_HIGHER, ASTRAY_SHARE, ASTRAY_ROOM = 0.4, 0.12, 1.3
USUAL_HALF_WIDTH_MM = 0.11  # of threads in a satin
WORD = 0x51A3


def cached_filaments(sub_px_per_mm: float) -> NDArray[np.int16]:
    """As `filaments`, from disk if the same were made before."""

    def fits(arrays: Arrays) -> bool:
        texture = arrays.get("texture", np.empty(0))
        return texture.shape == (ROWS, COLS, 4) and texture.dtype == np.int16

    def make() -> Arrays:
        return {"texture": filaments(sub_px_per_mm)}

    code = code_of(__file__, grain.__file__)
    return kept("filaments", sub_px_per_mm, made_by=code, make=make, fits=fits)["texture"]


def filaments(sub_px_per_mm: float) -> NDArray[np.int16]:
    """Numbers about 0 (ROWS, COLS, 4): broad streaks, single hairs, stray fibres; in steps of `UNIT`.

    Averaged across the thread over the width of a pixel of two sub-pixels, so that pictures of any size
    show as much of them as their pixels hold.
    """
    from scipy.ndimage import gaussian_filter1d

    # On top of a thread a radian is half its width; a box has the deviation width / sqrt(12).
    box = COLS / np.pi / (USUAL_HALF_WIDTH_MM * sub_px_per_mm / 2)
    blurred = gaussian_filter1d(sharp_filaments().astype(np.float32), box / 12**0.5, axis=1, mode="wrap")
    return np.asarray(np.rint(blurred), np.int16)


@cache
def sharp_filaments() -> NDArray[np.int16]:
    """The same, not averaged."""
    texture = np.zeros((ROWS, COLS, 4), np.int16)
    fill_filaments(texture)
    texture.flags.writeable = False
    return texture


def packed_filaments(texture: NDArray[np.int16]) -> NDArray[np.int32]:
    """Two channels in one number (2, ROWS + 1, COLS + 1), the first in its lower half: read at one go. The
    second pair, which few threads ask for, takes no room in the caches from the first."""
    wide = np.moveaxis(np.pad(texture, ((0, 1), (0, 1), (0, 0)), mode="wrap"), -1, 0).astype(np.int32)
    return np.asarray((wide[0::2] & 0xFFFF) | (wide[1::2] << 16))


@njit(cache=True, nogil=True)
def fill_filaments(texture: NDArray[np.int16]) -> None:
    """Fill the texture, sharp."""
    rows, cols = texture.shape[:2]
    for r in range(rows):
        y = r / rows
        for c in range(cols):
            x = c / cols
            streak = FINE_SHARE * _noise(x, y, STREAK_CELLS, WORD)
            streak += BUNDLE_SHARE * _noise(x, y, BUNDLE_CELLS, WORD + 101)
            fuzz = _noise(x, y, FUZZ_CELLS, WORD + 151)
            texture[r, c, STREAK] = np.rint(streak / UNIT)
            texture[r, c, HAIR] = np.rint(_highest_filament(x, y) / UNIT)
            texture[r, c, FUZZ] = np.rint(fuzz / UNIT)


@njit(cache=True, nogil=True)
def _highest_filament(x: float, y: float) -> float:
    """How much lighter than the mean the filament is that lies highest at a place."""
    nearest = int(x * SIDE_BY_SIDE)
    highest, light = -np.inf, 0.0
    for k in range(nearest - 3, nearest + 4):
        name = k % SIDE_BY_SIDE
        own = name / SIDE_BY_SIDE
        astray = lattice_unit(name, 0, WORD + 31) < ASTRAY_SHARE
        room = ASTRAY_ROOM if astray else WANDER_ROOM
        aside = room * _noise(own, y, (SIDE_BY_SIDE, WANDER_STRETCHES), WORD + 77)
        off = (x * SIDE_BY_SIDE - k - 0.5 - aside) / HALF_FILAMENT
        if abs(off) < 1.0:
            level = _noise(own, y, (SIDE_BY_SIDE, WANDER_STRETCHES), WORD + 59)
            top = np.sqrt(1.0 - off * off) + LIES_HIGHER * (level + astray)
            if top > highest:
                tone = _noise(own, y, (SIDE_BY_SIDE, TONE_STRETCHES), WORD + 23)
                highest, light = top, ROUND * (1.0 - off * off - ROUND_MEAN) + OWN_TONE * tone
    # Between filaments that have parted lies shade.
    return light if highest > -np.inf else -ROUND * ROUND_MEAN


@njit(cache=True, nogil=True, inline="always")
def _noise(x: float, y: float, cells: tuple[int, int], word: int) -> float:
    """Smooth value noise in [-1, 1]; `x` and `y` in [0, 1) go round."""
    i = int(x * cells[0])
    u = x * cells[0] - i
    j = int(y * cells[1])
    w = y * cells[1] - j
    after, beside = (j + 1) % cells[1], (i + 1) % cells[0]
    u = u * u * (3.0 - 2.0 * u)
    w = w * w * (3.0 - 2.0 * w)
    a = lattice_unit(i, j, word) * (1 - u) + lattice_unit(beside, j, word) * u
    b = lattice_unit(i, after, word) * (1 - u) + lattice_unit(beside, after, word) * u
    return 2.0 * (a * (1 - w) + b * w) - 1.0
