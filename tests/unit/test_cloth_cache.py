"""Tiles kept on disk: found again, never wrong, never in the way."""

from __future__ import annotations

import os
import time
from pathlib import Path

import numpy as np
import pytest

from render import disk_cache
from render.draw.cloth import tile_cache as cache
from render.draw.cloth.tile import Tile, build_tile
from render.materials.fabrics import load_fabric

STRUCTURE = load_fabric("canvas").structure


@pytest.fixture
def built(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[Tile]:
    """A cache in a temporary folder, and the tiles built so far (small ones)."""
    tiles: list[Tile] = []

    def build(structure: dict[str, object], *, seed: int = 0) -> Tile:
        tiles.append(build_tile(structure, seed=seed, target_mm=3.0, px_per_mm=12.0))
        return tiles[-1]

    monkeypatch.setattr(cache, "build_tile", build)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setattr(disk_cache.tempfile, "gettempdir", lambda: str(tmp_path / "temp"))
    monkeypatch.setattr(disk_cache.sys, "platform", "linux")
    return tiles


def same(a: Tile, b: Tile) -> bool:
    return all(np.array_equal(getattr(a, n), getattr(b, n)) for n in cache._ARRAYS) and (
        (a.size_mm, a.repeats) == (b.size_mm, b.repeats)
    )


def files(folder: Path) -> list[Path]:
    return [p for p in folder.rglob("*") if p.is_file()]


@pytest.mark.slow
def test_a_tile_is_built_once(built: list[Tile], tmp_path: Path) -> None:
    first, second = cache.cached_tile(STRUCTURE), cache.cached_tile(STRUCTURE)
    assert len(built) == 1
    assert same(first, second)
    assert [p.suffix for p in files(tmp_path)] == [".npz"]


def test_another_structure_or_seed_is_another_tile(built: list[Tile]) -> None:
    cache.cached_tile(STRUCTURE)
    cache.cached_tile({**STRUCTURE, "warp": {**STRUCTURE["warp"], "radius_mm": 0.26}})
    cache.cached_tile(STRUCTURE, seed=1)
    assert len(built) == 3


def test_light_and_sources_do_not_make_another_tile(built: list[Tile]) -> None:
    cache.cached_tile(STRUCTURE)
    cache.cached_tile({**STRUCTURE, "finish": {}, "surface": {}, "source": "measured"})
    assert len(built) == 1


def test_a_file_of_wrong_shapes_is_built_again(built: list[Tile], tmp_path: Path) -> None:
    """Kernels do not check bounds, so a tampered file must not reach them."""
    cache.cached_tile(STRUCTURE)
    (stored,) = files(tmp_path)
    with np.load(stored) as arrays:
        changed = {**arrays, "fields": arrays["fields"][:4]}
    with stored.open("wb") as stream:
        np.savez(stream, **changed)
    cache.cached_tile(STRUCTURE)
    assert len(built) == 2


@pytest.mark.parametrize("damage", [b"", b"PK\x03\x04 cut off", b"nonsense"])
def test_a_damaged_file_is_built_again(built: list[Tile], tmp_path: Path, damage: bytes) -> None:
    first = cache.cached_tile(STRUCTURE)
    (stored,) = files(tmp_path)
    stored.write_bytes(damage)
    assert same(cache.cached_tile(STRUCTURE), first)
    assert len(built) == 2
    cache.cached_tile(STRUCTURE)
    assert len(built) == 2


def test_no_byte_that_changed_stops_the_work(tmp_path: Path) -> None:
    """Least of all one that says that the file is packed or locked in a way it is not."""
    stored = tmp_path / "small.npz"
    np.savez(stored, numbers=np.arange(3.0))
    sound = stored.read_bytes()
    lost = 0
    for at, byte in enumerate(sound):
        for other in {byte ^ 1, 8} - {byte}:
            stored.write_bytes(sound[:at] + bytes([other]) + sound[at + 1 :])
            lost += disk_cache._load(stored, lambda found: set(found) == {"numbers"}) is None
    assert lost > len(sound)


def test_a_closed_cache_falls_back_to_the_temporary_folder(
    built: list[Tile], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A file where the folder should be: closed even to root.
    (tmp_path / "cache").write_text("")
    cache.cached_tile(STRUCTURE)
    cache.cached_tile(STRUCTURE)
    assert len(built) == 1
    assert len(files(tmp_path / "temp")) == 1


def test_nowhere_to_write_is_no_error(built: list[Tile], tmp_path: Path) -> None:
    (tmp_path / "cache").write_text("")
    (tmp_path / "temp").write_text("")
    assert same(cache.cached_tile(STRUCTURE), cache.cached_tile(STRUCTURE))
    assert len(built) == 2


def test_a_computer_without_a_temporary_folder_is_no_error(
    built: list[Tile], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none() -> str:
        raise FileNotFoundError("No usable temporary directory found")

    monkeypatch.setattr(disk_cache.tempfile, "gettempdir", none)
    (tmp_path / "cache").write_text("")
    assert same(cache.cached_tile(STRUCTURE), cache.cached_tile(STRUCTURE))
    assert len(built) == 2


def test_the_oldest_tiles_make_room(
    built: list[Tile], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(disk_cache, "MOST_KEPT", 2)
    cache.cached_tile(STRUCTURE, seed=9)
    killed, busy = (files(tmp_path)[0].with_name(f"tmp{name}.part") for name in ("killed", "busy"))
    for part, hours in ((killed, 25), (busy, 1)):
        part.write_bytes(b"half")
        os.utime(part, (time.time() - 3600 * hours,) * 2)
    for seed in range(4):
        cache.cached_tile(STRUCTURE, seed=seed)
        for path in files(tmp_path):
            os.utime(path, ns=(path.stat().st_atime_ns, path.stat().st_mtime_ns - 10**9))
    cache.cached_tile(STRUCTURE, seed=2)
    cache.cached_tile(STRUCTURE, seed=3)
    assert len(built) == 5
    assert not killed.exists()
    assert busy.exists()
    assert len(files(tmp_path)) == 2 + 1


def test_what_is_used_stays(built: list[Tile], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(disk_cache, "MOST_KEPT", 2)
    for seed in (1, 2):
        cache.cached_tile(STRUCTURE, seed=seed)
        for path in files(tmp_path):
            os.utime(path, ns=(path.stat().st_atime_ns, path.stat().st_mtime_ns - 10**9))
    cache.cached_tile(STRUCTURE, seed=1)
    cache.cached_tile(STRUCTURE, seed=3)
    cache.cached_tile(STRUCTURE, seed=1)
    assert len(built) == 3


def test_large_tiles_make_room_sooner(
    built: list[Tile], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    cache.cached_tile(STRUCTURE)
    size = files(tmp_path)[0].stat().st_size
    # Room for two, and then for none: the last one written stays all the same.
    for room, left in ((size * 5 // 2, 2), (1, 1)):
        monkeypatch.setattr(disk_cache, "MOST_BYTES", room)
        for seed in range(10 * left, 10 * left + 3):
            cache.cached_tile(STRUCTURE, seed=seed)
        assert len(files(tmp_path)) == left


def test_a_full_disk_leaves_nothing_behind(
    built: list[Tile], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(disk_cache.np, "savez", fail)
    cache.cached_tile(STRUCTURE)
    assert len(built) == 1
    assert files(tmp_path) == []


@pytest.mark.parametrize(
    ("platform", "variable", "tail"),
    [
        ("linux", "XDG_CACHE_HOME", ("twillight", "drawing")),
        ("linux", "HOME", (".cache", "twillight", "drawing")),
        ("darwin", "HOME", ("Library", "Caches", "twillight", "drawing")),
        ("win32", "LOCALAPPDATA", ("twillight", "drawing")),
    ],
)
def test_the_folder_is_the_users(
    platform: str, variable: str, tail: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(disk_cache.sys, "platform", platform)
    for name in ("XDG_CACHE_HOME", "LOCALAPPDATA"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv(variable, str(tmp_path))
    if os.name == "nt" and variable == "HOME":
        pytest.skip("home is not read from HOME here")
    assert next(disk_cache.cache_folders()) == tmp_path.joinpath(*tail)


def test_told_to_end_while_it_keeps_something_it_leaves_no_part(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def interrupted(*arrays: object, **named: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(disk_cache.np, "savez", interrupted)
    with pytest.raises(KeyboardInterrupt):
        disk_cache._store({"a": np.zeros(3)}, tmp_path, "kind-1.npz", "kind")
    assert not list(tmp_path.iterdir())
