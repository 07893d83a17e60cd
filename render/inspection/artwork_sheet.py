"""The customer's logo beside the sewing and over it, with a number at each difference."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.colour import colour_words, hex_colour
from render.compose.lettering import draw_text
from render.compose.page import EDGE_PX, WIDTH_PX, box_px, callout, paper, side_by_side, text_strip
from render.model import Window
from render.preview import draw_sewn
from render.words import seen_from_middle

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from render.inspection.artwork import ArtworkFinding, ArtworkMatch
    from render.model import Job
    from render.preview import SewnDesign

    Pixels = NDArray[np.uint8]
    Box = tuple[float, float, float, float]

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


def artwork_lines(match: ArtworkMatch, box_mm: Box) -> list[str]:
    """The differences, a line each; `box_mm` is that of the design."""
    if match.overlap == 0 or not match.findings:
        return [_verdict(match)]
    return [
        _verdict(match),
        *(f"{number}  {_line(one, box_mm)}" for number, one in enumerate(match.findings, 1)),
    ]


def _verdict(match: ArtworkMatch) -> str:
    from render.inspection.artwork import LEAST_OVERLAP

    if match.overlap < LEAST_OVERLAP:
        return "the artwork does not lie on this sewing: it looks like another design, or is turned"
    if not match.findings:
        return f"the artwork and the sewing agree ({100 * match.overlap:.0f} % of their area is shared)"
    return f"of the artwork, {len(match.findings)} areas are not as drawn"


def _line(one: ArtworkFinding, box_mm: Box) -> str:
    colour = f"{colour_words(one.logo_srgb)} ({hex_colour(one.logo_srgb)})"
    where = seen_from_middle(one.where_mm, box_mm)
    return f"{one.what.replace('-', ' ')}: {colour} area of {one.size_mm:.1f} mm, {where}: {one.words}"


def _logo_on_white(logo: NDArray[np.float64], window: Window) -> Pixels:
    from PIL import Image

    alpha = logo[..., 3:]
    flat = np.rint((logo[..., :3] * alpha + 1.0 - alpha) * 255).astype(np.uint8)
    image = Image.fromarray(flat).resize((window.cols, window.rows), Image.Resampling.LANCZOS)
    return np.asarray(image)
