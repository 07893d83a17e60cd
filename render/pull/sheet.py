"""The picture of pull and push: what was programmed against what is sewn, and how the cloth moves."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import map_coordinates

from render.compose.contours import draw_contours
from render.compose.lettering import draw_text, text_width_px
from render.compose.page import (
    EDGE_PX,
    WIDTH_PX,
    box_px,
    callout,
    card,
    fitting_window,
    paper,
    picture_strip,
    side_by_side,
    text_strip,
)
from render.compose.scale_bar import scale_bar
from render.model import Window
from render.preview import draw_sewn
from render.pull.account import DOUBT, compensation_words, conditions, most_pulled, place_words, shift_words
from render.pull.outline import GAP, LINE, OUT, draw_outlines
from render.sew.measure import rows_of
from render.words import first_up, printable

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from render.model import ClothMove, Colour, Job
    from render.pull import ObjectPull, Pull

    Pixels = NDArray[np.uint8]
    Floats = NDArray[np.float64]

HIGHEST_PX, MAP_HIGHEST_PX = 1400, 1000  # of the pictures
INSET_PX, INSET_PX_PER_MM = 380, 50.0
CARDS = 6  # objects that are shown from near
STEPS_MM = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)
MOST_LEVELS = 6
TINT: Colour = (0.66, 0.69, 0.72)


def pull_strips(pull: Pull, job: Job, name: str) -> Iterator[Pixels]:
    """Strips of a page: the largest shift, both outlines, the most pulled objects, the cloth's movement."""
    shown = most_pulled(pull)[:CARDS]
    yield _header(pull, job, name)
    yield _legend()
    yield picture_strip(_outlines(pull, job, shown))
    cards = [_card(number, one, pull, job) for number, one in enumerate(shown, 1)]
    for left in range(0, len(cards), 2):
        yield side_by_side(cards[left : left + 2])
    if pull.ready.sewn.cloth is not None:
        title = paper(76)
        draw_text(title, (20, EDGE_PX), "How far the cloth moves under the stitches, mm", 36, bold=True)
        yield title
        yield picture_strip(_map(pull, job, pull.ready.sewn.cloth))
    notes = [*pull.notes, *([] if pull.ready.holding is None else [DOUBT])]
    yield text_strip([first_up(note) for note in notes], 22)


def _header(pull: Pull, job: Job, name: str) -> Pixels:
    most = most_pulled(pull)
    page = paper(176)
    fabric = job.fabric.title
    title = f"{fabric} draws nothing in"
    if most and most[0].pull_in_mm is not None and most[0].pull_in_mm.likely >= 0.005:
        title = f"{fabric} draws objects in by up to {most[0].pull_in_mm.likely:.2f} mm"
    draw_text(page, (36, EDGE_PX), title, 50, bold=True)
    draw_text(page, (100, EDGE_PX), f"{printable(name)} {conditions(pull, job)}: simulated", 28)
    draw_text(page, (136, EDGE_PX), first_up(shift_words(pull)), 28)
    return page


def _legend() -> Pixels:
    """What lines and colours mean, in words beside each."""
    page = paper(64)
    col = float(EDGE_PX)
    for colour, words in (
        (LINE, "programmed outline"),
        (TINT, "thread as sewn"),
        (GAP, "cloth shows where thread was programmed"),
        (OUT, "thread where cloth was programmed"),
    ):
        left = round(col)
        patch = page[20:42, left : left + 40]
        if colour is LINE:
            patch = patch[9:13]
        patch[:] = np.rint(np.array(colour) * 255)
        draw_text(page, (17, col + 50), words, 24)
        col += 50 + text_width_px(words, 24) + 44
    return page


def _outlines(pull: Pull, job: Job, shown: list[ObjectPull]) -> Pixels:
    window = fitting_window(
        pull.ready.sewn.plan.box_mm,
        wide_px=WIDTH_PX - 2 * EDGE_PX,
        high_px=HIGHEST_PX,
        most_px_per_mm=INSET_PX_PER_MM,
    )
    pixels = draw_outlines(pull.ready, job, window)
    taken: list[tuple[float, float]] = []
    for number, one in enumerate(shown, 1):
        callout(
            pixels, box_px((*_edge(one, pull), *_edge(one, pull)), window), str(number), taken, strong=False
        )
    scale_bar(pixels, window.px_per_mm)
    return pixels


def _edge(one: ObjectPull, pull: Pull) -> tuple[float, float]:
    """The programmed end of the object's row that is drawn in furthest, mm."""
    sewn, plan = pull.ready.sewn, pull.ready.sewn.plan
    own = slice(one.part.first, one.part.last + 1)
    start, end = plan.start_mm[own], plan.end_mm[own]
    first = rows_of(start, end, plan.thread_breaks[own])
    last = np.append(first[1:], len(start)) - 1
    tips = np.concatenate([start[first], end[last]])
    moved = np.concatenate([sewn.start_mm[own][first], sewn.end_mm[own][last]]) - tips
    run = np.tile(end[last] - start[first], (2, 1))
    run[len(first) :] *= -1
    inward: Floats = (moved * run).sum(1) / np.maximum(np.hypot(*run.T), 1e-9)
    x, y = tips[inward.argmax()].tolist()
    return x, y


def _card(number: int, one: ObjectPull, pull: Pull, job: Job) -> Pixels:
    """One object's edge from near, and its numbers."""
    inset = draw_outlines(pull.ready, job, Window(_edge(one, pull), INSET_PX_PER_MM, INSET_PX, INSET_PX))
    scale_bar(inset, INSET_PX_PER_MM)
    heading = first_up(one.part.kind.replace("-", " "))
    return card(inset, number, heading, _card_words(one, pull), strong=False)


def _card_words(one: ObjectPull, pull: Pull) -> Iterator[tuple[str, bool]]:
    sewn, pull_in, more = one.sewn_width_mm, one.pull_in_mm, one.compensation_total_mm
    if one.programmed_width_mm is None or sewn is None or pull_in is None or more is None:
        return
    yield f"no {one.part.index + 1}, block {one.part.colour_block + 1}; {place_words(one, pull)}", False
    yield f"programmed {one.programmed_width_mm:.2f} mm wide", False
    yield f"sewn {sewn.likely:.2f} mm wide ({sewn.low:.2f} to {sewn.high:.2f})", False
    yield f"drawn in by {pull_in.likely:.2f} mm ({pull_in.low:.2f} to {pull_in.high:.2f})", False
    if one.shift_mm is not None:
        shift = one.shift_mm
        yield (
            f"shifts against a neighbour by {shift.likely:.2f} mm ({shift.low:.2f} to {shift.high:.2f})",
            False,
        )
    yield f"compensation: {compensation_words(more.likely)}", True


def _map(pull: Pull, job: Job, cloth: ClothMove) -> Pixels:
    """The sewing, faded, under a map of how far the cloth has moved."""
    window = fitting_window(
        pull.ready.sewn.plan.box_mm,
        wide_px=WIDTH_PX - 2 * EDGE_PX,
        high_px=MAP_HIGHEST_PX,
        most_px_per_mm=INSET_PX_PER_MM,
    )
    (picture,) = draw_sewn(pull.ready, job, [window])
    pixels = picture.pixels.copy()
    moved = cloth_movement(cloth, window)
    most = float(moved.max())
    step = next((step for step in STEPS_MM if most / step < MOST_LEVELS), STEPS_MM[-1])
    levels = [round(step * k, 2) for k in range(1, int(most / step) + 1)]
    draw_contours(pixels, moved, levels, tint_at=(0.0, max(most, 1e-9)))
    scale_bar(pixels, window.px_per_mm)
    return pixels


def cloth_movement(cloth: ClothMove, window: Window) -> Floats:
    """How far, mm, the cloth that lay at each pixel (rows, cols) of the window has moved."""
    col = (window.x_mm - cloth.origin_mm[0]) / cloth.cell_mm
    row = (window.y_mm - cloth.origin_mm[1]) / cloth.cell_mm
    places = np.meshgrid(row, col, indexing="ij")
    parts = [map_coordinates(cloth.u_mm[..., k], places, order=1, mode="nearest") for k in (0, 1)]
    distance: Floats = np.hypot(*parts)
    return distance
