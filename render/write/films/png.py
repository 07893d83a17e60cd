"""Animated PNG, exact to the byte, frame by frame: of each frame what differs from the one before.

PNG (Third Edition), W3C 2025: IHDR, acTL, fcTL, IDAT, fdAT, IEND.
"""

from __future__ import annotations

import struct
import zlib
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from render.write.films import FilmFormat
from render.write.pictures import MARK

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from render.write.films import Shape

    Pixels = NDArray[np.uint8]

LEVEL = 6
FINEST_DELAY = 500  # of its fraction the divisor: two bytes hold 120 frames a second, so divided
UP = 2  # filter: each row less the one above


class ApngWriter:
    """Frames that are alike become one that is shown longer."""

    def __init__(self, part: Path, shape: Shape) -> None:
        self.stream, self.shape = part.open("xb"), shape
        self.frames, self.order = 0, 0
        self.before: Pixels | None = None
        self.waiting: tuple[Pixels, int, int] | None = None  # what has changed, from which row and column
        self.shown = 0
        delay = Fraction(shape.fps).limit_denominator(FINEST_DELAY)
        self.delay = (delay.denominator, delay.numerator)
        self.stream.write(b"\x89PNG\r\n\x1a\n")
        self._chunk(b"IHDR", struct.pack(">IIBBBBB", shape.cols, shape.rows, 8, 2, 0, 0, 0))
        self._chunk(b"sRGB", b"\0")
        self.counted_at = self.stream.tell()
        self._chunk(b"acTL", struct.pack(">II", 0, shape.plays))
        self._chunk(b"tEXt", b"Description\0" + MARK.encode())

    def add(self, pixels: Pixels) -> None:
        """Take the next frame (rows, cols, 3) uint8 sRGB."""
        if self.before is None:
            self.before, changed = pixels.copy(), (pixels.copy(), 0, 0)
        else:
            found = changed_part(self.before, pixels)
            most = 65535 // self.delay[0]
            if found is None and self.shown < most:
                self.shown += 1
                return
            top, left, bottom, right = found or (0, 0, 1, 1)
            part = pixels[top:bottom, left:right].copy()
            self.before[top:bottom, left:right] = part
            self._flush()
            changed = (part, top, left)
        self.waiting, self.shown = changed, 1

    def finish(self) -> None:
        """End the film: no frame follows."""
        self._flush()
        self._chunk(b"IEND", b"")
        self.stream.seek(self.counted_at)
        self._chunk(b"acTL", struct.pack(">II", self.frames, self.shape.plays))

    def close(self) -> None:
        """Let go of the file."""
        self.stream.close()

    def _flush(self) -> None:
        if self.waiting is None:
            return
        part, top, left = self.waiting
        rows, cols = part.shape[:2]
        control = struct.pack(
            ">IIIIIHHBB", self.order, cols, rows, left, top, self.delay[0] * self.shown, self.delay[1], 0, 0
        )
        self._chunk(b"fcTL", control)
        data = zlib.compress(_filtered(part), LEVEL)
        if self.frames:
            self._chunk(b"fdAT", struct.pack(">I", self.order + 1) + data)
            self.order += 2
        else:
            self._chunk(b"IDAT", data)
            self.order += 1
        self.frames += 1

    def _chunk(self, kind: bytes, data: bytes) -> None:
        self.stream.write(
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )


def changed_part(before: Pixels, after: Pixels) -> tuple[int, int, int, int] | None:
    """The rectangle (top, left, bottom, right) in which two pictures differ, None where they do not."""
    differ = (before != after).any(2)
    rows, cols = np.flatnonzero(differ.any(1)), np.flatnonzero(differ.any(0))
    return (int(rows[0]), int(cols[0]), int(rows[-1]) + 1, int(cols[-1]) + 1) if len(rows) else None


def _filtered(part: Pixels) -> bytes:
    rows, cols = part.shape[:2]
    flat = part.reshape(rows, 3 * cols)
    out = np.empty((rows, 3 * cols + 1), np.uint8)
    out[:, 0] = UP
    out[0, 1:] = flat[0]
    np.subtract(flat[1:], flat[:-1], out=out[1:, 1:])
    return out.tobytes()


FORMAT = FilmFormat("APNG", lambda part, shape, _: ApngWriter(part, shape), usual_fps=20.0)
