"""What only people at a terminal see: a progress bar and swatches of colour."""

from __future__ import annotations

import os
import sys
import threading
import time
from types import TracebackType
from typing import TextIO

_BAR = 30
_EVERY_S = 0.1


class Progress:
    """A bar on standard error, for people only and only when it takes over a second.

    It moves on its own clock, so that it shows life while kernels compile on the first run.
    """

    def __init__(self, *, after_s: float = 1.0, time_left: bool = False) -> None:
        self._after_s, self._time_left = after_s, time_left
        self._first: tuple[float, float] | None = None
        self._share = 0.0
        self._width = 0
        self._done = threading.Event()
        self._thread = threading.Thread(target=self._keep_showing, daemon=True)

    def __enter__(self) -> Progress:
        if sys.stderr.isatty():
            self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._done.set()
        if self._thread.is_alive():
            self._thread.join()
        if self._width:
            self._show(" " * self._width + "\r")

    def __call__(self, share: float) -> None:
        """Say what share is done, in [0, 1]."""
        self._share = min(max(share, 0.0), 1.0)

    def _keep_showing(self) -> None:
        started = time.monotonic()
        wait_s = self._after_s
        while not self._done.wait(wait_s):
            wait_s = _EVERY_S
            line = _line(self._share, time.monotonic() - started)
            if self._time_left and self._share > 0.0:
                line += self._left()
            self._show(line.ljust(self._width))
            self._width = max(self._width, len(line))

    def _left(self) -> str:
        """How long it still takes, going by what it took since the first share."""
        now, share = time.monotonic(), self._share
        if self._first is None:
            self._first = (now, share)
        began, at = self._first
        if share <= at or now - began < 1.0:
            return ""
        seconds = round((now - began) * (1.0 - share) / (share - at))
        return f", {seconds // 60}:{seconds % 60:02d} left"

    def _show(self, line: str) -> None:
        sys.stderr.write("\r" + line)
        sys.stderr.flush()


def _line(share: float, seconds: float) -> str:
    """The bar; before the first share, how long it has taken to get ready."""
    if share == 0.0:
        patience = " (the first time takes longer)" if seconds > 4.0 else ""
        return f"getting ready, {seconds:.0f} s{patience}"
    return f"drawing [{'#' * round(_BAR * share):<{_BAR}}] {share:4.0%}"


def shows_colours(stream: TextIO) -> bool:
    """Whether a stream is a terminal of 24-bit colour and NO_COLOR (no-color.org) does not object."""
    wanted = not os.environ.get("NO_COLOR") and os.environ.get("COLORTERM") in ("truecolor", "24bit")
    return wanted and stream.isatty()


def swatch(hex_colour: str) -> str:
    """Two spaces on a ground of the colour `#rrggbb`, and one more."""
    red, green, blue = bytes.fromhex(hex_colour[1:])
    return f"\x1b[48;2;{red};{green};{blue}m  \x1b[0m "
