"""The same design on several cloths side by side, at one scale."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from render.compose.lettering import draw_text, wrapped
from render.compose.page import EDGE_PX, WIDTH_PX, fitting_window, paper, side_by_side, text_strip
from render.compose.scale_bar import scale_bar
from render.preview import draw_sewn
from render.words import first_up, printable

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import numpy as np
    from numpy.typing import NDArray

    from render.compare import OnCloth

    Pixels = NDArray[np.uint8]

APART_PX = 30
HIGHEST_PX = 1100
MOST_PX_PER_MM = 24.0
MOST_ACROSS = 3
CAPTION_PX = 230
CLEARLY, SOMEWHAT = 0.25, 0.2  # shares of the cloth that ripple clearly, or at all, for its level (estimates)
WORDS = ("From estimates, and calibrated to common practice: a sewn sample on the real cloth decides.",)


def compare_strips(name: str, cloths: Sequence[OnCloth]) -> Iterator[Pixels]:
    """Strips of a page: up to three cloths in a row, each with its numbers under it."""
    across = min(len(cloths), MOST_ACROSS)
    wide = (WIDTH_PX - 2 * EDGE_PX - (across - 1) * APART_PX) // across
    # One window for all, so that one scale holds for all.
    window = fitting_window(
        cloths[0].ready.sewn.plan.box_mm, wide_px=wide, high_px=HIGHEST_PX, most_px_per_mm=MOST_PX_PER_MM
    )
    head = paper(130)
    draw_text(head, (36, EDGE_PX), "The same design on other cloths", 46, bold=True)
    draw_text(head, (92, EDGE_PX), f"{printable(name)}: simulated preview", 26)
    yield head
    for first in range(0, len(cloths), across):
        row = []
        for cloth in cloths[first : first + across]:
            (picture,) = draw_sewn(cloth.ready, cloth.job, [window])
            card = paper(window.rows + CAPTION_PX, wide)
            left = (wide - window.cols) // 2
            card[: window.rows, left : left + window.cols] = picture.pixels
            scale_bar(card[: window.rows, left : left + window.cols], window.px_per_mm)
            _caption(card, window.rows + 14, cloth.figures)
            row.append(card)
        yield side_by_side(row, apart_px=APART_PX)
    yield text_strip(WORDS, 24)


def _caption(card: Pixels, row: float, figures: dict[str, Any]) -> None:
    wide = card.shape[1]
    draw_text(card, (row, 0), figures["title"], 28, bold=True)
    row += 38
    for words in caption_lines(figures):
        for text in wrapped(first_up(words), wide, 22):
            draw_text(card, (row, 0), text, 22)
            row += 26


def caption_lines(figures: dict[str, Any]) -> list[str]:
    """The numbers of one cloth in words."""
    under = "no stabiliser" if figures["stabiliser"] == "none" else f"over {figures['stabiliser']}"
    pull = figures["satin_pull_in_mm"]
    pucker = figures["pucker_share"]
    clearly, at_all = pucker.get("high", 0.0), pucker.get("high", 0.0) + pucker.get("medium", 0.0)
    level = "high" if clearly >= CLEARLY else "medium" if at_all >= SOMEWHAT else "low"
    return [
        f"{under}, {figures['width_mm']:.1f} x {figures['height_mm']:.1f} mm as sewn",
        f"satin pulls in {pull:.2f} mm on average" if pull is not None else "no satin in it",
        f"largest shift of an object {figures['largest_shift_mm']:.2f} mm",
        f"pucker {level}" if pucker else "on cloth that lies still",
        *figures["notes"][:1],
    ]
