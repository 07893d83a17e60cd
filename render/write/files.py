"""Files appear whole or not at all, and never in place of another one unasked."""

from __future__ import annotations

import contextlib
import os
import secrets
from pathlib import Path

from render.errors import OutputError, UsageError


def check_destination(path: str | os.PathLike[str], *, force: bool = False) -> Path:
    """The file that a result may be written to, before any work is spent on it.

    A symbolic link stands for the file it points to. Raises UsageError when the file is
    there already and `force` is not set, OutputError when no file can be made there.
    """
    asked = Path(path)
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
    return target


def write_file(data: bytes, path: str | os.PathLike[str], *, force: bool = False) -> None:
    """Write `data` to `path` through a temporary file beside it, so that no half file is ever seen.

    Errors as `check_destination`, and OutputError when the disk is full or the like.
    """
    target = check_destination(path, force=force)
    part = target.with_name(f".{secrets.token_hex(8)}.part")
    try:
        try:
            with part.open("xb") as stream:
                stream.write(data)
            check_destination(path, force=force)
            part.replace(target)
        finally:
            with contextlib.suppress(FileNotFoundError):
                part.unlink()
    except OSError as error:
        raise OutputError(f"cannot write {path}: {_reason(error)}") from error


def _reason(error: Exception) -> str:
    return (getattr(error, "strerror", None) or str(error)).lower()
