"""GIF frame by frame, all in one palette; of each frame only what differs from the one before.

GIF89a (CompuServe 1990). Pillow finds the colours and packs each picture; the frames are put together
here, because Pillow would keep all of them in memory until the last.
"""

from __future__ import annotations

import io
import struct
from typing import TYPE_CHECKING

import numpy as np

from render.write.films import FilmFormat
from render.write.films.png import changed_part
from render.write.pictures import MARK

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from numpy.typing import NDArray
    from PIL import Image

    from render.write.films import Shape

    Pixels = NDArray[np.uint8]

COLOURS = 255  # one of 256 stands for "as before"
AS_BEFORE = 255
BITS, MOST_TIMES = 5, 64  # of a channel told apart for a palette; how often the usual colour counts
LAB_SCALE, LAB_ZERO = np.array([2.55, 1.0, 1.0]), np.array([0.0, 128.0, 128.0])  # CIELAB in three bytes
LEAST_DELAY = 2  # hundredths of a second; players slow down shorter ones


def shared_palette(pictures: Iterable[Pixels]) -> Image.Image:
    """A palette picture with the colours of all pictures together.

    They are parted by how different they look (CIELAB), and each counts by the root of its share: else a
    large light fill would take the shades that a dark border needs.
    """
    from PIL import Image

    from render.colour import from_lab, to_lab

    count, total = np.zeros(1 << 3 * BITS), np.zeros((1 << 3 * BITS, 3))
    for picture in pictures:
        pixels = picture[::2, ::2].reshape(-1, 3)  # thinned out: a palette does not need every pixel
        part = (pixels >> (8 - BITS)).astype(np.int64) @ (1 << BITS * np.arange(3))
        count += np.bincount(part, minlength=len(count))
        for channel in range(3):
            total[:, channel] += np.bincount(part, pixels[:, channel], len(count))
    found = count > 0
    lab = to_lab(total[found] / count[found, None] / 255.0)
    share = np.sqrt(count[found] / count.max())
    times = np.ceil(share * MOST_TIMES).astype(int)
    seen = np.rint(np.clip(lab * LAB_SCALE + LAB_ZERO, 0, 255)).astype(np.uint8).repeat(times, axis=0)
    parted = Image.fromarray(seen[None]).quantize(COLOURS, method=Image.Quantize.MEDIANCUT, kmeans=2)
    centres = np.array(parted.getpalette(), float).reshape(-1, 3)
    colours = np.clip(from_lab((centres - LAB_ZERO) / LAB_SCALE), 0.0, 1.0)
    palette = Image.new("P", (1, 1))
    palette.putpalette(np.rint(255 * colours).astype(np.uint8).tobytes())
    return palette


class GifWriter:
    """Delays are in hundredths of a second, rounded so that their sum never drifts."""

    def __init__(self, part: Path, shape: Shape, palette_from: Iterable[Pixels]) -> None:
        self.shape, self.palette = shape, shared_palette(palette_from)
        self.stream = part.open("xb")
        self.before: Pixels | None = None
        self.indices: NDArray[np.uint8] | None = None
        self.waiting: tuple[NDArray[np.uint8], int, int] | None = None
        self.added, self.told = 0, 0  # frames, and hundredths of a second already given to frames
        colours = np.zeros(768, np.uint8)
        found = np.array(self.palette.getpalette() or [], np.uint8)[: 3 * COLOURS]
        colours[: len(found)] = found
        self.colours = colours.tobytes()
        self.stream.write(
            b"GIF89a" + struct.pack("<HHBBB", shape.cols, shape.rows, 0xF7, 0, 0) + self.colours
        )
        if shape.plays != 1:
            repeats = 0 if shape.plays == 0 else shape.plays - 1
            self.stream.write(b"\x21\xff\x0bNETSCAPE2.0\x03\x01" + struct.pack("<H", repeats) + b"\0")
        self.stream.write(b"\x21\xfe" + bytes([len(MARK)]) + MARK.encode() + b"\0")

    def add(self, pixels: Pixels) -> None:
        """Take the next frame (rows, cols, 3) uint8 sRGB."""
        if self.before is None or self.indices is None:
            self.before = pixels.copy()
            self.indices = self._indices(pixels)
            self.waiting = (self.indices.copy(), 0, 0)
        else:
            found = changed_part(self.before, pixels)
            if found is not None:
                top, left, bottom, right = found
                place = (slice(top, bottom), slice(left, right))
                now, old = self._indices(pixels[place]), self.indices[place]
                self.before[place] = pixels[place]
                if (now != old).any():
                    self._flush()
                    self.waiting = (np.where(now == old, np.uint8(AS_BEFORE), now), top, left)
                    self.indices[place] = now
        self.added += 1

    def finish(self) -> None:
        """End the film: no frame follows."""
        self._flush()
        self.stream.write(b"\x3b")

    def close(self) -> None:
        """Let go of the file."""
        self.stream.close()

    def _indices(self, pixels: Pixels) -> NDArray[np.uint8]:
        from PIL import Image

        image = Image.fromarray(np.ascontiguousarray(pixels))
        return np.array(image.quantize(palette=self.palette, dither=Image.Dither.NONE))

    def _flush(self) -> None:
        """Write the frame that waits, now that it is known how long it is shown."""
        if self.waiting is None:
            return
        until = round(100 * self.added / self.shape.fps)
        delay = max(until - self.told, LEAST_DELAY)
        self.told += delay
        indices, top, left = self.waiting
        rows, cols = indices.shape
        # Bits: do not dispose of the picture, one colour is transparent.
        self.stream.write(b"\x21\xf9\x04" + struct.pack("<BHBB", 0x05, min(delay, 65535), AS_BEFORE, 0))
        self.stream.write(b"\x2c" + struct.pack("<HHHHB", left, top, cols, rows, 0) + self._packed(indices))

    def _packed(self, indices: NDArray[np.uint8]) -> bytes:
        """The packed picture, cut out of a GIF of it alone that Pillow writes."""
        from PIL import Image

        image = Image.fromarray(indices).convert("L")
        image.putpalette(self.colours)
        alone = io.BytesIO()
        image.save(alone, "GIF", optimize=False, interlace=0)
        data = alone.getvalue()
        return data[_picture_at(data) : -1]


def _picture_at(data: bytes) -> int:
    """Where the packed pixels of a GIF's only picture begin; they go on to the trailer."""
    at = 13 + (3 << (data[10] & 7) + 1 if data[10] & 0x80 else 0)
    while data[at] == 0x21:  # extensions: skip their blocks
        at += 2
        while data[at]:
            at += data[at] + 1
        at += 1
    return at + 10


FORMAT = FilmFormat("GIF", GifWriter, usual_fps=20.0, most_fps=50.0)
