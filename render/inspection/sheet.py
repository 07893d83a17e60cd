"""The annotated picture: the piece as sewn with numbered marks, and what each of them means."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from render.compose.lettering import draw_text
from render.compose.page import (
    BADGE_PX,
    EDGE_PX,
    WIDTH_PX,
    badge,
    box_px,
    callout,
    card,
    clear_ring,
    fitting_window,
    paper,
    picture_strip,
    side_by_side,
    text_strip,
)
from render.compose.scale_bar import scale_bar
from render.inspection.account import order_line, production_line
from render.inspection.artwork_sheet import artwork_strips
from render.inspection.maps import map_strips
from render.model import Window
from render.preview import draw_sewn
from render.words import first_up, printable

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import numpy as np
    from numpy.typing import NDArray

    from render.inspection import Report
    from render.inspection.maps import MapName
    from render.model import Job, Problem
    from render.preview import SewnDesign

    Pixels = NDArray[np.uint8]
    Numbered = Sequence[tuple[int, Problem]]

HIGHEST_PX = 1500  # of the picture
INSET_PX, INSET_PX_PER_MM = 380, 30.0
LARGEST_RING = 0.15  # of the picture's longer side
CARDS = 12  # problems that get an inset
_WORDS = {"fix": "to mend", "check": "to look at", "note": "for the record"}


def report_strips(report: Report, job: Job, maps: Sequence[MapName] = ()) -> Iterator[Pixels]:
    """Strips of a page from the verdict down to the cautions."""
    ready, problems, values = report.ready, report.found.problems, report.account
    shown = worth_a_mark(problems)
    yield _header(values, len(problems) - len(shown))
    yield picture_strip(marked_picture(ready, job, shown))
    cards = [
        _card(number, one, inset, values["problems"][number - 1]["where"])
        for (number, one), inset in zip(shown, insets_of(ready, job, shown[:CARDS]), strict=False)
    ]
    for left in range(0, len(cards), 2):
        yield side_by_side(cards[left : left + 2])
    if len(shown) > CARDS:
        yield text_strip(_rest(shown[CARDS:], values), 22)
    if report.artwork is not None:
        yield from artwork_strips(ready, job, report.artwork)
    yield from map_strips(ready, report.piece, job, maps)
    order = [first_up(order_line(values["order"]))] if "order" in values else []
    yield text_strip([first_up(production_line(values["production"])), *order, *values["cautions"]], 24)


def worth_a_mark(problems: Sequence[Problem]) -> Numbered:
    """Problems with the numbers they have in the account; the mildest only where nothing else is."""
    numbered = list(enumerate(problems, 1))
    return [(number, one) for number, one in numbered if one.severity != "note"] or numbered


def _header(values: dict[str, Any], mild: int) -> Pixels:
    page = paper(190)
    draw_text(page, (40, EDGE_PX), first_up(values["verdict"]), 50, bold=True)
    name = f"{printable(values['name'])}, sewn on {values['fabric']}: simulated preview"
    draw_text(page, (104, EDGE_PX), name, 30)
    col = float(EDGE_PX + BADGE_PX)
    for strong, words in ((True, "must be mended"), (False, "look at it on a sewn sample")):
        badge(page, (160, col), "", strong=strong)
        draw_text(page, (148, col + 30), words, 26)
        col += 420
    if mild:
        words = f"{mild} milder remarks are in the list"
        draw_text(page, (148, WIDTH_PX - EDGE_PX), words, 26, anchor="right")
    return page


def marked_picture(ready: SewnDesign, job: Job, shown: Numbered) -> Pixels:
    """The piece with a ring around each problem and its number outside the ring."""
    window = fitting_window(
        ready.sewn.plan.box_mm,
        wide_px=WIDTH_PX - 2 * EDGE_PX,
        high_px=HIGHEST_PX,
        most_px_per_mm=INSET_PX_PER_MM,
    )
    (picture,) = draw_sewn(ready, job, [window])
    pixels = picture.pixels.copy()
    taken: list[tuple[float, float]] = []
    for number, one in reversed(shown):
        left, top, right, bottom = one.box_mm
        large = LARGEST_RING * max(window.rows, window.cols) / window.px_per_mm
        # Large rings only confuse: then the point in the problem is marked.
        box = one.box_mm if max(right - left, bottom - top) <= large else (*one.where_mm, *one.where_mm)
        callout(pixels, box_px(box, window), str(number), taken, strong=one.severity == "fix")
    scale_bar(pixels, window.px_per_mm)
    return pixels


def insets_of(ready: SewnDesign, job: Job, shown: Numbered) -> Iterator[Pixels]:
    """Each problem from near, with a ring where it fits in; all at one scale."""
    if not shown:
        return
    windows = [Window(one.where_mm, INSET_PX_PER_MM, INSET_PX, INSET_PX) for _, one in shown]
    for (_, one), window, picture in zip(shown, windows, draw_sewn(ready, job, windows), strict=True):
        pixels = picture.pixels.copy()
        box = box_px(one.box_mm, window)
        if min(box) > 20 and max(box) < INSET_PX - 20:
            clear_ring(pixels, box, strong=one.severity == "fix")
        scale_bar(pixels, INSET_PX_PER_MM)
        yield pixels


def _card(number: int, one: Problem, inset: Pixels, where: str) -> Pixels:
    size = "" if one.size_mm is None else f", {one.size_mm:.2g} mm"
    about = f"{_WORDS[one.severity]}; {where}, block {one.colour_block + 1}"
    words = ((about, False), (one.cause, False), (one.remedy, True))
    heading = f"{first_up(one.kind.replace('-', ' '))}{size}"
    return card(inset, number, heading, words, strong=one.severity == "fix")


def _rest(shown: Numbered, values: dict[str, Any]) -> Iterator[str]:
    """What got no inset, a line each."""
    for number, one in shown:
        where = values["problems"][number - 1]["where"]
        yield f"{number}  {one.kind.replace('-', ' ')}, {where}: {one.remedy}"
