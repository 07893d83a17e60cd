"""Compose: layers of light become a picture in sRGB."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import numpy as np

from render.compose.encoding import encode
from render.errors import UsageError
from render.model import Picture, Window

if TYPE_CHECKING:
    from render.model import Layers, View

MM_PER_INCH = 25.4
LEAST_SIDE_MM = 1.0
BAND_ROWS = 64
# Drawing took 28 to 36 bytes a pixel (measured at 5 and 19 million): about 7 GB at this size.
MOST_PIXELS = 200_000_000


def window_for(box_mm: tuple[float, float, float, float], view: View) -> Window:
    """The window that shows the box (left, top, right, bottom) with its margin, or the hoop.

    Raises UsageError when the picture would hold more than `MOST_PIXELS`.
    """
    left, top, right, bottom = box_mm
    if view.hoop_mm is not None:
        width, height = view.hoop_mm
    else:
        # A lone upright line without a margin still makes a picture.
        width = max(right - left + 2 * view.margin_mm, LEAST_SIDE_MM)
        height = max(bottom - top + 2 * view.margin_mm, LEAST_SIDE_MM)
    px_per_mm = view.dpi / MM_PER_INCH if view.width_px is None else view.width_px / width
    cols = round(width * px_per_mm) if view.width_px is None else view.width_px
    rows = round(height * px_per_mm)
    if rows * cols > MOST_PIXELS:
        raise UsageError(
            f"the picture would have {cols} x {rows} pixels, more than {MOST_PIXELS // 10**6} million: "
            "lower --dpi or --width-px"
        )
    centre = ((left + right) / 2, (top + bottom) / 2)
    return Window(centre, px_per_mm, max(rows, 1), max(cols, 1))


def compose(layers: Layers, window: Window, *, transparent: bool, notes: tuple[str, ...] = ()) -> Picture:
    """Put thread on cloth; or, `transparent`, cut it out with its own soft shadow.

    Worked in bands of rows, so that memory stays near that of the layers.
    """
    rows, cols = layers.covered.shape
    pixels = np.empty((rows, cols, 4 if transparent else 3), np.uint8)

    def fill(top: int) -> None:
        band = slice(top, top + BAND_ROWS)
        if transparent:
            # Without its cloth a shadow is black that lets the background through.
            alpha = np.clip(1.0 - layers.cloth_share[band], 0.0, 1.0)[..., None]
            pixels[band, :, :3] = encode(layers.thread_linear[band] / np.maximum(alpha, 1e-4))
            pixels[band, :, 3:] = np.rint(alpha * 255.0)
        else:
            light = layers.cloth_linear[band] * layers.cloth_share[band][..., None]
            light += layers.thread_linear[band]
            pixels[band] = encode(light)

    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        list(pool.map(fill, range(0, rows, BAND_ROWS)))
    return Picture(pixels, window.px_per_mm * MM_PER_INCH, notes)
