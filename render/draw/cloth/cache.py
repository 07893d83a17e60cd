"""Tiles kept on disk between runs, in the user's cache folder; without one, nothing is kept."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sys
import tempfile
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

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
    from collections.abc import Iterator

MOST_KEPT = 32  # tiles of about 15 MB each; those of edited fabrics and older versions go first
_ARRAYS = ("height_mm", "fields", "sky", "hairs", "pile")


def cached_tile(structure: dict[str, Any], *, seed: int = 0) -> Tile:
    """The tile of a structure, from disk if an equal one was built before."""
    name = tile_key(structure, seed) + ".npz"
    for folder in cache_folders():
        found = _load(folder / name)
        if found is not None:
            return found
    tile = build_tile(structure, seed=seed)
    for folder in cache_folders():
        if _store(tile, folder, name):
            break
    return tile


def tile_key(structure: dict[str, Any], seed: int) -> str:
    """Hash of everything a tile is made from: yarns or pile, scale and the code's version."""
    shape = _shape_of(structure)
    text = json.dumps([CODE_VERSION, TILE_MM, TILE_PX_PER_MM, seed, shape], sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def _shape_of(table: dict[str, Any]) -> dict[str, Any]:
    """What of a structure makes its shape, without light, slow variation and sources."""
    return {
        key: _shape_of(value) if isinstance(value, dict) else value
        for key, value in table.items()
        if key not in ("source", "finish", "surface")
    }


def cache_folders() -> Iterator[Path]:
    """Where tiles may lie, best first."""
    if sys.platform == "win32" and os.environ.get("LOCALAPPDATA"):
        yield Path(os.environ["LOCALAPPDATA"]) / "twillight" / "cloth"
    elif sys.platform == "darwin":
        with contextlib.suppress(RuntimeError):
            yield Path.home() / "Library" / "Caches" / "twillight" / "cloth"
    elif os.environ.get("XDG_CACHE_HOME"):
        yield Path(os.environ["XDG_CACHE_HOME"]) / "twillight" / "cloth"
    else:
        with contextlib.suppress(RuntimeError):
            yield Path.home() / ".cache" / "twillight" / "cloth"
    yield Path(tempfile.gettempdir()) / f"twillight-cloth-{_user()}"


def _user() -> str:
    return str(os.getuid()) if hasattr(os, "getuid") else os.environ.get("USERNAME", "user")


def _load(path: Path) -> Tile | None:
    """A stored tile; None if there is none or it is damaged."""
    try:
        with np.load(path, allow_pickle=False) as stored:
            arrays = {name: stored[name] for name in _ARRAYS}
            size, repeats = stored["size_mm"].tolist(), stored["repeats"].tolist()
        tile = Tile(**arrays, size_mm=(size[0], size[1]), repeats=(repeats[0], repeats[1]))
        return tile if _fits_itself(tile) else None
    except (OSError, EOFError, ValueError, KeyError, zipfile.BadZipFile):
        return None


def _fits_itself(tile: Tile) -> bool:
    """Whether shapes and types are those of a tile: the kernels trust them."""
    if tile.height_mm.ndim != 2:
        return False
    place = tile.height_mm.shape
    pile = place if tile.pile.size else (0, 0)
    wanted = (
        (tile.height_mm, place, np.float32),
        (tile.fields, (*place, FIELDS), np.int8),
        (tile.sky, place, np.uint8),
        (tile.hairs, (*place, 4), np.int8),
        (tile.pile, (*pile, PILE_FIELDS), np.int16),
    )
    return all(array.shape == shape and array.dtype == kind for array, shape, kind in wanted)


def _store(tile: Tile, folder: Path, name: str) -> bool:
    """Write the tile whole or not at all; False where the folder cannot be written."""
    partial = None
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handle, partial = tempfile.mkstemp(dir=folder, suffix=".part")
        with os.fdopen(handle, "wb") as stream:
            np.savez(
                stream,
                size_mm=np.array(tile.size_mm),
                repeats=np.array(tile.repeats),
                **{n: getattr(tile, n) for n in _ARRAYS},
            )
        Path(partial).replace(folder / name)
        _forget_oldest(folder)
    except OSError:
        if partial is not None:
            with contextlib.suppress(OSError):
                Path(partial).unlink()
        return False
    return True


def _forget_oldest(folder: Path) -> None:
    """Remove the tiles written longest ago beyond `MOST_KEPT`."""
    stored = sorted(folder.glob("*.npz"), key=lambda path: path.stat().st_mtime_ns, reverse=True)
    for path in stored[MOST_KEPT:]:
        path.unlink(missing_ok=True)
