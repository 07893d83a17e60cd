"""How deep stitching presses the cloth down: what is covered, blurred near and far, and its needle holes."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart, Lent
from render.compiled import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Sums = NDArray[np.signedinteger[Any]]

# Three boxes so wide blur like a Gaussian of 0.25 and of 0.8 mm.
NEAR_CELLS, FAR_CELLS = 5, 17
NEAR_MM, FAR_MM = 0.12, 0.24  # depth under full cover that either adds (calibrated by eye)
# So much of a groove has what is pressed near: with more its steepest side lies off the thread (by eye).
NEAR_GROOVE = 0.3
PIERCED = 2  # what a needle hole adds to the map of cover
# A hole is a pit so deep, as wide as two boxes make it; where several run together no more than `MOST_PITS`
# (estimates: a 75/11 needle is 0.75 mm thick, and cloth closes to about half of that around the thread).
PIT_MM, PIT_CELLS, MOST_PITS = 0.14, 3, 1.3
# Depths are whole steps, so that turning the map by a quarter changes no bit of it. 16 bits reach 8 mm: full
# cover and the deepest holes together make 0.54 mm.
STEPS_PER_MM = 4096.0
MM_PER_STEP = np.float32(1.0 / STEPS_PER_MM)
EDGE_CELLS = 24  # empty border of the map, so dimples fade out inside it
TILE_CELLS = 256  # its sums stay in the caches


@dataclass(frozen=True, slots=True)
class Bedding:
    """How thread beds itself in a cloth: a needle hole is `pit_mm` deep, and a share c of cover presses
    (1 + groove) c / (1 + groove c) as deep as full cover does, near the thread with a part of the groove.

    A single tight thread sinks into a soft cloth nearly as deep as many do (common practice, no source); with
    `groove` 0 it is as deep as it covers.
    """

    pit_mm: float = PIT_MM
    groove: float = 0.0

    @property
    def closes(self) -> bool:
        """Whether cloth closes over a hole, or over what lies deep in it; a card does not."""
        return self.pit_mm > 0.0 or self.groove > 0.0


def dimples_in_steps(cover: NDArray[np.uint8], bedding: Bedding) -> NDArray[np.int16]:
    """Depth in steps of 1 / `STEPS_PER_MM` mm for a map that is 1 where thread lies, `PIERCED` more at needle
    holes, else 0, with a border of `EDGE_CELLS` zeros; both (rows, cols)."""
    depth = np.empty(cover.shape, np.int16)
    facts = np.array([bedding.groove, FAR_CELLS**-6, NEAR_CELLS**-6, bedding.pit_mm, PIT_CELLS**-2])
    if len(cover) <= TILE_CELLS:  # no work to share
        press(cover, 0, facts, depth)
        return depth
    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        list(pool.map(lambda top: press(cover, top, facts, depth), range(0, len(cover), TILE_CELLS)))
    return depth


@njit(cache=True, nogil=True)
def press(cover: NDArray[np.uint8], top: int, facts: NDArray[np.float64], depth: NDArray[np.int16]) -> None:
    """Fill rows of the depth, from row `top` of the map on; `facts` are as for `deepen`."""
    rows = min(TILE_CELLS, len(cover) - top)
    side = TILE_CELLS + 3 * (FAR_CELLS - 1)
    # Fresh memory would cost as much as the sums; small ones take half of it.
    room, line = np.empty((2, side * side), np.int32), np.empty((2, side), np.int32)
    small, short = np.empty((3, side * side), np.int16), np.empty((2, side), np.int16)
    for left in range(0, cover.shape[1], TILE_CELLS):
        cols = min(TILE_CELLS, cover.shape[1] - left)
        tile = (top, left, rows, cols)
        far, near, pits = room[1], small[1], small[2]
        far_wide = boxed(cover, tile, 0, FAR_CELLS, 3, line, room[0], far)
        if not far[: rows * far_wide].any():  # which looks furthest
            depth[top : top + rows, left : left + cols] = 0
            continue
        near_wide = boxed(cover, tile, 0, NEAR_CELLS, 3, short, small[0], near)
        pits_wide = boxed(cover, tile, 1, PIT_CELLS, 2, short, small[0], pits)
        for r in range(rows):
            sums = far[r * far_wide :], near[r * near_wide :], pits[r * pits_wide :]
            deepen(*sums, facts, depth[top + r, left : left + cols])


@njit(cache=True, nogil=True, pipeline_class=Lent)
def boxed(
    cover: NDArray[np.uint8],
    tile: tuple[int, int, int, int],
    bit: int,
    cells: int,
    times: int,
    line: Sums,
    spare: Sums,
    out: Sums,
) -> int:
    """Fill `out` with one bit of the map summed over a box of so many cells each way, several times over,
    around each cell of a tile (top, left, rows, columns); beyond the map is nothing. Sums of whole numbers
    are exact: the same however the map is turned. Boxes are 3, 5 or 17 cells wide; `line (2, n)`, `spare` and
    `out` have room for the tile and what lies around it. Gives how far apart the tile's rows are in `out`."""
    top, left, rows, cols = tile
    around = times * (cells // 2)
    high, wide = rows + 2 * around, cols + 2 * around
    begin, stop = max(around - left, 0), min(cover.shape[1] - left + around, wide)
    flat = cover.reshape(-1)
    out[: high * wide] = 0
    for r in range(max(around - top, 0), min(len(cover) - top + around, high)):
        at = (top + r - around) * cover.shape[1] + left - around + begin
        take_bit(flat, at, stop - begin, np.int32(bit), r * wide + begin, out)
    # What is summed beyond the end of a row is never asked for.
    for _ in range(times):
        sum_along(out, high, wide, cells, line[0], line[1], spare)
        sum_down(spare, high, wide, cells, line[0], out)
        high -= cells - 1
    return wide


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def take_bit(cover: NDArray[np.uint8], at: int, count: int, bit: Any, to: int, out: Sums) -> None:
    """Copy one bit of so many cells, from number `at` on, to where number `to` is."""
    for c in range(count):
        out[np.uintp(to + c)] = np.int32(cover[np.uintp(at + c)]) >> bit & np.int32(1)


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def sum_along(grid: Sums, rows: int, wide: int, cells: int, spare: Sums, room: Sums, out: Sums) -> None:
    """Fill `out` with the sum of so many cells from each on along its row: sums of sums are added up."""
    for row in range(rows):
        at = row * wide
        for c in range(wide - 1):
            spare[np.uintp(c)] = grid[np.uintp(at + c)] + grid[np.uintp(at + c + 1)]
        if cells == 3:
            for c in range(wide - 2):
                out[np.uintp(at + c)] = spare[np.uintp(c)] + grid[np.uintp(at + c + 2)]
            continue
        for c in range(wide - 3):
            room[np.uintp(c)] = spare[np.uintp(c)] + spare[np.uintp(c + 2)]
        if cells == 5:
            for c in range(wide - 4):
                out[np.uintp(at + c)] = room[np.uintp(c)] + grid[np.uintp(at + c + 4)]
            continue
        for c in range(wide - 7):
            spare[np.uintp(c)] = room[np.uintp(c)] + room[np.uintp(c + 4)]
        for c in range(wide - 15):
            room[np.uintp(c)] = spare[np.uintp(c)] + spare[np.uintp(c + 8)]
        for c in range(wide - 16):
            out[np.uintp(at + c)] = room[np.uintp(c)] + grid[np.uintp(at + c + 16)]


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def sum_down(grid: Sums, rows: int, wide: int, cells: int, total: Sums, out: Sums) -> None:
    """Fill `out` with the sum of so many cells from each on down its column, of rows that have as many."""
    for c in range(wide):
        total[np.uintp(c)] = 0
    for row in range(cells - 1):
        for c in range(wide):
            total[np.uintp(c)] += grid[np.uintp(row * wide + c)]
    for row in range(rows - cells + 1):
        gone, come = row * wide, (row + cells - 1) * wide
        for c in range(wide):
            whole = total[np.uintp(c)] + grid[np.uintp(come + c)]
            out[np.uintp(gone + c)] = whole
            total[np.uintp(c)] = whole - grid[np.uintp(gone + c)]


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def deepen(far: Sums, near: Sums, pits: Sums, facts: NDArray[np.float64], depth: NDArray[np.int16]) -> None:
    """Depth of a row; `facts` are groove and depth of a hole, as of `Bedding`, and what share of cover or of
    a hole each sum has one of: groove, far, near, depth, hole."""
    groove, hole_mm = facts[0], facts[3]
    near_groove = NEAR_GROOVE * groove
    for c in range(len(depth)):
        wide, narrow = facts[1] * far[c], facts[2] * near[c]
        mm = FAR_MM * (1.0 + groove) * wide / (1.0 + groove * wide)
        mm += NEAR_MM * (1.0 + near_groove) * narrow / (1.0 + near_groove * narrow)
        mm += hole_mm * min(pits[c] * facts[4], MOST_PITS)
        depth[c] = np.int16(np.int32(np.rint(mm * STEPS_PER_MM)))
