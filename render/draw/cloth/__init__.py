"""Cloth at true scale: built of its own yarns, lit, and laid without a visible repeat."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.draw.cloth.laying import ClothLayer, Piece, lay, piece_of
from render.draw.cloth.packed import Packed
from render.draw.cloth.photo import photo_texels
from render.draw.cloth.sizing import resized
from render.draw.cloth.tile_cache import lit_tile, ready
from render.draw.cloth.turns import exact_turn

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.seen_move import SeenMove
    from render.model import Colour, Fabric, Light, Window

__all__ = ["ClothLayer", "LitCloth", "lay_cloth", "light_cloth"]


@dataclass(frozen=True, slots=True, eq=False)
class LitCloth:
    """A lit, coloured cloth ready to be laid: the piece, its texels packed, the turn of design to cloth axes.

    `mean_linear (3,)` is its colour in the mean as it is lit, white card = 1; it rises no higher than
    `highest_mm`. `axes (2, 2)` takes design mm to cloth mm. `bed_mm` is how much higher its face stands for
    stitching to lie in, `glints` by how many times more a slope tells in its light than on matt card.
    """

    piece: Piece
    texels: Packed
    axes: NDArray[np.float64]
    mean_linear: NDArray[np.float64]
    highest_mm: float
    bed_mm: float = 0.0
    glints: float = 1.0


def light_cloth(
    fabric: Fabric,
    light: Light,
    *,
    colour_srgb: Colour | None,
    turn_deg: float,
    mirrored: bool,
    px_per_mm: float,
    seed: int,
) -> LitCloth:
    """Build (or load) the fabric's tile, dye it, light it, and size it for `px_per_mm`.

    The mean of the cloth comes to `colour_srgb` (None: the fabric's own). `turn_deg` turns
    the cloth clockwise under the design; `mirrored` swaps its left and right first. `seed`
    picks another place of the same cloth. Raises InputError for a photo that cannot be read.
    """
    colour = fabric.colour_srgb if colour_srgb is None else colour_srgb
    if "photo" in fabric.structure:
        flat, size_mm = photo_texels(fabric, colour_srgb, px_per_mm)
        tile, repeats, glints = ready(resized(flat, size_mm, px_per_mm), fabric), (0, 0), 1.0
    else:
        tile = lit_tile(fabric, light, colour, turn_deg=turn_deg, mirrored=mirrored, px_per_mm=px_per_mm)
        (wide, high), (across, down) = tile["size_mm"].tolist(), tile["repeats"].tolist()
        size_mm, repeats, glints = (wide, high), (across, down), float(tile["glints"])
    texels = Packed(tile["texels"], tile["step"])
    piece = piece_of(fabric.structure["surface"], texels.planes, size_mm, repeats, seed)
    c, s = exact_turn(turn_deg)
    axes = np.array([[c, s], [-s, c]])
    if mirrored:
        axes[0] = -axes[0]
    return LitCloth(
        piece, texels, axes, tile["mean_linear"], float(tile["highest_mm"]), fabric.bed_mm, glints
    )


def lay_cloth(
    lit: LitCloth,
    *,
    window: Window,
    first_row: int,
    rows: int,
    first_col: int,
    cols: int,
    moved: SeenMove | None = None,
    wanted: NDArray[np.bool_] | None = None,
) -> ClothLayer:
    """Lay the cloth over a rectangle of the window, which may reach beyond it.

    The cloth's origin is the design's. `moved` says how far the cloth that is seen has moved from
    where it lay; with
    `wanted (rows, cols)` only those pixels are laid and the others stay 0. A pixel never
    depends on the rectangle; threads may lay different rectangles at once.
    """
    x = window.centre_mm[0] + (first_col + np.arange(cols) + 0.5 - window.cols / 2) / window.px_per_mm
    y = window.centre_mm[1] + (first_row + np.arange(rows) + 0.5 - window.rows / 2) / window.px_per_mm
    return lay(lit.piece, lit.texels, x, y, lit.axes, moved, wanted)
