"""A contact sheet: all pictures small on one page, each with its name."""

from __future__ import annotations

from typing import TYPE_CHECKING

from render.compose.lettering import draw_text
from render.compose.page import EDGE_PX, WIDTH_PX, paper, reduced, side_by_side, stacked

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from render.model import Picture

    Pixels = NDArray[np.uint8]

APART_PX, CAPTION_PX = 26, 54


def contact_sheet(title: str, pictures: Sequence[tuple[str, Pixels]]) -> Picture:
    """Pictures (rows, cols, 3 or 4) with their captions, two to four in a row."""
    across = 2 if len(pictures) <= 4 else 3 if len(pictures) <= 9 else 4
    wide = (WIDTH_PX - 2 * EDGE_PX - (across - 1) * APART_PX) // across
    head = paper(112)
    draw_text(head, (34, EDGE_PX), title, 40, bold=True)
    strips = [head]
    for first in range(0, len(pictures), across):
        cards = []
        for caption, pixels in pictures[first : first + across]:
            small = reduced(pixels, wide)
            card = paper(len(small) + CAPTION_PX, wide)
            card[: len(small)] = small
            draw_text(card, (len(small) + 8, 0), caption, 24)
            cards.append(card)
        strips.append(side_by_side(cards, apart_px=APART_PX))
    foot = paper(70)
    draw_text(foot, (14, EDGE_PX), "Simulated previews, as close as a screen shows cloth and colour.", 22)
    return stacked([*strips, foot])
