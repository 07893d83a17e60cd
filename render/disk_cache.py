"""Arrays kept on disk between runs, in the user's cache folder; without one, nothing is kept."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sys
import tempfile
import zipfile
import zlib
from functools import cache
from itertools import accumulate
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    Arrays = dict[str, NDArray[Any]]

MOST_KEPT, MOST_BYTES = 32, 512 * 2**20  # of each kind; what was used longest ago goes first
# What reading a file with any byte changed was seen to raise.
_DAMAGED = (OSError, EOFError, ValueError, KeyError, RuntimeError, zipfile.BadZipFile, zlib.error)
ABANDONED_S = 24 * 3600  # writing takes seconds: what is that old, a killed process left


def kept(
    kind: str, made_from: object, *, made_by: str, make: Callable[[], Arrays], fits: Callable[[Arrays], bool]
) -> Arrays:
    """What `make` makes, from disk if the same was made before.

    `made_from`, as JSON can hold it, is everything that decides the result, and `made_by` the
    version of the code. What does not fit is made again: kernels trust what they are given.
    """
    name = f"{kind}-{made_key([made_by, made_from])}.npz"
    for folder in cache_folders():
        found = _load(folder / name, fits)
        if found is not None:
            return found
    arrays = make()
    for folder in cache_folders():
        if _store(arrays, folder, name, kind):
            break
    return arrays


def made_key(made_from: object) -> str:
    """A name for everything that a result is made from."""
    return hashlib.sha256(json.dumps(made_from, sort_keys=True).encode()).hexdigest()[:32]


@cache
def code_of(*files: str) -> str:
    """A name for the text of modules, given by their `__file__`: other code makes other results."""
    return hashlib.sha256(b"\0".join(Path(file).read_bytes() for file in files)).hexdigest()[:16]


def cache_folders() -> Iterator[Path]:
    """Where arrays may lie, best first."""
    if sys.platform == "win32" and os.environ.get("LOCALAPPDATA"):
        yield Path(os.environ["LOCALAPPDATA"]) / "twillight" / "drawing"
    elif sys.platform == "darwin":
        with contextlib.suppress(RuntimeError):
            yield Path.home() / "Library" / "Caches" / "twillight" / "drawing"
    elif os.environ.get("XDG_CACHE_HOME"):
        yield Path(os.environ["XDG_CACHE_HOME"]) / "twillight" / "drawing"
    else:
        with contextlib.suppress(RuntimeError):
            yield Path.home() / ".cache" / "twillight" / "drawing"
    with contextlib.suppress(FileNotFoundError):  # where no temporary file can be made, either
        yield Path(tempfile.gettempdir()) / f"twillight-drawing-{_user()}"


def _user() -> str:
    return str(os.getuid()) if hasattr(os, "getuid") else os.environ.get("USERNAME", "user")


def _load(path: Path, fits: Callable[[Arrays], bool]) -> Arrays | None:
    """Stored arrays; None if there are none or they are damaged."""
    try:
        with np.load(path, allow_pickle=False) as stored:
            arrays = {name: stored[name] for name in stored.files}
    except _DAMAGED:
        return None
    if not fits(arrays):
        return None
    with contextlib.suppress(OSError):  # a folder that can only be read is of use, too
        os.utime(path)
    return arrays


def _store(arrays: Arrays, folder: Path, name: str, kind: str) -> bool:
    """Write the arrays whole or not at all; False where the folder cannot be written."""
    partial = None
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handle, partial = tempfile.mkstemp(dir=folder, suffix=".part")
        with os.fdopen(handle, "wb") as stream:
            np.savez(stream, allow_pickle=False, **arrays)
        Path(partial).replace(folder / name)
        partial = None
        with contextlib.suppress(OSError):  # others clear up at the same time
            _forget_oldest(folder, kind, (folder / name).stat().st_mtime - ABANDONED_S)
    except OSError:
        return False
    finally:  # also where the program is told to end
        if partial is not None:
            with contextlib.suppress(OSError):
                Path(partial).unlink()
    return True


def _forget_oldest(folder: Path, kind: str, begun_before: float) -> None:
    """Remove what was used longest ago beyond `MOST_KEPT` and `MOST_BYTES`, the last one aside, and what was
    begun before and not finished."""
    stored = [(path, path.stat()) for path in folder.glob(f"{kind}-*.npz")]
    stored.sort(key=lambda one: one[1].st_mtime_ns, reverse=True)
    room = list(accumulate(about.st_size for _, about in stored))
    kept_n = max(1, min(MOST_KEPT, sum(size <= MOST_BYTES for size in room)))
    unfinished = [path for path in folder.glob("tmp*.part") if path.stat().st_mtime < begun_before]
    for path in [*(path for path, _ in stored[kept_n:]), *unfinished]:
        path.unlink(missing_ok=True)
