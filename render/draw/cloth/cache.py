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

from render.draw.cloth.tile import CODE_VERSION, TILE_MM, TILE_PX_PER_MM, Tile, build_tile

if TYPE_CHECKING:
    from collections.abc import Iterator

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
    """Hash of everything a tile is made from: its structure, scale and the code's version."""
    text = json.dumps([CODE_VERSION, TILE_MM, TILE_PX_PER_MM, seed, structure], sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:32]


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
            size, repeats = stored["size_mm"], stored["repeats"]
            return Tile(
                **arrays,
                size_mm=(float(size[0]), float(size[1])),
                repeats=(int(repeats[0]), int(repeats[1])),
            )
    except (OSError, ValueError, KeyError, zipfile.BadZipFile):
        return None


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
    except OSError:
        if partial is not None:
            with contextlib.suppress(OSError):
                Path(partial).unlink()
        return False
    return True
