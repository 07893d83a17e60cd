"""Strips of a page: paper, lines of text, pictures in the middle, and numbered marks on pictures.

A page is made of strips `(rows, WIDTH_PX, 3)` uint8 sRGB, one under the other.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.compose.lettering import draw_text, wrapped
from render.compose.marks import WHITE, disc, line, ring
from render.model import Picture, Window

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from render.model import Colour

    Pixels = NDArray[np.uint8]
    Box = tuple[float, float, float, float]
    Point = tuple[float, float]

WIDTH_PX, EDGE_PX = 1800, 50
PAGE_DPI = 1800 / 8.27  # fills the width of A4
BADGE_PX = 19
LEAST_CLEAR_PX = 26  # a ring's clear inside, so that it hides nothing
PAPER: Colour = (0.985, 0.98, 0.97)
# Told apart without colour, too: a strong mark has a filled badge, a mild one an open badge.
STRONG: Colour = (0.74, 0.17, 0.10)
MILD: Colour = (0.10, 0.33, 0.60)


def paper(rows: int, cols: int = WIDTH_PX) -> Pixels:
    """An empty strip."""
    page = np.empty((rows, cols, 3), np.uint8)
    page[:] = np.rint(np.array(PAPER) * 255)
    return page


def text_strip(texts: Iterable[str], height_px: int) -> Pixels:
    """Texts one under the other, broken where they are longer than the page is wide."""
    broken = [part for text in texts for part in wrapped(text, WIDTH_PX - 2 * EDGE_PX, height_px)]
    page = paper(round(len(broken) * height_px * 1.3) + 40)
    for count, text in enumerate(broken):
        draw_text(page, (16 + count * height_px * 1.3, EDGE_PX), text, height_px)
    return page


def side_by_side(parts: Sequence[Pixels], left_px: int = EDGE_PX, apart_px: int = EDGE_PX) -> Pixels:
    """A strip with pictures or cards in a row from the left."""
    page = paper(max(len(part) for part in parts))
    for part in parts:
        page[: len(part), left_px : left_px + part.shape[1]] = part
        left_px += part.shape[1] + apart_px
    return page


def picture_strip(pixels: Pixels) -> Pixels:
    """A strip with a picture in the middle and some room below."""
    page = paper(len(pixels) + 40)
    left = (WIDTH_PX - pixels.shape[1]) // 2
    page[: len(pixels), left : left + pixels.shape[1]] = pixels
    return page


def reduced(pixels: Pixels, wide_px: int) -> Pixels:
    """A picture (rows, cols, 3 or 4) so wide; what is cut out lies on white."""
    from PIL import Image

    image = Image.fromarray(pixels)
    if image.mode == "RGBA":
        white = Image.new("RGBA", image.size, "white")
        white.alpha_composite(image)
        image = white.convert("RGB")
    high = max(1, round(pixels.shape[0] * wide_px / pixels.shape[1]))
    return np.asarray(image.resize((wide_px, high), Image.Resampling.LANCZOS))


def stacked(strips: Iterable[Pixels]) -> Picture:
    """All strips as one picture."""
    return Picture(np.concatenate(list(strips)), PAGE_DPI)


def on_pages(strips: Iterable[Pixels]) -> list[Picture]:
    """The strips on as many upright A4 pages as they need; none is broken in two unless it is longer
    than a page."""
    most = round(WIDTH_PX * 297 / 210) - 2 * EDGE_PX
    pages: list[list[Pixels]] = [[]]
    room = most
    for strip in strips:
        for top in range(0, len(strip), most):
            part = strip[top : top + most]
            if len(part) > room and pages[-1]:
                pages.append([])
                room = most
            pages[-1].append(part)
            room -= len(part)
    edge = paper(EDGE_PX)
    full = most + 2 * EDGE_PX
    found = []
    for parts in pages:
        page = np.concatenate([edge, *parts])
        found.append(Picture(np.concatenate([page, paper(full - len(page))]), PAGE_DPI))
    return found


def fitting_window(box_mm: Box, *, wide_px: float, high_px: float, most_px_per_mm: float) -> Window:
    """The window around a box (left, top, right, bottom) with some margin that fits in so many pixels."""
    left, top, right, bottom = box_mm
    margin = 5.0
    wide, high = right - left + 2 * margin, bottom - top + 2 * margin
    px_per_mm = min(wide_px / wide, high_px / high, most_px_per_mm)
    centre = ((left + right) / 2, (top + bottom) / 2)
    return Window(centre, px_per_mm, round(high * px_per_mm), round(wide * px_per_mm))


def box_px(box_mm: Box, window: Window) -> Box:
    """A box (left, top, right, bottom) in mm as (top, left, bottom, right) in a window's pixels."""
    x, y = window.centre_mm
    left, right = ((at - x) * window.px_per_mm + window.cols / 2 for at in (box_mm[0], box_mm[2]))
    top, bottom = ((at - y) * window.px_per_mm + window.rows / 2 for at in (box_mm[1], box_mm[3]))
    return top, left, bottom, right


def clear_ring(pixels: Pixels, box: Box, *, strong: bool) -> Box:
    """A ring with air around a box in pixels, however small that is; gives the ring's own box."""
    top, left, bottom, right = box
    dy = max(6.0, (LEAST_CLEAR_PX - (bottom - top)) / 2)
    dx = max(6.0, (LEAST_CLEAR_PX - (right - left)) / 2)
    grown = top - dy, left - dx, bottom + dy, right + dx
    ring(pixels, grown, STRONG if strong else MILD)
    return grown


def badge(pixels: Pixels, at: Point, text: str, *, strong: bool) -> None:
    """A number on a disc around `at` (row, column)."""
    disc(pixels, at, BADGE_PX, STRONG if strong else WHITE, None if strong else MILD)
    ink = WHITE if strong else MILD
    draw_text(pixels, (at[0] - 12, at[1]), text, 23, colour_srgb=ink, bold=True, anchor="middle")


def card(
    inset: Pixels, number: int, heading: str, paragraphs: Iterable[tuple[str, bool]], *, strong: bool
) -> Pixels:
    """A picture from near with a number, a heading and words beside it, some of them bold; two fit side by
    side."""
    high, left = len(inset), inset.shape[1] + 24
    page = paper(high + 30, (WIDTH_PX - 3 * EDGE_PX) // 2)
    room = page.shape[1] - left - 6
    page[:high, : inset.shape[1]] = inset
    badge(page, (BADGE_PX + 2, left + BADGE_PX), str(number), strong=strong)
    row = 6.0
    for text in wrapped(heading, room - 50, 28, bold=True):
        draw_text(page, (row, left + 50), text, 28, bold=True)
        row += 34
    row = max(row, 44.0)
    for words, bold in paragraphs:
        for text in wrapped(words, room, 22, bold=bold):
            draw_text(page, (row, left), text, 22, bold=bold)
            row += 26
        row += 8
    return page


def callout(pixels: Pixels, box: Box, text: str, taken: list[Point], *, strong: bool) -> None:
    """A ring around a box in pixels and a badge outside of it, clear of those already `taken`."""
    around = clear_ring(pixels, box, strong=strong)
    at, corner = _free_place(around, taken, pixels.shape)
    taken.append(at)
    line(pixels, corner, at, STRONG if strong else MILD)
    badge(pixels, at, text, strong=strong)


def _free_place(box: Box, taken: Sequence[Point], shape: tuple[int, ...]) -> tuple[Point, Point]:
    """Where a badge keeps clear of ring, other badges and edge; and the nearest point of the ring."""
    top, left, bottom, right = box
    middle = ((top + bottom) / 2, (left + right) / 2)
    room = BADGE_PX + 6
    best, least = (middle, middle), np.inf
    for away in (30.0, 60.0, 95.0, 140.0):
        for angle in np.deg2rad(np.arange(-45, 315, 22.5)):
            sin, cos = float(np.sin(angle)), float(np.cos(angle))
            reach = min((bottom - top) / 2 / max(abs(sin), 1e-6), (right - left) / 2 / max(abs(cos), 1e-6))
            edge = (middle[0] + reach * sin, middle[1] + reach * cos)
            at = (edge[0] + away * sin, edge[1] + away * cos)
            near = min((float(np.hypot(at[0] - r, at[1] - c)) for r, c in taken), default=1e9)
            outside = max(room - at[0], room - at[1], at[0] + room - shape[0], at[1] + room - shape[1], 0.0)
            cost = away + 40 * max(0.0, 2.4 * BADGE_PX - near) + 100 * outside
            if cost < least:
                best, least = (at, edge), cost
    return best
