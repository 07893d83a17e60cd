"""Rings, badges and lines over a picture, smooth at their edges.

All take `pixels (rows, cols, 3)` uint8 sRGB and change them in place; places are in pixels,
(row, column), and may lie partly outside.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from render.model import Colour

    Pixels = NDArray[np.uint8]
    Floats = NDArray[np.float64]

WHITE: Colour = (1.0, 1.0, 1.0)
RING_PX = 2.5  # how broad the line of a ring is
HALO_PX = 1.6  # white around a line, so that it is seen on every colour


def ring(pixels: Pixels, box_px: tuple[float, float, float, float], colour_srgb: Colour) -> None:
    """A rounded frame around a box (top, left, bottom, right), clear inside."""
    top, left, bottom, right = box_px
    middle = ((top + bottom) / 2, (left + right) / 2)
    half = ((bottom - top) / 2, (right - left) / 2)
    corner = min(*half, 14.0)

    def distance(row: Floats, col: Floats) -> Floats:
        dy = np.abs(row - middle[0]) - half[0] + corner
        dx = np.abs(col - middle[1]) - half[1] + corner
        outside = np.hypot(np.maximum(dx, 0), np.maximum(dy, 0))
        return np.abs(outside + np.minimum(np.maximum(dx, dy), 0) - corner) - RING_PX / 2

    _paint(pixels, box_px, distance, colour_srgb)


def disc(
    pixels: Pixels,
    centre_px: tuple[float, float],
    radius_px: float,
    colour_srgb: Colour,
    edge_srgb: Colour | None = None,
) -> None:
    """A filled disc, with an edge of another colour where one is given."""
    row, col = centre_px
    box = (row - radius_px, col - radius_px, row + radius_px, col + radius_px)
    _paint(pixels, box, lambda r, c: np.hypot(r - row, c - col) - radius_px, edge_srgb or colour_srgb)
    if edge_srgb is not None:
        _fill(pixels, box, lambda r, c: np.hypot(r - row, c - col) - radius_px + 2.5, colour_srgb)


def line(
    pixels: Pixels,
    start_px: tuple[float, float],
    end_px: tuple[float, float],
    colour_srgb: Colour,
    *,
    width_px: float = 2.0,
) -> None:
    """A straight line with round ends."""
    (r0, c0), (r1, c1) = start_px, end_px
    run = np.array([r1 - r0, c1 - c0])
    length2 = max(float(run @ run), 1e-9)

    def distance(row: Floats, col: Floats) -> Floats:
        along = np.clip(((row - r0) * run[0] + (col - c0) * run[1]) / length2, 0, 1)
        away: Floats = np.hypot(row - r0 - along * run[0], col - c0 - along * run[1])
        return away - width_px / 2

    _paint(pixels, (min(r0, r1), min(c0, c1), max(r0, r1), max(c0, c1)), distance, colour_srgb)


def _paint(
    pixels: Pixels,
    box_px: tuple[float, float, float, float],
    distance: Callable[[Floats, Floats], Floats],
    colour_srgb: Colour,
) -> None:
    """The shape in its colour on a white halo."""
    _fill(pixels, box_px, lambda row, col: distance(row, col) - HALO_PX, WHITE, share=0.85)
    _fill(pixels, box_px, distance, colour_srgb)


def _fill(
    pixels: Pixels,
    box_px: tuple[float, float, float, float],
    distance: Callable[[Floats, Floats], Floats],
    colour_srgb: Colour,
    share: float = 1.0,
) -> None:
    """Colour where `distance` (px, negative inside) says so."""
    room = 8
    rows, cols = pixels.shape[:2]
    top, left = max(int(box_px[0]) - room, 0), max(int(box_px[1]) - room, 0)
    bottom, right = min(int(box_px[2]) + room + 1, rows), min(int(box_px[3]) + room + 1, cols)
    if top >= bottom or left >= right:
        return
    row = np.arange(top, bottom)[:, None] + 0.5
    col = np.arange(left, right)[None, :] + 0.5
    inside = share * np.clip(0.5 - distance(row, col), 0.0, 1.0)[..., None]
    part = pixels[top:bottom, left:right, :3]
    mixed = part + inside * (np.array(colour_srgb) * 255.0 - part)
    pixels[top:bottom, left:right, :3] = np.rint(mixed).astype(np.uint8)
