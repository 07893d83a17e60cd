"""Small tiles of cloth for tests, and cloth lit and laid of them."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

import pytest

from render.draw import cloth
from render.draw.cloth import tile, tile_cache
from render.materials.fabrics import load_fabric
from render.model import Fabric, Lamp, Light, Window

LIGHT = Light(
    "test",
    "One soft key and a dome",
    (Lamp(azimuth_deg=225, elevation_deg=47, size_deg=25, irradiance=2.15, colour_linear=(1, 1, 1)),),
    (0.17, 0.17, 0.17),
)


@functools.cache
def small_tile(name: str, target_mm: float = 6.0, px_per_mm: float = 20.0) -> tile.Tile:
    return tile.build_tile(load_fabric(name).structure, target_mm=target_mm, px_per_mm=px_per_mm)


def use_tiles(monkeypatch: pytest.MonkeyPatch, tile_of: Callable[[dict[str, Any]], tile.Tile]) -> None:
    """Have cloth lit from these tiles, which nothing tells from the usual ones: none is kept on disk."""
    monkeypatch.setattr(tile_cache, "cached_tile", tile_of)
    monkeypatch.setattr(tile_cache, "kept", lambda *_, make, **__: make())


def lit_of(name: str, px_per_mm: float, **changes: Any) -> cloth.LitCloth:
    facts: dict[str, Any] = {
        "light": LIGHT,
        "colour_srgb": None,
        "turn_deg": 0.0,
        "mirrored": False,
        "seed": 3,
    } | changes
    fabric: Fabric = facts.pop("fabric", None) or load_fabric(name)
    return cloth.light_cloth(fabric, facts.pop("light"), px_per_mm=px_per_mm, **facts)


def laid(piece: cloth.LitCloth, window: Window) -> cloth.ClothLayer:
    return cloth.lay_cloth(piece, window=window, first_row=0, rows=window.rows, first_col=0, cols=window.cols)
