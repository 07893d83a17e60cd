"""The customer's logo beside the sewing and over it, with a number at each difference."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.compose.lettering import draw_text
from render.compose.page import EDGE_PX, WIDTH_PX, box_px, callout, paper, side_by_side, text_strip
from render.inspection.artwork_words import artwork_lines
from render.model import Window
from render.preview import draw_sewn

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from render.inspection.artwork import ArtworkMatch
    from render.model import Job
    from render.preview import SewnDesign

    Pixels = NDArray[np.uint8]

APART_PX = 25
MARKED = 12  # differences that get a number in the picture


def artwork_strips(ready: SewnDesign, job: Job, match: ArtworkMatch) -> Iterator[Pixels]:
    """Strips of a page: logo, sewing, and one over the other; then the differences in words."""
    wide = (WIDTH_PX - 2 * EDGE_PX - 2 * APART_PX) // 3
    seen = match.window
    scale = wide / seen.cols
    window = Window(seen.centre_mm, seen.px_per_mm * scale, round(seen.rows * scale), wide)
    (sewing,) = draw_sewn(ready, job, [window])
    logo = _logo_on_white(match.logo, window)
    over = np.rint(0.5 * sewing.pixels + 0.5 * logo).astype(np.uint8)
    taken: list[tuple[float, float]] = []
    marked = sewing.pixels.copy()
    for number, one in enumerate(match.findings[:MARKED], 1):
        callout(marked, box_px((*one.where_mm, *one.where_mm), window), str(number), taken, strong=True)
    head = paper(90)
    draw_text(head, (10, EDGE_PX), "Artwork and sewing", 38, bold=True)
    for at, words in enumerate(("as drawn", "as sewn", "one over the other")):
        draw_text(head, (58, EDGE_PX + at * (wide + APART_PX)), words, 24)
    yield head
    yield side_by_side([logo, marked, over], apart_px=APART_PX)
    yield text_strip(artwork_lines(match, ready.sewn.plan.box_mm), 24)


def _logo_on_white(logo: NDArray[np.float64], window: Window) -> Pixels:
    from PIL import Image

    alpha = logo[..., 3:]
    flat = np.rint((logo[..., :3] * alpha + 1.0 - alpha) * 255).astype(np.uint8)
    image = Image.fromarray(flat).resize((window.cols, window.rows), Image.Resampling.LANCZOS)
    return np.asarray(image)
