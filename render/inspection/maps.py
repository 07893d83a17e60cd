"""Maps over the sewn piece: one quantity in tints of a single hue, with numbered contours."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy.ndimage import gaussian_filter, map_coordinates

from render.compose.contours import draw_contours
from render.compose.lettering import draw_text
from render.compose.page import EDGE_PX, WIDTH_PX, fitting_window, paper, picture_strip
from render.compose.scale_bar import scale_bar
from render.inspect.crowding import CELL_MM, layers_map
from render.preview import draw_sewn

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from render.inspect import Piece
    from render.model import Floats, Job, Window
    from render.preview import SewnDesign

    Pixels = NDArray[np.uint8]

MapName = Literal["cover", "crowding", "displacement", "pucker", "order"]
TITLES: dict[MapName, str] = {
    "cover": "How much of the cloth thread covers, % of a square millimetre",
    "crowding": "Threads on top of each other, mean over a square millimetre",
    "displacement": "How far the cloth has moved, mm",
    "pucker": "How the cloth is pressed together: 1 somewhat, 2 clearly",
    "order": "Sewn by then, % of the stitches",
}
LEVELS: dict[MapName, tuple[float, ...]] = {
    "cover": (20, 50, 80, 95),
    "crowding": (1, 2, 4, 6, 8, 10, 14),
    "displacement": (0.1, 0.2, 0.4, 0.6, 0.8, 1.0, 1.5, 2.0),
    "pucker": (0.5, 1.5),
    "order": (10, 25, 50, 75, 90),
}
HIGHEST_PX = 900
COVER_MM = 0.5  # what cover is averaged over, to each side
ORDER_MM = 0.6


def map_strips(ready: SewnDesign, piece: Piece, job: Job, names: Sequence[MapName]) -> Iterator[Pixels]:
    """A heading and a map each."""
    window = fitting_window(
        piece.plan.box_mm, wide_px=WIDTH_PX - 2 * EDGE_PX, high_px=HIGHEST_PX, most_px_per_mm=20.0
    )
    (picture,) = draw_sewn(ready, job, [window])
    for name in names:
        pixels = picture.pixels.copy()
        values, levels = field_of(piece, name, window), LEVELS[name]
        full = min(float(levels[-1]), max(float(values.max()), float(levels[0])))
        draw_contours(pixels, values, levels, tint_at=(0.0, full))
        scale_bar(pixels, window.px_per_mm)
        head = paper(60)
        draw_text(head, (16, EDGE_PX), TITLES[name], 32, bold=True)
        yield head
        yield picture_strip(pixels)


def field_of(piece: Piece, name: MapName, window: Window) -> Floats:
    """The quantity (rows, cols) at the window's pixels; nothing where it is not defined."""
    if name == "crowding":
        layers, (x0, y0) = layers_map(piece)
        return _sampled(layers, (x0, y0), CELL_MM, window)
    if name in ("displacement", "pucker"):
        cloth = piece.sewn.cloth
        if cloth is None:
            return np.zeros((window.rows, window.cols))
        values = (
            np.hypot(*np.moveaxis(cloth.u_mm, 2, 0)) if name == "displacement" else cloth.pucker.astype(float)
        )
        return _sampled(values, cloth.origin_mm, cloth.cell_mm, window)
    cover = piece.sewn_cover
    sewn = (cover.stitch >= 0).astype(np.float32)
    px_per_mm = cover.window.px_per_mm
    if name == "cover":
        values = 100.0 * gaussian_filter(sewn, COVER_MM * px_per_mm)
    else:
        share = 100.0 * np.maximum(cover.stitch, 0) / len(piece.plan.start_mm)
        # Averaged over the sewn part only, so that it does not fall off towards the edge.
        weight = gaussian_filter(sewn, ORDER_MM * px_per_mm)
        values = (
            gaussian_filter(share * sewn, ORDER_MM * px_per_mm) / np.maximum(weight, 1e-3) * (weight > 0.3)
        )
    return _sampled(values, cover.window.middle_mm(0, 0), 1.0 / px_per_mm, window)


def _sampled(values: Floats, origin_mm: tuple[float, float], cell_mm: float, window: Window) -> Floats:
    """Values on an even grid, between its points, at the pixels of a window."""
    row, col = (window.y_mm - origin_mm[1]) / cell_mm, (window.x_mm - origin_mm[0]) / cell_mm
    at = np.meshgrid(row, col, indexing="ij")
    found: Floats = map_coordinates(np.asarray(values, np.float64), at, order=1, mode="constant", cval=0.0)
    return found
