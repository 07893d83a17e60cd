"""Laying a lit tile over any piece of cloth so that no repeat shows.

A triangle grid covers the cloth; each of its vertices shows the tile shifted by another
whole number of repeats, so yarns run on while their irregularities change. On top lies
what never repeats: drape, dye, the lightness of single yarns, a wandering grain. Places
are fixed-point and every irregularity belongs to a place, so a pixel comes out the same
whichever rectangle asks for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from render.compiled import njit
from render.draw.cloth.laid_texels import SHIFTS, lay_texels
from render.draw.cloth.lattice import SLOW, lattice_around
from render.draw.grain import add_noise, lattice_unit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.cloth.packed import Packed
    from render.draw.seen_move import SeenMove

    Plane = NDArray[np.floating[Any]]
    Floats = NDArray[np.floating[Any]]

ONE = 65536  # fixed-point steps a tile pixel
NODE_MM = 1.0  # slow fields are computed at this spacing and interpolated
# Wavelengths mm and weights of drape (hollows and crests) and of the dye's mottle (estimate).
DRAPE = ((110.0, 0.5), (26.0, 0.35), (9.0, 0.22), (3.2, 0.15))
MOTTLE = ((41.0, 0.5), (13.0, 0.3), (4.1, 0.2))
WANDER = ((58.0, 1.0), (19.0, 0.4), (6.5, 0.14))  # likewise, of the way its yarns run (estimate)


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """A tile ready to be laid.

    `texels (R, C, K)` float32: planes to be mixed, none of what lies packed; `per_mm` columns and rows a mm;
    `shifts (K, 2)` fixed-point column and row shifts that keep the pattern in phase; `cell_mm`
    and `blend` of the triangle grid; `streaks (2, 2)`: spacing mm and amplitude of single-yarn
    lightness for yarns along y and along x; `slow` amplitudes of drape, mottle
    and grain wander in mm.
    """

    texels: Plane
    per_mm: tuple[float, float]
    shifts: NDArray[np.int64]
    cell_mm: float
    blend: float
    streaks: Floats
    slow: Floats
    seed: int


@dataclass(frozen=True, slots=True, eq=False)
class ClothLayer:
    """Cloth in a rectangle of a picture.

    `radiance_linear (rows, cols, 3)` relative to a flat white card; `height_mm (rows, cols)`
    above the cloth's mean surface.
    """

    radiance_linear: Plane
    height_mm: Plane


def piece_of(
    surface: dict[str, Any],
    texels: Plane,
    size_mm: tuple[float, float],
    repeats: tuple[int, int],
    seed: int,
) -> Piece:
    """The lit tile of a cloth whose structure has this `surface`; the tile is of `size_mm` and so many
    `repeats` of the pattern."""
    rows, cols = texels.shape[:2]
    shifts = piece_shifts(repeats, (rows, cols), seed)
    if min(repeats) > 0:
        # Pieces are cut anywhere: with which yarn of the pattern one begins is by chance.
        yarns = np.array(size_mm) / repeats / (surface["upright_mm"], surface["level_mm"])
        first = np.floor(np.random.default_rng([seed & 0xFFFFFFFF, 6]).uniform(0, 1, 2) * np.rint(yarns))
        size = np.array([cols, rows]) * ONE
        shifts = (shifts + np.rint(first / yarns / repeats * size).astype(np.int64)) % size
    return Piece(
        texels,
        (cols / size_mm[0], rows / size_mm[1]),
        shifts,
        surface["cell_mm"],
        surface["blend"],
        np.array(
            [
                [surface["upright_mm"], surface["upright_tone"]],
                [surface["level_mm"], surface["level_tone"]],
            ]
        ),
        np.array([surface["drape"], surface["mottle"], surface["wander_mm"]]),
        seed & 0xFFFFFF,
    )


def piece_shifts(repeats: tuple[int, int], texels_shape: tuple[int, int], seed: int) -> NDArray[np.int64]:
    """`SHIFTS` shifts of whole repeats, or any shift for cloth without a pattern (repeats 0)."""
    rng = np.random.default_rng([seed & 0xFFFFFFFF, 5])
    rows, cols = texels_shape
    nx, ny = repeats
    if nx == 0 or ny == 0:
        shift = rng.uniform(0, 1, (SHIFTS, 2))
    else:
        shift = np.column_stack([rng.integers(0, nx, SHIFTS) / nx, rng.integers(0, ny, SHIFTS) / ny])
    return np.asarray(np.rint(shift * np.array([cols, rows]) * ONE), np.int64)


def lay(
    piece: Piece,
    texels: Packed,
    x_mm: Floats,
    y_mm: Floats,
    axes: Floats,
    moved: SeenMove | None = None,
    wanted: NDArray[np.bool_] | None = None,
) -> ClothLayer:
    """The cloth (rows, cols) where columns lie at `x_mm`, rows at `y_mm`; `texels` are the packed ones of
    the piece.

    `axes` turns design to cloth coordinates; how far the cloth has `moved`, known as far as `reached_mm` of
    columns and rows, is taken off first. Pixels
    that are not `wanted (rows, cols)` stay 0.
    """
    rows, cols = len(y_mm), len(x_mm)
    lattice = lattice_around(x_mm, y_mm, moved)
    slow = slow_fields(piece, lattice.cloth_box(axes))
    light, height = np.empty((rows, cols, 3), np.float32), np.empty((rows, cols), np.float32)
    lay_texels(
        light,
        height,
        np.ones((rows, cols), np.bool_) if wanted is None else wanted,
        x_mm,
        y_mm,
        axes,
        lattice.known(axes, slow.nodes, slow.first),
        *lattice.columns,
        *lattice.rows,
        texels.texels,
        texels.step,
        np.array([*piece.per_mm, piece.cell_mm, piece.blend]),
        piece.shifts.astype(np.int32),
        slow.first[2:],
        slow.tones[0].astype(np.float32),
        slow.tones[1].astype(np.float32),
        piece.streaks,
        piece.seed,
    )
    return ClothLayer(light, height)


def _yarn_range(span_mm: Floats, spacing_mm: float, wander_mm: float) -> tuple[int, int]:
    """How many yarns the span holds, with a margin for grain that wanders so far, and the first."""
    first = int(np.floor((span_mm[0] - wander_mm) / spacing_mm)) - 2
    last = int(np.ceil((span_mm[1] + wander_mm) / spacing_mm)) + 2
    return last - first + 1, first


@njit(cache=True, nogil=True)
def yarn_tones(count: int, first: int, word: int) -> Floats:
    """Tone of `count` yarns from the first on: most differ little, a few clearly."""
    out = np.empty(count)
    for k in range(count):
        tone = lattice_unit(first + k, 3, word) + lattice_unit(first + k, 4, word) - 1.0
        out[k] = tone * (0.6 + 1.2 * lattice_unit(first + k, 5, word) ** 4)
    return out


@dataclass(frozen=True, slots=True, eq=False)
class SlowFields:
    """What never repeats, around a box: the slow fields at `nodes`, the `tones` of yarns along y and along
    x, and the `first` node and yarn, (4,)."""

    nodes: Plane
    tones: tuple[Floats, Floats]
    first: NDArray[np.int64]


def slow_fields(piece: Piece, box_mm: Floats) -> SlowFields:
    """Of the piece over the box ((u0, u1), (v0, v1)) in cloth coordinates."""
    nodes, first = slow_nodes(box_mm, piece.slow, piece.seed)
    wander_mm = float(piece.slow[2]) * sum(weight for _, weight in WANDER) + NODE_MM
    across, first_x = _yarn_range(box_mm[0], piece.streaks[0, 0], wander_mm)
    down, first_y = _yarn_range(box_mm[1], piece.streaks[1, 0], wander_mm)
    tones = yarn_tones(across, first_x, piece.seed + 17), yarn_tones(down, first_y, piece.seed + 29)
    return SlowFields(nodes, tones, np.array([*first, first_x, first_y]))


def slow_nodes(box_mm: Floats, slow: Floats, seed: int) -> tuple[Plane, tuple[int, int]]:
    """The slow fields at whole-millimetre nodes around the box, and the first node."""
    low = np.floor(box_mm[:, 0] / NODE_MM).astype(int) - 1
    high = np.floor(box_mm[:, 1] / NODE_MM).astype(int) + 3
    out = np.empty((high[1] - low[1] + 1, high[0] - low[0] + 1, SLOW), np.float32)
    waves = np.array(DRAPE), np.array(MOTTLE), np.array(WANDER)
    fill_nodes(out, low[0], low[1], slow, *waves, seed)
    return out, (int(low[0]), int(low[1]))


@njit(cache=True, nogil=True)
def fill_nodes(
    out: Plane, u0: int, v0: int, slow: Floats, drape: Floats, mottle: Floats, wander: Floats, seed: int
) -> None:
    """Gain by drape and mottle, and wander of the grain, at nodes from (u0, v0)."""
    x, y = (u0 + np.arange(out.shape[1])) * NODE_MM, (v0 + np.arange(out.shape[0])) * NODE_MM
    gain = np.zeros(out.shape[:2])
    for k in range(len(drape)):
        wave = drape[k, 0]
        add_noise(gain, slow[0] * drape[k, 1], x / wave + 0.3 * k, y / wave, seed + 101 + k)
    for k in range(len(mottle)):
        wave = mottle[k, 0]
        add_noise(gain, slow[1] * mottle[k, 1], x / wave, y / wave + 0.7 * k, seed + 211 + k)
    out[:, :, 0] = 1.0 + gain
    for axis in range(2):
        gain[:] = 0.0
        for k in range(len(wander)):
            wave, name = wander[k, 0], seed + 307 + 4 * axis + 10 * k
            add_noise(gain, wander[k, 1], x / wave, y / wave, name)
        out[:, :, 1 + axis] = slow[2] * gain


@njit(cache=True, nogil=True, inline="always")
def weigh_corners(fa: float, fb: float, blend: float, weight: Floats) -> float:
    """Weights of a triangle's corners at (fa, fb) of its cell, eased over `blend`; returns their sum."""
    if fa + fb < 1.0:
        weight[0], weight[1], weight[2] = 1.0 - fa - fb, fa, fb
    else:
        weight[0], weight[1], weight[2] = fa + fb - 1.0, 1.0 - fb, 1.0 - fa
    least = max(weight[0], weight[1], weight[2]) - blend
    total = 0.0
    for k in range(3):
        weight[k] = max(weight[k] - least, 0.0)
        total += weight[k]
    return total


@njit(cache=True, nogil=True, inline="always")
def _mixed(
    grid: Plane,
    r0: int,
    r1: int,
    c0: int,
    c1: int,
    k: int,
    w00: float,
    w01: float,
    w10: float,
    w11: float,
) -> float:
    """Weighted sum of channel k at four grid points."""
    return float(
        grid[r0, c0, k] * w00 + grid[r0, c1, k] * w01 + grid[r1, c0, k] * w10 + grid[r1, c1, k] * w11
    )


@njit(cache=True, nogil=True, inline="always")
def _wrapped(index: int, n: int, turns: float) -> int:
    """index modulo n; a division would cost more than all the rest."""
    k = index - int(np.floor(index * turns)) * n
    if k >= n:
        k -= n
    elif k < 0:
        k += n
    return k


@njit(cache=True, nogil=True, inline="always")
def _tone(across_mm: float, spacing_mm: float, amplitude: float, tones: Floats, first: int) -> float:
    """Lightness of the yarn here, eased into its neighbours'."""
    at = across_mm / spacing_mm - 0.5
    k = int(np.floor(at))
    f = at - k
    f = f * f * (3.0 - 2.0 * f)
    k -= first
    return float(amplitude * (tones[k] * (1.0 - f) + tones[k + 1] * f))
