"""A cloth as a periodic tile: its yarns or pile drawn once at fine scale, not yet lit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from render.draw.cloth.fibres import FIELDS, Surface, bare_surface, lay_hairs, spin
from render.draw.cloth.pile import grow_pile, terry_loops
from render.draw.cloth.relief import open_sky
from render.draw.cloth.yarns import Cloth, knit, weave

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Plane = NDArray[np.floating[Any]]

TILE_MM = 20.0
TILE_PX_PER_MM = 48.0
BLOCK = 8  # rows and columns are multiples, so that the tile can be halved three times
CODE_VERSION = 12  # of the tiles kept on disk: raise it when a tile of the same file changes
PILE_FIELDS = 7


@dataclass(frozen=True, slots=True, eq=False)
class Tile:
    """Unlit cloth on a torus of `size_mm` (x, y), `repeats` of its pattern each way.

    `height_mm (R, C)` above the mean surface; `fields (R, C, 8)` int8: tangent xyz and
    normal xyz over 127, brightness and undyed share over 64; `sky (R, C)` uint8: open share
    of the sky over 255; `hairs (R, C, 4)` int8: cover and tangent times cover over 127;
    `pile (R, C, 7)` int16: light and its second moments xx yy zz xy xz yz by 8192,
    empty for cloths without pile.
    """

    height_mm: Plane
    fields: NDArray[np.int8]
    sky: NDArray[np.uint8]
    hairs: NDArray[np.int8]
    pile: NDArray[np.int16]
    size_mm: tuple[float, float]
    repeats: tuple[int, int]

    @property
    def per_mm(self) -> tuple[float, float]:
        """Columns and rows a millimetre."""
        rows, cols = self.height_mm.shape
        return cols / self.size_mm[0], rows / self.size_mm[1]


def build_tile(
    structure: dict[str, Any],
    *,
    seed: int = 0,
    target_mm: float = TILE_MM,
    px_per_mm: float = TILE_PX_PER_MM,
) -> Tile:
    """Draw the structure of a fabric file as a tile of whole repeats near `target_mm`."""
    rng = np.random.default_rng([seed, 71])
    step = 0.55 / px_per_mm
    kind = structure["kind"]
    if kind == "weave":
        cloth = weave(structure, target_mm, step, rng)
    elif kind == "knit":
        cloth = knit(structure, target_mm, step, rng)
    elif kind == "terry":
        cloth = terry_loops(structure, target_mm, step, rng)
    else:
        cloth = Cloth((), (target_mm, target_mm), (0, 0))
    cols, rows = (BLOCK * max(4, round(mm * px_per_mm / BLOCK)) for mm in cloth.size_mm)
    surface = bare_surface(rows, cols, structure.get("background_mm", -0.28), 0.25)
    spin(surface, cloth.yarns, cloth.size_mm, seed)
    per_mm = cols / cloth.size_mm[0], rows / cloth.size_mm[1]
    pile = np.zeros((0, 0, PILE_FIELDS), np.int16)
    if kind == "pile":
        surface, pile = grow_pile(structure["pile"], surface, cloth.size_mm, rng)
    hairs = np.zeros((rows, cols, 4), np.float32)
    if "hairs" in structure:
        _strew(hairs, structure["hairs"], cloth.size_mm, rng)
        # A hair has a dye of its own, whatever it lies on.
        undyed = surface.fields[..., 7]
        undyed += hairs[..., 0] * (structure["hairs"].get("undyed", 0.0) - undyed)
    height = surface.height_mm - np.float32(surface.height_mm.mean())
    return Tile(
        height,
        _packed(surface),
        np.rint(255 * open_sky(height, per_mm)).astype(np.uint8),
        np.rint(127 * hairs).astype(np.int8),
        pile,
        cloth.size_mm,
        cloth.repeats,
    )


def _strew(
    layer: Plane, hairs: dict[str, Any], size_mm: tuple[float, float], rng: np.random.Generator
) -> None:
    """Loose fibres lying on the face; a nap combs them towards one side."""
    count = round(hairs["per_mm2"] * size_mm[0] * size_mm[1])
    starts = rng.uniform(0, 1, (count, 2)) * size_mm
    angle = rng.uniform(0, 2 * np.pi, count)
    nap = hairs.get("nap", 0.0)
    angle = np.where(rng.uniform(0, 1, count) < nap, np.pi / 2 + 0.5 * rng.standard_normal(count), angle)
    length = hairs["length_mm"] * rng.uniform(0.5, 1.5, count)
    shape = np.column_stack(
        [angle, length, rng.normal(0, 1.3, count), hairs["opacity"] * rng.uniform(0.5, 1.2, count)]
    )
    rows, cols = layer.shape[:2]
    lay_hairs(layer, starts, shape, np.array([cols / size_mm[0], rows / size_mm[1]]))


def _packed(surface: Surface) -> NDArray[np.int8]:
    scale = np.array([127.0] * 6 + [64.0] * 2, np.float32)
    assert surface.fields.shape[-1] == FIELDS
    return np.asarray(np.clip(np.rint(surface.fields * scale), -127, 127), np.int8)
