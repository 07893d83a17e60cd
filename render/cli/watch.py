"""Looking at a file again whenever it is exported anew."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING

from render.cli.say import standard_output
from render.errors import TwillightError

if TYPE_CHECKING:
    from collections.abc import Callable

    from render.inspection import Report

LOOK_AGAIN_S = 0.5


def wait_for_change(path: Path) -> None:
    """Until the file is another one than now, and whole: exported files grow for a moment."""

    def state() -> tuple[int, int] | None:
        try:
            now = path.stat()
        except OSError:
            return None
        return now.st_mtime_ns, now.st_size

    before = state()
    while True:
        time.sleep(LOOK_AGAIN_S)
        now = state()
        if now is not None and now != before:
            time.sleep(LOOK_AGAIN_S)
            if state() == now:
                return


def look_again(look: Callable[[str], Report], path: str) -> Report | None:
    """The report on the changed file; what cannot be read is said, and waited for."""
    try:
        return look(path)
    except TwillightError as error:
        with standard_output():
            print(f"twillight: {error}")
        return None
