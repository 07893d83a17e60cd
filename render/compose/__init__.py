"""Compose: layers of light become a picture in sRGB."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import numpy as np

from render.compose.encoding import encode, encode_onto
from render.errors import UsageError
from render.model import Layers, Picture, Window

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import View

MM_PER_INCH = 25.4
LEAST_SIDE_MM = 1.0
BAND_ROWS = 64
# Drawing took 28 to 36 bytes a pixel (measured at 5 and 19 million): about 7 GB at this size.
MOST_PIXELS = 200_000_000
FINEST_DPI = 100_000.0  # a pixel of a quarter of a micrometre: no thread shows anything there


def window_for(box_mm: tuple[float, float, float, float], view: View) -> Window:
    """The window that shows the box (left, top, right, bottom) with its margin, or the hoop.

    Raises UsageError when the picture would hold more than `MOST_PIXELS`, or not even one.
    """
    left, top, right, bottom = box_mm
    if view.hoop_mm is not None:
        width, height = view.hoop_mm
    else:
        # A lone upright line without a margin still makes a picture.
        width = max(right - left + 2 * view.margin_mm, LEAST_SIDE_MM)
        height = max(bottom - top + 2 * view.margin_mm, LEAST_SIDE_MM)
    asked_px = None if view.width_px is None else float(min(view.width_px, 10 * MOST_PIXELS))
    px_per_mm = view.dpi / MM_PER_INCH if asked_px is None else asked_px / width
    if px_per_mm > FINEST_DPI / MM_PER_INCH:
        raise UsageError(
            f"the picture would have more than {FINEST_DPI:,.0f} pixels an inch: lower --dpi or --width-px"
        )
    wide_px = width * px_per_mm if asked_px is None else asked_px
    high_px = height * px_per_mm
    if not max(wide_px, 1.0) * max(high_px, 1.0) <= MOST_PIXELS:
        raise UsageError(
            f"the picture would have {wide_px:.9g} x {high_px:.9g} pixels, more than "
            f"{MOST_PIXELS // 10**6} million: lower --dpi or --width-px, or show less with --margin-mm or "
            "--crop-hoop"
        )
    rows, cols = round(high_px), round(wide_px)
    if rows == cols == 0:
        raise UsageError(
            f"the picture of {width:.4g} x {height:.4g} mm would be smaller than a pixel: raise --dpi"
        )
    centre = ((left + right) / 2, (top + bottom) / 2)
    return Window(centre, px_per_mm, max(rows, 1), max(cols, 1))


def compose(layers: Layers, window: Window, *, transparent: bool, notes: tuple[str, ...] = ()) -> Picture:
    """Put thread on cloth; or, `transparent`, cut it out with its own soft shadow.

    Worked in bands of rows, so that memory stays near that of the layers.
    """
    pixels = blank(window, transparent=transparent)
    rows, cols = layers.covered.shape

    def fill(top: int) -> None:
        band = slice(top, top + BAND_ROWS)
        parts = layers.thread_linear, layers.cloth_linear, layers.cloth_share, layers.covered
        paint(pixels, (top, 0, min(BAND_ROWS, rows - top), cols), Layers(*(part[band] for part in parts)))

    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        list(pool.map(fill, range(0, rows, BAND_ROWS)))
    return picture_of(pixels, window, notes)


def blank(window: Window, *, transparent: bool) -> NDArray[np.uint8]:
    """Pixels of a picture to be painted, with a channel for the background to come through."""
    return np.empty((window.rows, window.cols, 4 if transparent else 3), np.uint8)


def paint(pixels: NDArray[np.uint8], part: tuple[int, int, int, int], layers: Layers) -> None:
    """Compose a part (first row, first column, rows, columns) of what `blank` began."""
    top, left, high, wide = part
    if pixels.shape[2] == 3:
        encode_onto(pixels, (top, left), layers.thread_linear, layers.cloth_linear, layers.cloth_share)
        return
    # Without its cloth a shadow is black that lets the background through.
    alpha = np.clip(1.0 - layers.cloth_share, 0.0, 1.0)[..., None]
    place = pixels[top : top + high, left : left + wide]
    place[..., :3] = encode(layers.thread_linear / np.maximum(alpha, 1e-4))
    place[..., 3:] = np.rint(alpha * 255.0)


def picture_of(pixels: NDArray[np.uint8], window: Window, notes: tuple[str, ...] = ()) -> Picture:
    """What was painted, at the window's scale."""
    return Picture(pixels, window.px_per_mm * MM_PER_INCH, notes)
