"""What light on thread looks up of each strand, a row of numbers and one of whole numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.compiled import njit
from render.draw.filaments import PER_MM
from render.draw.surface import (
    AZIMUTH,
    BEFORE,
    CLEAR,
    DEEP,
    DOWN,
    EDGE,
    EDGE_VALLEY,
    FIRST,
    FULL_TURN,
    GLINT,
    HAND,
    LAST,
    MM,
    NUMBERS,
    PER_PX,
    PER_SAMPLE,
    RIGHT,
    ROW,
    SLIM,
    SPARKLE,
    THREAD,
    TONE,
    VALLEY_WIDE,
    WANDER,
    WHOLES,
    WORD,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.pixel_strands import PixelStrands
    from render.draw.shading import Shading
    from render.draw.strands import Strands

    Floats = NDArray[np.float64]

# Columns of what a strand has from its thread.
LEAN, VALLEY, VALLEY_ALONE, OWN_SPARKLE, OWN_GLINT, SCATTER, OF_THREAD = range(7)


def strand_numbers(
    strands: Strands, pixel_strands: PixelStrands, twist: float, of_threads: Floats
) -> tuple[NDArray[np.float32], NDArray[np.int32]]:
    """`numbers` and `wholes`, columns as `surface` names them.

    `of_threads (T, 6)` is by how many degrees filaments run askew as the twist lays them, besides their own
    stray, how deep the valleys between plies are among other threads and alone, how much filaments sparkle,
    one over the mean of their glints, and Kubelka and Munk's S a mm.
    """
    count = len(strands.grain)
    numbers, wholes = np.zeros((count, NUMBERS), np.float32), np.zeros((count, WHOLES), np.int32)
    start, end = (np.ascontiguousarray(ends) for ends in strands.laid_ends_mm())
    fill_numbers(
        np.hypot(*(end - start).T),
        pixel_strands.run,
        _azimuth(strands.end_mm - strands.start_mm),
        pixel_strands.first,
        strands.half_width_mm,
        strands.half_height_mm,
        strands.along_mm,
        strands.grain,
        twist * strands.twist_per_mm,
        strands.thread,
        np.where(strands.piece < 0, VALLEY_ALONE, VALLEY),
        of_threads,
        pixel_strands.px_per_mm,
        numbers,
        wholes,
    )
    return numbers, wholes


@njit(cache=True, nogil=True, error_model="numpy")
def fill_numbers(
    length_mm: Floats,
    run: Floats,
    azimuth: NDArray[np.int64],
    first: NDArray[np.int64],
    half_width_mm: Floats,
    half_height_mm: Floats,
    along_mm: Floats,
    grain: NDArray[np.uint32],
    twist: Floats,
    thread: NDArray[np.integer[Any]],
    lies: NDArray[np.int64],
    of_threads: Floats,
    px_per_mm: float,
    numbers: NDArray[np.float32],
    wholes: NDArray[np.int32],
) -> None:
    """Fill the columns, see `strand_numbers`: a row at a time, which is one line of the cache. `lies` is
    `VALLEY` or `VALLEY_ALONE`."""
    for i in range(len(grain)):
        last, length, word = first[i + 1] - first[i] - 1, max(length_mm[i], 1e-6), np.int64(grain[i])
        row, of_thread = numbers[i], of_threads[thread[i]]
        valley = of_thread[lies[i]]
        # Valleys as pixels of two sub-pixels show them: those that are too narrow for pixels are as much
        # wider as they are less deep. On top of a thread half a ply is a quarter turn: so much of its
        # half-width.
        pixel = 2.0 / px_per_mm / (0.5 * np.pi * half_width_mm[i])
        wide = np.sqrt(VALLEY_WIDE * VALLEY_WIDE + 0.5625 * pixel * pixel)
        row[RIGHT], row[DOWN] = run[i, 0], run[i, 1]
        row[PER_PX] = last / max(run[i, 2], 1e-9)
        row[SLIM], row[DEEP] = 1.0 / wide, VALLEY_WIDE / wide * valley
        row[LAST] = last * (1.0 - 1e-6)
        row[PER_SAMPLE] = length / last * PER_MM
        row[TONE] = 0.05 * ((word >> 8 & 255) / 255.0 - 0.5)
        row[WANDER] = 3.0 * ((word >> 16 & 255) / 255.0 - 0.5) + of_thread[LEAN]
        row[HAND] = 1.0 if twist[i] >= 0.0 else -1.0
        row[MM] = length / last
        # Single precision: it only has to differ from stitch to stitch.
        row[BEFORE] = along_mm[i] % 512.0
        row[SPARKLE], row[GLINT] = of_thread[OWN_SPARKLE], of_thread[OWN_GLINT]
        row[EDGE] = EDGE_VALLEY * valley
        # What a layer lets through that takes in no light (Kubelka and Munk), as thick as the thread is in
        # the mean: the dye is counted where the light comes out.
        row[CLEAR] = 1.0 / (1.0 + 0.5 * np.pi * half_height_mm[i] * of_thread[SCATTER])
        wholes[i, FIRST], wholes[i, AZIMUTH], wholes[i, ROW] = first[i], azimuth[i], word >> 20
        wholes[i, THREAD], wholes[i, WORD] = thread[i], word & 0xFFFF


def note_runs(shading: Shading, pixel_strands: PixelStrands, chosen: NDArray[np.int64]) -> None:
    """Tell the shading how chosen strands run now that they have been moved."""
    run, numbers = pixel_strands.run[chosen], shading.numbers
    last = (pixel_strands.first[1:] - pixel_strands.first[:-1] - 1)[chosen]
    numbers[chosen, RIGHT], numbers[chosen, DOWN] = run[:, 0], run[:, 1]
    numbers[chosen, PER_PX] = last / np.maximum(run[:, 2], 1e-9)
    shading.wholes[chosen, AZIMUTH] = _azimuth(run)


def _azimuth(run: Floats) -> NDArray[np.int64]:
    turn = np.rad2deg(np.arctan2(run[:, 1], run[:, 0])) * (FULL_TURN / 360.0)
    return np.asarray(np.rint(turn).astype(np.int64) % FULL_TURN)
