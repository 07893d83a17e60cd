"""Films as MP4, WebM, GIF and animated PNG, written frame by frame: a long one takes no more memory."""

from __future__ import annotations

import contextlib
import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

import numpy as np

from render.errors import UsageError
from render.write.files import whole_file
from render.write.frames_ffmpeg import CODECS, FfmpegWriter, encoder_path

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from numpy.typing import NDArray

    Pixels = NDArray[np.uint8]

FORMATS = {".mp4": "MP4", ".webm": "WEBM", ".gif": "GIF", ".png": "APNG"}
MOST_FPS = {"MP4": 120.0, "WEBM": 120.0, "APNG": 120.0, "GIF": 50.0}
USUAL_FPS = {"MP4": 30.0, "WEBM": 30.0, "APNG": 20.0, "GIF": 20.0}


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
        raise UsageError(
            f"{Path(path).name!r} names no film: end it in .mp4, .webm, .gif or .png, "
            "or name a storyboard with --sheet"
        )
    if FORMATS[suffix] in CODECS:
        encoder_path()
    return FORMATS[suffix]


def even(cols: int, rows: int, file_format: str) -> tuple[int, int]:
    """The size, one pixel more where the format's halved colours need even sides."""
    return (cols + cols % 2, rows + rows % 2) if file_format in CODECS else (cols, rows)


class Writer(Protocol):
    """Takes the frames of a film (rows, cols, 3) uint8 sRGB in turn."""

    def add(self, pixels: Pixels) -> None:
        """Take the next frame."""


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
            with contextlib.closing(FfmpegWriter(part, shape, file_format)) as encoder:
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
