"""Stray fibres: loose ends of the cloth's own fibres that lie over the edges of stitching.

They belong to places of the cloth, so that parts of a picture agree.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.apart import Apart, Lent
from render.compiled import njit
from render.draw.fibre_notes import LIGHTS, note_piece
from render.draw.grain import lattice_unit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Fabric, Floats, Window

    Part = tuple[int, int, int, int]

LONGEST = 1.6  # times its usual length a fibre is at most, the shortest a quarter of that (estimate)
MOST_MM = 1.0  # longer ones would begin where what is around them is not known
MOST_SHADOW_MM = 0.15  # a shadow lies no farther from its fibre, however low the lamp
HALF_CELL_MM = 0.75  # no place of a square millimetre is farther from its middle
# A fibre begins in cloth that is open so far to three sides, not in slits between threads (estimate).
ROOM_MM = 0.1
PIECES = 6  # straight pieces of a fibre
TAPERS = 0.5  # by such a share thinner at its end (estimate)
BENDS_RAD = 2.4  # along the whole fibre, either way, at most (estimate)
# It stands so far off what it lies over, and its shadow, soft as that of a thing so thin, takes such a share
# of the lamp's light there (estimates).
STANDS_MM, SHADES = 0.06, 0.6


@dataclass(frozen=True, slots=True)
class Stray:
    """How many loose fibres begin on a square millimetre of cloth, how long and how thick they are."""

    per_mm2: float
    length_mm: float
    fibre_mm: float

    @property
    def reach_mm(self) -> float:
        """No fibre, nor its shadow, reaches farther."""
        return LONGEST * self.length_mm + MOST_SHADOW_MM


def stray_of(fabric: Fabric) -> Stray | None:
    """Those of a fabric, None if it has none."""
    table = fabric.structure.get("stray")
    if table is None:
        return None
    length_mm = min(float(table["length_mm"]), (MOST_MM - MOST_SHADOW_MM) / LONGEST)
    return Stray(float(table["per_mm2"]), length_mm, float(table["fibre_mm"]))


def stray_over(
    stray: Stray,
    axes: NDArray[np.float64],
    window: Window,
    part: Part,
    strand: NDArray[np.int32],
    supersample: int,
    edge_px: int,
    seed: int,
    *,
    towards_key: Floats,
    key_share: float,
    bare: NDArray[np.int32] | None = None,
) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """What is noted of each pixel of a part: share that a fibre hides, and its light, see `share_and_light`;
    and the numbers of the few pixels of which anything is. A shadow is noted as a fibre without light; the
    key lamp stands `towards_key` (3,), and gives such a share of all light.

    `strand` names what its sub-pixels show, with `edge_px` pixels around them; -1 is cloth, in which fibres
    begin. `axes` take design to cloth. `bare` is below 0 for blocks of two by two sub-pixels that show
    nothing but cloth, if that is known.
    """
    top, left, rows, cols = part
    first = np.array(window.centre_mm) + (np.array([left - window.cols / 2, top - window.rows / 2])) / (
        window.px_per_mm
    )
    far = np.array([[0, 0], [cols, 0], [0, rows], [cols, rows]]) / window.px_per_mm
    corners = (first + far) @ axes.T
    low = np.floor(corners.min(0) - MOST_MM).astype(np.int64)
    high = np.ceil(corners.max(0) + MOST_MM).astype(np.int64)
    noted = np.zeros((rows, cols), np.int32)
    shadow_mm = -STANDS_MM * np.asarray(towards_key[:2]) / max(towards_key[2], 1e-3)
    shadow_mm *= min(MOST_SHADOW_MM / max(float(np.hypot(*shadow_mm)), 1e-9), 1.0)
    shadow = *(shadow_mm * window.px_per_mm), SHADES * key_share
    numbers = np.array([stray.per_mm2, stray.length_mm, stray.fibre_mm, window.px_per_mm, *first, *shadow])
    # So many blocks of two by two sub-pixels, which are fewer to look at.
    side = int(np.ceil(max(stray.reach_mm, HALF_CELL_MM) * window.px_per_mm * supersample / 2)) + 1
    near = near_thread(strand, 2 * side) if bare is None else near_thread(bare, side)
    cells = np.array([*low, *high])
    where = near, 2 * side, supersample, edge_px
    return noted, lay_stray(noted, strand, *where, axes, cells, numbers, seed & 0xFFFFFF)


@njit(cache=True, nogil=True)
def near_thread(strand: NDArray[np.int32], side: int) -> NDArray[np.bool_]:
    """Blocks of so many sub-pixels a side that show thread, or one beside which does."""
    rows, cols = -(-strand.shape[0] // side), -(-strand.shape[1] // side)
    near, common = np.zeros((rows, cols), np.bool_), np.empty(strand.shape[1], np.int32)
    for r in range(rows):
        common[:] = -1
        for row in strand[r * side : (r + 1) * side]:
            keep_common(row, common)
        for c in range(cols):
            # Numbers below 0, as of cloth, have their highest bit in common.
            if (common[c * side : (c + 1) * side] >= 0).any():
                near[max(r - 1, 0) : r + 2, max(c - 1, 0) : c + 2] = True
    return near


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def keep_common(row: NDArray[np.int32], common: NDArray[np.int32]) -> None:
    """Keep the bits that are set in both."""
    for c in range(len(row)):
        common[c] &= row[c]


@njit(cache=True, nogil=True)
def lay_stray(
    noted: NDArray[np.int32],
    strand: NDArray[np.int32],
    near: NDArray[np.bool_],
    side: int,
    supersample: int,
    edge_px: int,
    axes: NDArray[np.float64],
    cells: NDArray[np.int64],
    numbers: NDArray[np.float64],
    seed: int,
) -> NDArray[np.int32]:
    """Note share and light of the fibre that hides most of each pixel, and give the numbers of all pixels
    that were empty and are not any more.

    Fibres that begin in no block that is `near` thread cannot reach any; blocks are so many sub-pixels a
    `side`, no less than fibres are long and `HALF_CELL_MM`. `cells` are the whole millimetres of cloth in
    which fibres begin: left, top, right, bottom. `numbers`: fibres a mm², length mm, thickness mm, pixels a
    mm, x and y of the first pixel's corner in mm; how many pixels a shadow lies off its fibre, and its share.
    """
    per_mm, per_block = numbers[3], supersample / side
    found, many = np.empty(noted.size, np.int32), 0
    xs, ys = np.empty(PIECES + 1), np.empty(PIECES + 1)
    for v in range(cells[1], cells[3]):
        for u in range(cells[0], cells[2]):
            x = (axes[0, 0] * (u + 0.5) + axes[1, 0] * (v + 0.5) - numbers[4]) * per_mm
            y = (axes[0, 1] * (u + 0.5) + axes[1, 1] * (v + 0.5) - numbers[5]) * per_mm
            r, c = int(np.floor((y + edge_px) * per_block)), int(np.floor((x + edge_px) * per_block))
            if not near[max(r - 1, 0) : max(r + 2, 0), max(c - 1, 0) : max(c + 2, 0)].any():
                continue
            count = int(numbers[0] + lattice_unit(u, v, seed + 401))
            for n in range(count):
                word = seed + 409 + 7 * n
                x_mm, y_mm = u + lattice_unit(u, v, word), v + lattice_unit(u, v, word + 1)
                x = (axes[0, 0] * x_mm + axes[1, 0] * y_mm - numbers[4]) * per_mm
                y = (axes[0, 1] * x_mm + axes[1, 1] * y_mm - numbers[5]) * per_mm
                if not stands_free(strand, supersample, edge_px, x, y, ROOM_MM * per_mm):
                    continue
                row, col = int((y + edge_px) * supersample) // side, int((x + edge_px) * supersample) // side
                if not near[row, col]:
                    continue
                xs[0], ys[0] = x, y
                lay_fibre(u, v, word, numbers[1] * LONGEST, per_mm, axes, xs, ys)
                over = False
                for k in range(1, PIECES + 1):
                    over |= shows(strand, supersample, edge_px, xs[k], ys[k]) >= 0
                if not over:
                    continue
                light = 1 + int((LIGHTS - 1) * lattice_unit(u, v, word + 5))
                for k in range(PIECES):
                    wide = numbers[2] * per_mm * (1.0 - TAPERS * k / (PIECES - 1))
                    piece = xs[k], ys[k], xs[k + 1] - xs[k], ys[k + 1] - ys[k]
                    many = note_piece(noted, found, many, *piece, wide, 1.0, light)
                    shadow = xs[k] + numbers[6], ys[k] + numbers[7], piece[2], piece[3]
                    many = note_piece(noted, found, many, *shadow, wide, numbers[8], 0)
    return found[:many].copy()


@njit(cache=True, nogil=True, pipeline_class=Lent)
def lay_fibre(
    u: int,
    v: int,
    word: int,
    longest_mm: float,
    per_mm: float,
    axes: NDArray[np.float64],
    xs: NDArray[np.float64],
    ys: NDArray[np.float64],
) -> None:
    """Places of a fibre from its first on, bent its own way; it has a lattice place and a word."""
    angle = 2.0 * np.pi * lattice_unit(u, v, word + 2)
    bend = BENDS_RAD * (2.0 * lattice_unit(u, v, word + 3) - 1.0) / PIECES
    step = longest_mm * (0.25 + 0.75 * lattice_unit(u, v, word + 4) ** 2) / PIECES * per_mm
    right, down, straight, aside = np.cos(angle), np.sin(angle), np.cos(bend), np.sin(bend)
    for k in range(PIECES):
        xs[k + 1] = xs[k] + step * (axes[0, 0] * right + axes[1, 0] * down)
        ys[k + 1] = ys[k] + step * (axes[0, 1] * right + axes[1, 1] * down)
        right, down = right * straight - down * aside, down * straight + right * aside


@njit(cache=True, nogil=True, pipeline_class=Lent)
def stands_free(
    strand: NDArray[np.int32], supersample: int, edge_px: int, x: float, y: float, room: float
) -> bool:
    """Whether a place is cloth, and so is what lies so far off it to three sides at least."""
    if shows(strand, supersample, edge_px, x, y) != -1:
        return False
    free = 0
    for side in range(4):
        right, down = room * ((side == 0) - (side == 1)), room * ((side == 2) - (side == 3))
        free += shows(strand, supersample, edge_px, x + right, y + down) < 0
    return free >= 3


@njit(cache=True, nogil=True, pipeline_class=Lent)
def shows(strand: NDArray[np.int32], supersample: int, edge_px: int, x: float, y: float) -> int:
    """What is seen at a place in pixels of the part: a strand, -1 for cloth, -2 beyond what is known."""
    c, r = int(np.floor((x + edge_px) * supersample)), int(np.floor((y + edge_px) * supersample))
    if r < 0 or c < 0 or r >= strand.shape[0] or c >= strand.shape[1]:
        return -2
    return max(int(strand[r, c]), -1)
