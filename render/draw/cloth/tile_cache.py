"""Tiles of cloth, bare and in their light, kept on disk between runs."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np

from render import colour
from render.disk_cache import code_of, kept
from render.draw import exposure
from render.draw.cloth import gloss, lit, packed, relief, sizing, turns
from render.draw.cloth.fibres import FIELDS
from render.draw.cloth.tile import (
    CODE_VERSION,
    PILE_FIELDS,
    TILE_MM,
    TILE_PX_PER_MM,
    Tile,
    build_tile,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.disk_cache import Arrays
    from render.model import Colour, Fabric, Light

    Plane = NDArray[np.floating[Any]]

UNDYED_SRGB = (0.70, 0.685, 0.64)  # raw cotton, as the weft of denim (estimate)
_ARRAYS = ("height_mm", "fields", "sky", "hairs", "pile")


def cached_tile(structure: dict[str, Any], *, seed: int = 0) -> Tile:
    """The tile of a structure, from disk if an equal one was built before."""

    def make() -> Arrays:
        tile = build_tile(structure, seed=seed)
        arrays: Arrays = {name: getattr(tile, name) for name in _ARRAYS}
        return {**arrays, "size_mm": np.array(tile.size_mm), "repeats": np.array(tile.repeats)}

    arrays = kept("tile", tile_facts(structure, seed), made_by=str(CODE_VERSION), make=make, fits=_fits)
    (width, height), (across, down) = arrays["size_mm"].tolist(), arrays["repeats"].tolist()
    return Tile(**{name: arrays[name] for name in _ARRAYS}, size_mm=(width, height), repeats=(across, down))


def lit_tile(
    fabric: Fabric,
    light: Light,
    colour_srgb: Colour,
    *,
    turn_deg: float,
    mirrored: bool,
    px_per_mm: float,
) -> Arrays:
    """A lit tile sized for `px_per_mm`, see `ready`, `size_mm` and `repeats` as in `Tile`, and how it
    `glints`, see `slope_gain`; from disk, without a look at the tile, if the same were made before."""
    structure, finish = fabric.structure, fabric.structure["finish"]

    def make() -> Arrays:
        tile = cached_tile(structure)
        shining = lit.light_tile(
            tile,
            finish,
            light,
            colour_srgb,
            undyed_srgb=UNDYED_SRGB,
            turn_deg=turn_deg,
            mirrored=mirrored,
        )
        texels = sizing.resized(np.dstack([shining, tile.height_mm]), tile.size_mm, px_per_mm)
        return {
            **ready(texels, fabric),
            "size_mm": np.array(tile.size_mm),
            "repeats": np.array(tile.repeats),
            "glints": np.array(gloss.slope_gain(finish, light, colour_srgb)),
        }

    bare = [tile_facts(structure, 0), CODE_VERSION]
    face = [fabric.bed_mm, fabric.stands]
    made_from = [bare, finish, asdict(light), colour_srgb, turn_deg, mirrored, px_per_mm, face]
    code = code_of(
        __file__,
        packed.__file__,
        lit.__file__,
        gloss.__file__,
        relief.__file__,
        sizing.__file__,
        exposure.__file__,
        colour.__file__,
        turns.__file__,
    )
    return kept("lit", made_from, made_by=code, make=make, fits=_lit_fits)


def ready(texels: Plane, fabric: Fabric) -> Arrays:
    """A lit tile (R, C, 4), light and height in mm, ready to be laid: `texels` and `step` as in `Packed`,
    `mean_linear` (3,) of its light, and `highest_mm`, than which it rises no higher.

    Where stitching beds into a soft face, that stands as much higher.
    """
    if fabric.bed_mm or fabric.stands < 1.0:
        texels[..., 3] = texels[..., 3] * np.float32(fabric.stands) + np.float32(fabric.bed_mm)
    both = packed.packed(texels)
    return {
        "texels": both.texels,
        "step": both.step,
        "mean_linear": texels[::4, ::4, :3].mean((0, 1), dtype=float),
        "highest_mm": texels[..., 3].max().astype(float),
    }


def _lit_fits(arrays: Arrays) -> bool:
    texels = arrays.get("texels", np.empty(0))
    wanted: tuple[tuple[str, tuple[int, ...], str], ...] = (
        ("texels", (*texels.shape[:2], 2), "i4"),
        ("step", (2,), "f4"),
        ("mean_linear", (3,), "f8"),
        ("highest_mm", (), "f8"),
        ("size_mm", (2,), "f8"),
        ("repeats", (2,), "i8"),
        ("glints", (), "f8"),
    )
    return {name for name, *_ in wanted} == set(arrays) and all(
        arrays[name].shape == shape and arrays[name].dtype == kind for name, shape, kind in wanted
    )


def tile_facts(structure: dict[str, Any], seed: int) -> list[Any]:
    """Everything a tile is made from: yarns or pile, scale and seed."""
    return [TILE_MM, TILE_PX_PER_MM, seed, _shape_of(structure)]


def _shape_of(table: dict[str, Any]) -> dict[str, Any]:
    """What of a structure makes its shape: not light, slow variation, fibres over stitching and sources."""
    return {
        key: _shape_of(value) if isinstance(value, dict) else value
        for key, value in table.items()
        if key not in ("source", "finish", "surface", "stray")
    }


def _fits(arrays: Arrays) -> bool:
    """Whether names, shapes and types are those of a tile."""
    if set(arrays) != {*_ARRAYS, "size_mm", "repeats"} or arrays["height_mm"].ndim != 2:
        return False
    place = arrays["height_mm"].shape
    pile = place if arrays["pile"].size else (0, 0)
    wanted: tuple[tuple[str, tuple[int, ...], str], ...] = (
        ("height_mm", place, "f4"),
        ("fields", (*place, FIELDS), "i1"),
        ("sky", place, "u1"),
        ("hairs", (*place, 4), "i1"),
        ("pile", (*pile, PILE_FIELDS), "i2"),
        ("size_mm", (2,), "f8"),
        ("repeats", (2,), "i8"),
    )
    return all(arrays[name].shape == shape and arrays[name].dtype == kind for name, shape, kind in wanted)
