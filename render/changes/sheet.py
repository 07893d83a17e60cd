"""Old and new side by side at one scale, with a number at each object that was altered."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.changes.account import SHOWN
from render.compose.lettering import draw_text
from render.compose.page import (
    EDGE_PX,
    WIDTH_PX,
    box_px,
    callout,
    fitting_window,
    paper,
    side_by_side,
    text_strip,
)
from render.compose.scale_bar import scale_bar
from render.model import Window
from render.preview import draw_sewn
from render.words import printable

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from render.changes import Changes, ObjectChange
    from render.model import Job
    from render.preview import SewnDesign

    Pixels = NDArray[np.uint8]

APART_PX = 30
HIGHEST_PX = 1200
MOST_PX_PER_MM = 24.0


def sheet_strips(
    pair: tuple[SewnDesign, SewnDesign], job: Job, changes: Changes, values: dict[str, Any], lines: list[str]
) -> Iterator[Pixels]:
    """Strips of a page: both pictures, and the account in `lines`."""
    old, new = (one.sewn.plan.box_mm for one in pair)
    x, y = changes.moved_mm
    old = (old[0] + x, old[1] + y, old[2] + x, old[3] + y)
    both = (min(old[0], new[0]), min(old[1], new[1]), max(old[2], new[2]), max(old[3], new[3]))
    wide = (WIDTH_PX - 2 * EDGE_PX - APART_PX) // 2
    window = fitting_window(both, wide_px=wide, high_px=HIGHEST_PX, most_px_per_mm=MOST_PX_PER_MM)
    head = paper(120)
    draw_text(head, (36, EDGE_PX), "What the revision changed", 46, bold=True)
    draw_text(head, (84, EDGE_PX), f"old: {printable(values['old'])}", 26)
    draw_text(head, (84, EDGE_PX + wide + APART_PX), f"new: {printable(values['new'])}", 26)
    yield head
    back = Window(
        (window.centre_mm[0] - x, window.centre_mm[1] - y), window.px_per_mm, window.rows, window.cols
    )
    pictures = [
        _marked(ready, job, seen, window, changes, newer=newer)
        for ready, seen, newer in ((pair[0], back, False), (pair[1], window, True))
    ]
    yield side_by_side(pictures, apart_px=APART_PX)
    yield text_strip(lines, 24)


def _marked(
    ready: SewnDesign, job: Job, seen: Window, frame: Window, changes: Changes, *, newer: bool
) -> Pixels:
    """One picture; `frame` is the window in the frame of the new design, where changes are told."""
    (picture,) = draw_sewn(ready, job, [seen])
    pixels = picture.pixels.copy()
    taken: list[tuple[float, float]] = []
    for number, one in enumerate(changes.objects[:SHOWN], 1):
        if _there(one, newer=newer):
            place = box_px((*one.where_mm, *one.where_mm), frame)
            callout(pixels, place, str(number), taken, strong=newer)
    scale_bar(pixels, seen.px_per_mm)
    return pixels


def _there(one: ObjectChange, *, newer: bool) -> bool:
    return (one.new if newer else one.old) is not None
