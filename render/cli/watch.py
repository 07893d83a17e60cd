"""Looking at a file again whenever it is exported anew."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from render.cli.say import standard_output
from render.errors import TwillightError
from render.words import printable

if TYPE_CHECKING:
    from collections.abc import Callable

    from render.inspection import Report

    State = tuple[int, int] | None

LOOK_AGAIN_S = 0.5


def state_of(path: Path) -> State:
    """What tells a file from what it was: when it was written, and its size; None where it is not there."""
    try:
        now = path.stat()
    except OSError:
        return None
    return now.st_mtime_ns, now.st_size


def wait_for_change(path: Path, before: State) -> State:
    """The file's state once it is another one than before, and whole: exported files grow for a moment."""
    while True:
        now = state_of(path)
        if now is not None and now != before:
            time.sleep(LOOK_AGAIN_S)
            if state_of(path) == now:
                return now
        else:
            time.sleep(LOOK_AGAIN_S)


def keep_looking(
    path: str, before: State, look: Callable[[str], Report], show: Callable[[Report], None]
) -> NoReturn:
    """Show the report on the file anew whenever that changes, until somebody stops it; what cannot be read is
    said, and waited for."""
    while True:
        before = wait_for_change(Path(path), before)
        try:
            report = look(path)
        except TwillightError as error:
            with standard_output():
                print(f"twillight: {printable(str(error))}")
        else:
            show(report)
