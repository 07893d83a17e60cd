"""Films frame by frame, by ffmpeg in a process of its own."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections import deque
from concurrent.futures import Future, ThreadPoolExecutor
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from render.errors import OutputError, UsageError
from render.write.pictures import MARK

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray

    from render.write.films import Shape

    Pixels = NDArray[np.uint8]

MOST_WAITING = 6  # frames
NICE = 10
# Untagged, or turned to YCbCr by the matrix for small pictures, players show other colours.
_BT709 = "color_primaries=bt709:color_trc=bt709:colorspace=bt709:range=tv"
BT709 = ["-vf", f"scale=in_range=pc:out_range=tv:out_color_matrix=bt709,setparams={_BT709}"]


def encoder_path() -> str:
    """Where ffmpeg is. Raises UsageError where it is not installed, or cannot be run."""
    found: str | None = None
    with contextlib.suppress(ImportError, RuntimeError):
        from imageio_ffmpeg import get_ffmpeg_exe

        found = shutil.which(get_ffmpeg_exe())
    if found is None:
        raise UsageError(
            "MP4 and WebM need an encoder: pip install imageio-ffmpeg installs it; or write a .gif or .png"
        )
    return found


class FfmpegWriter:
    """`how` are the words to ffmpeg that choose codec, quality and container.

    Ctrl-C does not reach ffmpeg: it is ended from here. A few frames wait for it, so that it has work while
    the next ones are drawn. Raises OutputError where it fails.
    """

    def __init__(self, part: Path, shape: Shape, how: Sequence[str]) -> None:
        fps = Fraction(shape.fps).limit_denominator()
        frames = ["-f", "rawvideo", "-pix_fmt", "rgb24", "-s", f"{shape.cols}x{shape.rows}", "-r", str(fps)]
        made = ["-an", "-pix_fmt", "yuv420p", *BT709, "-metadata", f"comment={MARK}"]
        self._said = tempfile.TemporaryFile()  # noqa: SIM115 - closed in `close`
        self._process = subprocess.Popen(
            [encoder_path(), "-y", "-v", "error", *frames, "-i", "-", *made, *how, str(part)],
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=self._said,
            **_in_a_group_of_its_own(),
        )
        if sys.platform != "win32":
            # It works where drawing leaves a processor idle: else both take turns, and later none has work. A
            # drawing process that stands back itself may not set it, and one that has ended has none.
            with contextlib.suppress(OSError):
                os.setpriority(os.PRIO_PROCESS, self._process.pid, NICE)
        self._thread = ThreadPoolExecutor(1)
        self._waiting: deque[Future[int]] = deque()

    def add(self, pixels: Pixels) -> None:
        """Take the next frame (rows, cols, 3) uint8 sRGB."""
        assert self._process.stdin is not None
        while len(self._waiting) >= MOST_WAITING:
            self._hand_over()
        self._waiting.append(self._thread.submit(self._process.stdin.write, pixels.copy().data))

    def _hand_over(self) -> None:
        """Wait until the frame that has waited longest is with ffmpeg."""
        try:
            self._waiting.popleft().result()
        except OSError as error:
            self._process.wait()
            raise OutputError(f"the encoder failed: {self._reason()}") from error

    def finish(self) -> None:
        """End the film: no frame follows."""
        assert self._process.stdin is not None
        while self._waiting:
            self._hand_over()
        with contextlib.suppress(OSError):  # its exit code tells
            self._process.stdin.close()
        if self._process.wait():
            raise OutputError(f"the encoder failed: {self._reason()}")

    def close(self) -> None:
        """End ffmpeg if it still runs, without waiting for what it has been given."""
        assert self._process.stdin is not None
        if self._process.poll() is None:
            self._process.kill()
            self._process.wait()
        self._thread.shutdown(cancel_futures=True)
        with contextlib.suppress(OSError):
            self._process.stdin.close()
        self._said.close()

    def _reason(self) -> str:
        """The last that ffmpeg said, without the part of it that said so."""
        self._said.seek(0)
        lines = self._said.read().decode("utf-8", "replace").split("\n")
        last = next((line for line in reversed(lines) if line.strip()), "")
        return re.sub(r"^\[[^]]*\] *", "", last.strip()).lower() or "is the disk full?"


def _in_a_group_of_its_own() -> dict[str, Any]:
    if sys.platform == "win32":
        return {"creationflags": subprocess.CREATE_NEW_PROCESS_GROUP | subprocess.CREATE_NO_WINDOW}
    return {"process_group": 0}
