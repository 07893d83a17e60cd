"""Streaks of a thread's filaments, computed once for a picture and looked up at every point of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numba import njit

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
HAIR_CELLS = (22, 24)
FINE_HAIR_CELLS = (50, 30)
FUZZ_CELLS = (13, 160)
HAIR_WEIGHT, FINE_HAIR_WEIGHT = 0.7, 1.0
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

    texture = np.zeros((ROWS, COLS, 4), np.int16)
    fill_filaments(texture, HAIR_WEIGHT, FINE_HAIR_WEIGHT)
    # On top of a thread a radian is half its width; a box has the deviation width / sqrt(12).
    box = COLS / np.pi / (USUAL_HALF_WIDTH_MM * sub_px_per_mm / 2)
    blurred = gaussian_filter1d(texture.astype(np.float32), box / 12**0.5, axis=1, mode="wrap")
    return np.asarray(np.rint(blurred), np.int16)


def packed_filaments(texture: NDArray[np.int16]) -> NDArray[np.int32]:
    """Two channels in one number (2, ROWS + 1, COLS + 1), the first in its lower half: read at one go. The
    second pair, which few threads ask for, takes no room in the caches from the first."""
    wide = np.moveaxis(np.pad(texture, ((0, 1), (0, 1), (0, 0)), mode="wrap"), -1, 0).astype(np.int32)
    return np.asarray((wide[0::2] & 0xFFFF) | (wide[1::2] << 16))


@njit(cache=True, nogil=True)
def fill_filaments(texture: NDArray[np.int16], hair: float, fine_hair: float) -> None:
    """Fill the texture; `hair` and `fine_hair` are the weights of the two octaves."""
    rows, cols = texture.shape[:2]
    for r in range(rows):
        y = r / rows
        for c in range(cols):
            x = c / cols
            streak = _noise(x, y, STREAK_CELLS, WORD)
            fuzz = _noise(x, y, FUZZ_CELLS, WORD + 151)
            strand = 0.0
            if hair > 0.0:
                strand += hair * _noise(x, y, HAIR_CELLS, WORD + 77)
            if fine_hair > 0.0:
                strand += fine_hair * _noise(x, y, FINE_HAIR_CELLS, WORD + 59)
            texture[r, c, STREAK] = np.rint(streak / UNIT)
            texture[r, c, HAIR] = np.rint(strand / UNIT)
            texture[r, c, FUZZ] = np.rint(fuzz / UNIT)


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
