"""Text on pictures and pages, in the open font that comes with the program.

Heights are of the font in pixels: from the top of an ascender to the bottom of a descender.
"""

from __future__ import annotations

import io
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from PIL.ImageFont import FreeTypeFont

    from render.model import Colour

INK: Colour = (0.12, 0.13, 0.15)


@cache
def _font(height_px: int, bold: bool) -> FreeTypeFont:
    from PIL import ImageFont

    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    stream = io.BytesIO(files("render.fonts").joinpath(name).read_bytes())
    # A font of size s is 1.164 s from ascender to descender.
    return ImageFont.truetype(stream, height_px / 1.164, layout_engine=ImageFont.Layout.BASIC)


def text_width_px(text: str, height_px: int, *, bold: bool = False) -> float:
    """How long a line of text is."""
    return float(_font(height_px, bold).getlength(text))


def draw_text(
    pixels: NDArray[np.uint8],
    place_px: tuple[float, float],
    text: str,
    height_px: int,
    *,
    colour_srgb: Colour = INK,
    bold: bool = False,
    anchor: str = "left",
) -> None:
    """Write a line on `pixels (rows, cols, 3)` in place; `place_px` is the row of its top and the
    column of its left end, middle or right end, as `anchor` says. What does not fit is cut off."""
    from PIL import Image, ImageDraw

    font = _font(height_px, bold)
    wide, shift = int(np.ceil(font.getlength(text))) + 2, {"left": 0.0, "middle": 0.5, "right": 1.0}[anchor]
    stamp = Image.new("L", (wide, height_px))
    ImageDraw.Draw(stamp).text((1, height_px * 0.8), text, fill=255, font=font, anchor="ls")
    top, left = round(place_px[0]), round(place_px[1] - shift * (wide - 2)) - 1
    rows, cols = pixels.shape[:2]
    r0, r1, c0, c1 = max(top, 0), min(top + height_px, rows), max(left, 0), min(left + wide, cols)
    if r0 >= r1 or c0 >= c1:
        return
    share = np.asarray(stamp, np.float32)[r0 - top : r1 - top, c0 - left : c1 - left, None] / 255.0
    part = pixels[r0:r1, c0:c1, :3]
    ink = np.array(colour_srgb, np.float32) * 255.0
    pixels[r0:r1, c0:c1, :3] = np.rint(part + share * (ink - part)).astype(np.uint8)


def wrapped(text: str, width_px: float, height_px: int, *, bold: bool = False) -> list[str]:
    """The text in lines no longer than the width, broken at spaces; a longer word stands alone."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width_px(longer, height_px, bold=bold) <= width_px:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
