"""Files appear whole or not at all, and never in place of another one unasked."""

from __future__ import annotations

import contextlib
import os
import secrets
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from render.errors import OutputError, UsageError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

ABANDONED_S = 24 * 3600  # no work leaves its file alone for a day


def check_destination(path: str | os.PathLike[str], *, force: bool = False) -> Path:
    """The file that a result may be written to, before any work is spent on it.

    A symbolic link stands for the file it points to. Raises UsageError when the file is
    there already and `force` is not set, OutputError when no file can be made there.
    """
    asked = Path(path)
    if not os.fspath(path):
        raise OutputError("the name of the file to write is empty: give one")
    try:
        target = asked.resolve()
        if target.is_dir():
            raise OutputError(f"{asked} is a folder: add a file name to it")
        if not target.parent.is_dir():
            raise OutputError(f"there is no folder {asked.parent}: make it first, or write somewhere else")
        if target.exists() and not target.is_file():
            raise OutputError(f"{asked} is no ordinary file: choose another name")
        if target.exists() and not force:
            raise UsageError(f"{asked} is there already: choose another name, or replace it with --force")
    except (OSError, RuntimeError, ValueError) as error:
        raise OutputError(f"cannot write {asked}: {_reason(error)}") from error
    if not os.access(target.parent, os.W_OK):
        raise OutputError(f"cannot write {asked}: no permission to make files in {target.parent}")
    try:
        with tempfile.TemporaryFile(dir=target.parent):  # who may do anything is not told by permissions
            return target
    except OSError as error:
        raise OutputError(
            f"cannot write {asked}: no file can be made in {target.parent} ({_reason(error)})"
        ) from error


def check_not_read(path: str | os.PathLike[str], *read: str | None) -> None:
    """Raise UsageError where a result would replace one of the files that it is made from."""
    target = os.path.realpath(path)
    for one in read:
        if one and os.path.realpath(one) == target:
            raise UsageError(f"{path} is what the result would be made from: choose another name for it")


def write_file(data: bytes, path: str | os.PathLike[str], *, force: bool = False) -> None:
    """Write `data` to `path`, see `whole_file`."""
    write_files({os.fspath(path): data}, force=force)


def write_files(files: Mapping[str, bytes], *, force: bool = False) -> None:
    """Write files that belong together: none is seen before all are written, see `whole_file`."""
    with contextlib.ExitStack() as written:
        for path, data in files.items():
            part = written.enter_context(whole_file(path, force=force))
            with part.open("xb") as stream:
                stream.write(data)


@contextlib.contextmanager
def whole_file(path: str | os.PathLike[str], *, force: bool = False) -> Iterator[Path]:
    """A temporary file beside `path`, still to be made, that takes its name once all went well.

    No half file is ever seen, also where the work is stopped. What a process that was killed left in the
    folder goes a day later.
    Errors as `check_destination`, and OutputError when the disk is full or the like.
    """
    target = check_destination(path, force=force)
    part = target.with_name(f".twillight-{secrets.token_hex(8)}.part")
    try:
        try:
            yield part
            check_destination(path, force=force)
            _remove_older(part)
            part.replace(target)
        finally:
            with contextlib.suppress(FileNotFoundError):
                part.unlink()
    except OSError as error:
        raise OutputError(f"cannot write {path}: {_reason(error)}") from error


def _remove_older(part: Path) -> None:
    """Remove temporary files beside this one that nobody has written to for `ABANDONED_S`.

    Age tells, not a lock: on shared drives locks keep others from writing, or are not to be had. It is
    taken from the drive's own times.
    """
    begun_before = part.stat().st_mtime - ABANDONED_S
    for other in part.parent.glob(".twillight-*.part"):
        with contextlib.suppress(OSError):
            if other.lstat().st_mtime < begun_before:
                other.unlink()


def _reason(error: Exception) -> str:
    return (getattr(error, "strerror", None) or str(error)).lower()
