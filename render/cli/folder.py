"""A folder of stitch files inspected: one line each."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from render.cli.say import standard_output
from render.errors import InputError, TwillightError, UsageError
from render.words import printable

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from render.inspection import Report


def inspect_folder(folder: Path, look: Callable[[str], Report], *, as_json: bool) -> set[str]:
    """Print one line a stitch file; gives the severities found.

    Raises InputError once all are looked at, where some cannot be read.
    """
    from render.read import known_formats

    endings = {f".{ending}" for form in known_formats() for ending in form.extensions}
    try:
        paths = sorted(path for path in folder.iterdir() if path.suffix.lower() in endings)
    except OSError as error:
        raise InputError(
            f"cannot look through the folder {folder} ({error.strerror}): check the permissions"
        ) from None
    if not paths:
        raise UsageError(f"there is no stitch file in {folder}: name another folder, or one stitch file")
    accounts: list[dict[str, Any]] = []
    levels: set[str] = set()
    unread: list[str] = []
    for path in paths:
        try:
            report = look(str(path))
        except TwillightError as error:
            accounts.append({"file": path.name, "verdict": f"cannot be read: {error}"})
            unread.append(path.name)
            continue
        accounts.append({"file": path.name, **report.account})
        levels |= {one.severity for one in report.found.problems}
    with standard_output():
        if as_json:
            print(json.dumps({"files": accounts}, ensure_ascii=False, indent=2))
        else:
            rows = [(printable(one["file"]), printable(one["verdict"])) for one in accounts]
            width = max(len(name) for name, _ in rows)
            print("\n".join(f"{name:<{width}}  {verdict}" for name, verdict in rows))
    if unread:
        count = f"{len(unread)} files" if len(unread) > 1 else unread[0]
        raise InputError(f"{count} cannot be read, for the reason given above: the others were looked at")
    return levels
