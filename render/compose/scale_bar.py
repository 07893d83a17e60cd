"""A bar of a round length in a picture's corner, to read its scale from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from render.compose.lettering import INK, draw_text
from render.compose.marks import WHITE, line

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


LENGTHS_MM = (100, 50, 20, 10, 5, 2, 1)
LONGEST_SHARE = 0.3  # of the picture's width


def scale_bar(pixels: NDArray[np.uint8], px_per_mm: float) -> None:
    """Draw the bar and its length into the lower right corner of `pixels (rows, cols, 3)`."""
    rows, cols = pixels.shape[:2]
    fitting = [mm for mm in LENGTHS_MM if mm * px_per_mm < LONGEST_SHARE * cols]
    length_mm = fitting[0] if fitting else LENGTHS_MM[-1]
    right, row = cols - 24.0, rows - 22.0
    start = right - length_mm * px_per_mm
    line(pixels, (row, start), (row, right), INK, width_px=4)
    for col in (start, right):
        line(pixels, (row - 8, col), (row + 8, col), INK, width_px=3)
    words, middle = f"{length_mm} mm", (start + right) / 2
    for down, across in ((-1, 0), (1, 0), (0, -1), (0, 1)):
        place = (row - 38 + down, middle + across)
        draw_text(pixels, place, words, 24, colour_srgb=WHITE, bold=True, anchor="middle")
    draw_text(pixels, (row - 38, middle), words, 24, bold=True, anchor="middle")
