"""What only people at a terminal see: a progress bar and swatches of colour."""

from __future__ import annotations

import os
import sys
import time
from types import TracebackType
from typing import TextIO

_BAR = 30


class Progress:
    """A bar on standard error, for people only and only when it takes over a second."""

    def __init__(self) -> None:
        self._started = self._drawn = time.monotonic()
        self._width = 0

    def __enter__(self) -> Progress:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._width:
            sys.stderr.write("\r" + " " * self._width + "\r")
            sys.stderr.flush()

    def __call__(self, share: float) -> None:
        """Show the share done, in [0, 1]."""
        now = time.monotonic()
        if not sys.stderr.isatty() or now - self._started < 1.0 or now - self._drawn < 0.1:
            return
        self._drawn = now
        full = round(_BAR * min(max(share, 0.0), 1.0))
        line = f"drawing [{'#' * full:<{_BAR}}] {share:4.0%}"
        self._width = len(line)
        sys.stderr.write("\r" + line)
        sys.stderr.flush()


def shows_colours(stream: TextIO) -> bool:
    """Whether a stream is a terminal of 24-bit colour and NO_COLOR (no-color.org) does not object."""
    wanted = not os.environ.get("NO_COLOR") and os.environ.get("COLORTERM") in ("truecolor", "24bit")
    return wanted and stream.isatty()


def swatch(hex_colour: str) -> str:
    """Two spaces on a ground of the colour `#rrggbb`, and one more."""
    red, green, blue = bytes.fromhex(hex_colour[1:])
    return f"\x1b[48;2;{red};{green};{blue}m  \x1b[0m "
