"""A map over a picture: a quantity in tints of one hue, with numbered contour lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import gaussian_filter, label

from render.compose.lettering import INK, draw_text, text_width_px

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from render.model import Colour

    Pixels = NDArray[np.uint8]
    Floats = NDArray[np.float64]

HUE: Colour = (0.05, 0.33, 0.52)
FADED = 0.45  # what is left of the picture's own contrast
LINE_PX = 1.6
NUMBER_PX = 22
SMOOTH_PX = 2.0  # contour lines of finer grain than this are noise
LEAST_PIECE_PX = 60  # shorter pieces of a contour get no number


def draw_contours(
    pixels: Pixels, values: Floats, levels: Sequence[float], *, tint_at: tuple[float, float]
) -> None:
    """Lay the map of `values (rows, cols)` over `pixels (rows, cols, 3)` in place.

    `levels` rise; tints run from none at the first of `tint_at` to the full hue at the second.
    Each longer piece of a contour carries its number.
    """
    field = gaussian_filter(values, SMOOTH_PX)
    low, high = tint_at
    share = np.clip((field - low) / max(high - low, 1e-12), 0.0, 1.0)[..., None] * 0.85
    grey = pixels @ np.array([0.2126, 0.7152, 0.0722])
    faded = (255.0 * (1 - FADED) + FADED * grey)[..., None] * np.ones(3)
    page = faded * (1 - share) + share * (np.array(HUE) * 255.0) * (0.55 + 0.45 * faded / 255.0)
    slope = np.hypot(*np.gradient(field))
    numbers: list[tuple[float, float, str]] = []
    for level in levels:
        away = np.abs(field - level) / np.maximum(slope, 1e-9)
        line = np.clip(0.5 + LINE_PX / 2 - away, 0.0, 1.0)
        page += line[..., None] * (np.array(INK) * 255.0 - page)
        numbers += _numbers(line > 0.5, f"{level:g}", numbers)
    pixels[..., :3] = np.rint(np.clip(page, 0, 255)).astype(np.uint8)
    for row, col, text in numbers:
        _number(pixels, row, col, text)


def _numbers(
    line: NDArray[np.bool_], text: str, taken: Sequence[tuple[float, float, str]]
) -> list[tuple[float, float, str]]:
    """Where the pieces of a contour get their number: clear of the edge and of other numbers."""
    pieces, count = label(line, np.ones((3, 3)))
    rows, cols = line.shape
    places: list[tuple[float, float, str]] = []
    for piece in range(1, count + 1):
        at = np.argwhere(pieces == piece)
        inside = at[(at > 20).all(1) & (at[:, 0] < rows - 20) & (at[:, 1] < cols - 20)]
        if len(at) < LEAST_PIECE_PX or not len(inside):
            continue
        others = np.array([(r, c) for r, c, _ in [*taken, *places]]).reshape(-1, 2)
        some = inside[:: max(1, len(inside) // 64)]
        if len(others):
            clear = np.hypot(*(some[:, None] - others[None]).transpose(2, 0, 1)).min(1)
            if clear.max() < 2 * NUMBER_PX:
                continue
            some = some[clear.argmax()][None]
        places.append((float(some[len(some) // 2][0]), float(some[len(some) // 2][1]), text))
    return places


def _number(pixels: Pixels, row: float, col: float, text: str) -> None:
    """A number on a light patch, so that the line does not run through it."""
    half = text_width_px(text, NUMBER_PX, bold=True) / 2 + 3
    top, left = max(int(row - NUMBER_PX / 2), 0), max(int(col - half), 0)
    patch = pixels[top : top + NUMBER_PX, left : int(col + half)]
    patch[:] = np.rint(0.15 * patch + 0.85 * 255).astype(np.uint8)
    draw_text(pixels, (row - NUMBER_PX / 2, col), text, NUMBER_PX, bold=True, anchor="middle")
