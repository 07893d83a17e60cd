"""Films as MP4, WebM, GIF and animated PNG, written frame by frame: a long one takes no more memory."""

from __future__ import annotations

import contextlib
import os
from collections import deque
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from render.errors import OutputError, UsageError
from render.write.files import whole_file
from render.write.picture import MARK

if TYPE_CHECKING:
    from collections.abc import Generator, Iterable, Iterator

    from numpy.typing import NDArray

    Pixels = NDArray[np.uint8]

FORMATS = {".mp4": "MP4", ".webm": "WEBM", ".gif": "GIF", ".png": "APNG"}
MOST_FPS = {"MP4": 120.0, "WEBM": 120.0, "APNG": 120.0, "GIF": 50.0}
USUAL_FPS = {"MP4": 30.0, "WEBM": 30.0, "APNG": 20.0, "GIF": 20.0}
MOST_WAITING = 6  # frames
# Untagged, or turned to YCbCr by the matrix for small pictures, players show other colours.
_BT709 = "color_primaries=bt709:color_trc=bt709:colorspace=bt709:range=tv"
BT709 = ["-vf", f"scale=in_range=pc:out_range=tv:out_color_matrix=bt709,setparams={_BT709}"]
CODECS = {
    "MP4": ("libx264", ["-crf", "19", "-preset", "medium", "-movflags", "+faststart", "-f", "mp4"]),
    "WEBM": (
        "libvpx-vp9",
        ["-crf", "31", "-b:v", "0", "-deadline", "good", "-cpu-used", "5", "-row-mt", "1", "-f", "webm"],
    ),
}


@dataclass(frozen=True, slots=True)
class Shape:
    """Pixels across and down, frames a second, and how often it plays: 0 is for ever (GIF, APNG)."""

    cols: int
    rows: int
    fps: float
    plays: int = 0


def film_format(path: str | os.PathLike[str]) -> str:
    """The format that a file name asks for: MP4, WEBM, GIF or APNG.

    Raises UsageError for other names, and where the encoder for it is not installed.
    """
    suffix = Path(path).suffix.lower()
    if suffix not in FORMATS:
        raise UsageError(f"{Path(path).name!r} names no film: end it in .mp4, .webm, .gif or .png")
    if FORMATS[suffix] in CODECS:
        _encoder()
    return FORMATS[suffix]


def even(cols: int, rows: int, file_format: str) -> tuple[int, int]:
    """The size, one pixel more where the format's halved colours need even sides."""
    return (cols + cols % 2, rows + rows % 2) if file_format in CODECS else (cols, rows)


class Writer(Protocol):
    """Takes the frames of a film (rows, cols, 3) uint8 sRGB in turn."""

    def add(self, pixels: Pixels) -> None: ...


@contextlib.contextmanager
def film_file(
    path: str | os.PathLike[str], shape: Shape, *, palette_from: Iterable[Pixels] = (), force: bool = False
) -> Iterator[Writer]:
    """A film that is there, whole, once all frames have been added and nothing went wrong.

    `palette_from` are pictures whose colours a GIF gets. Raises UsageError for a size that the format
    cannot have or a file that is there without `force`, OutputError when it cannot be written.
    """
    file_format = film_format(path)
    if shape.fps > MOST_FPS[file_format]:
        raise UsageError(
            f"{file_format} films run at up to {MOST_FPS[file_format]:g} frames a second: lower --fps"
        )
    if even(shape.cols, shape.rows, file_format) != (shape.cols, shape.rows):
        raise UsageError(f"{file_format} films need even sides, not {shape.cols} x {shape.rows} pixels")
    with whole_file(path, force=force) as part:
        if file_format in CODECS:
            with contextlib.closing(_Encoder(part, shape, file_format)) as encoder:
                yield encoder
                encoder.finish()
            return
        from render.write.frames_apng import ApngWriter
        from render.write.frames_gif import GifWriter, shared_palette

        with part.open("xb") as stream:
            writer = (
                GifWriter(stream, shape, shared_palette(palette_from))
                if file_format == "GIF"
                else ApngWriter(stream, shape)
            )
            yield writer
            writer.finish()


def _encoder() -> Any:
    try:
        import imageio_ffmpeg
    except ImportError:
        raise UsageError(
            "MP4 and WebM need an encoder: pip install imageio-ffmpeg installs it; or write a .gif or .png"
        ) from None
    return imageio_ffmpeg


class _Encoder:
    """ffmpeg in a process of its own, which Ctrl-C does not reach: it is closed from here.

    A few frames wait for it, so that it has work while the next ones are drawn.
    """

    def __init__(self, part: Path, shape: Shape, file_format: str) -> None:
        codec, options = CODECS[file_format]
        self._part, self._frames = part, 0
        self._thread = ThreadPoolExecutor(1)
        self._waiting: deque[Future[None]] = deque()
        self._pipe: Generator[None, Any, None] = _encoder().write_frames(
            str(part),
            (shape.cols, shape.rows),
            fps=shape.fps,
            codec=codec,
            quality=None,
            pix_fmt_out="yuv420p",
            macro_block_size=1,  # without a word sides are stretched to multiples of 16
            output_params=[*options[:-2], *BT709, "-metadata", f"comment={MARK}", *options[-2:]],
        )
        self._pipe.send(None)

    def add(self, pixels: Pixels) -> None:
        while len(self._waiting) >= MOST_WAITING:
            self._hand_over()
        self._waiting.append(self._thread.submit(self._pipe.send, pixels.copy()))
        self._frames += 1

    def _hand_over(self) -> None:
        """Wait until the frame that has waited longest is with ffmpeg."""
        try:
            self._waiting.popleft().result()
        except OSError as error:
            raise OutputError(f"the encoder failed: {_last_line(error)}") from error

    def finish(self) -> None:
        while self._waiting:
            self._hand_over()
        self._pipe.close()
        if self._frames and not (self._part.is_file() and self._part.stat().st_size):
            raise OutputError("the encoder wrote nothing: is the disk full?")

    def close(self) -> None:
        self._thread.shutdown(cancel_futures=True)
        self._pipe.close()


def _last_line(error: OSError) -> str:
    lines = [line.strip() for line in str(error).splitlines() if line.strip()]
    return lines[-1] if lines else "no reason given"
