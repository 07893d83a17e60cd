"""A storyboard: the moments of a film that matter, numbered, on one sheet."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from render.animation import as_sewn
from render.animation.frames import Growth
from render.compose.lettering import draw_text, wrapped
from render.compose.page import EDGE_PX, WIDTH_PX, badge, paper, side_by_side, stacked, text_strip
from render.errors import UsageError
from render.words import printable

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.animation import Film
    from render.model import Picture, SewPlan, Window

    Pixels = NDArray[np.uint8]

ACROSS, APART_PX, LINE_PX = 3, 30, 28
CELL_MM, HALF_WIDTH_MM = 0.3, 0.2  # of the map on which cover is counted, and of the thread on it
MOST_MOMENTS = 99  # a sheet that can be looked at; each takes about a megabyte, several times over
COMPLETE = 0.998  # cover is complete with this share of what is covered in the end: no gap is seen then


@dataclass(frozen=True, slots=True)
class KeyMoment:
    """A picture of the storyboard: after so many stitches; `clipped` shows the finished piece."""

    title: str
    stitches: int
    clipped: bool = False


def key_moments(film: Film, count: int | None = None) -> tuple[KeyMoment, ...]:
    """The moments to show: cover complete, each colour change and stop, before and after clipping;
    or `count` of them evenly spread over the stitches. Raises UsageError where they are too many."""
    plan, first, last = film.ready.sewn.plan, film.timeline.first, film.timeline.last
    if count is not None:
        at = np.rint(np.linspace(first, last + 1, count + 1)[1:]).astype(int).tolist()
        found = [KeyMoment(f"stitch {n}", n) for n in dict.fromkeys(at)]
    else:
        found = [
            KeyMoment(_ending(plan, block.index), block.last + 1)
            for block in plan.blocks
            if block.ends_with != "end" and first <= block.last < last
        ]
        found.append(KeyMoment("cover complete", min(max(cover_complete(plan), first + 1), last + 1)))
        whole = last == len(plan.start_mm) - 1
        title = "before clipping" if film.clipped else "all sewn" if whole else f"stitch {last + 1}"
        found.append(KeyMoment(title, last + 1))
        found.sort(key=lambda moment: moment.stitches)
    if film.clipped:
        found.append(KeyMoment("after clipping", last + 1, clipped=True))
    if len(found) > MOST_MOMENTS + film.clipped:
        raise UsageError(
            f"a storyboard of {len(found):,} moments is too large to look at: "
            f"show {MOST_MOMENTS} or fewer with --moments"
        )
    return tuple(found)


def _ending(plan: SewPlan, block: int) -> str:
    what = "stop" if plan.blocks[block].ends_with == "stop" else "colour change"
    return f"colour {block + 1} sewn, {what}"


def cover_complete(plan: SewPlan) -> int:
    """After how many stitches nearly all is covered that will be in the end."""
    left, top, right, bottom = plan.box_mm
    cols = int((right - left) / CELL_MM) + 1
    rows = int((bottom - top) / CELL_MM) + 1
    run = plan.end_mm - plan.start_mm
    steps = np.maximum(np.ceil(np.hypot(*run.T) / (0.5 * CELL_MM)).astype(int), 1) + 1
    stitch = np.repeat(np.arange(len(run)), steps)
    step = np.arange(len(stitch)) - np.repeat(np.cumsum(steps) - steps, steps)
    middle = plan.start_mm[stitch] + run[stitch] * (step / (steps[stitch] - 1))[:, None]
    length = np.maximum(np.hypot(*run.T), 1e-9)
    side = (np.stack([-run[:, 1], run[:, 0]], 1) / length[:, None])[stitch] * HALF_WIDTH_MM
    points = np.concatenate([middle - side, middle, middle + side])
    stitch = np.tile(stitch, 3)
    cell = np.floor((points - (left, top)) / CELL_MM).astype(int)
    covered_by = np.full(rows * cols, len(run))
    np.minimum.at(
        covered_by, np.clip(cell[:, 1], 0, rows - 1) * cols + np.clip(cell[:, 0], 0, cols - 1), stitch
    )
    order = np.sort(covered_by[covered_by < len(run)])
    return int(order[min(int(np.ceil(COMPLETE * len(order))), len(order)) - 1]) + 1


def storyboard(film: Film, moments: tuple[KeyMoment, ...]) -> Picture:
    """The sheet: one picture a moment, in order."""
    window = _panel_window(film.window)
    piece = Growth(film.ready, as_sewn(film.job), window)
    total = len(film.ready.sewn.plan.start_mm)
    panels = []
    for number, moment in enumerate(moments, 1):
        if moment.clipped:
            piece = Growth(film.ready, film.job, window)
            pixels = piece.grow(total, cloth=piece.end, slack=0.0)
        else:
            pixels = piece.grow(moment.stitches)
        panels.append(_panel(pixels.copy(), number, moment, film))
    strips = [text_strip([f"{printable(film.name)}: how it is sewn"], 44)]
    for top in range(0, len(panels), ACROSS):
        strips += [side_by_side(panels[top : top + ACROSS], EDGE_PX, APART_PX), paper(APART_PX)]
    return stacked(strips)


def _panel_window(window: Window) -> Window:
    cols = (WIDTH_PX - 2 * EDGE_PX - (ACROSS - 1) * APART_PX) // ACROSS
    scale = cols / window.cols
    return replace(
        window, px_per_mm=window.px_per_mm * scale, rows=max(round(window.rows * scale), 1), cols=cols
    )


def _panel(pixels: Pixels, number: int, moment: KeyMoment, film: Film) -> Pixels:
    badge(pixels, (34, 34), str(number), strong=True)
    rows, cols = pixels.shape[:2]
    times = film.timeline
    machine_s = times.machine_s[min(max(moment.stitches - 1 - times.first, 0), len(times.machine_s) - 1)]
    minutes, seconds = divmod(int(machine_s), 60)
    total = len(film.ready.sewn.plan.start_mm)
    lines = [
        moment.title[:1].upper() + moment.title[1:],
        f"{moment.stitches:,} of {total:,} stitches, {minutes}:{seconds:02d} at the machine",
    ]
    card = paper(rows + 24 + 2 * round(1.4 * LINE_PX), cols)
    card[:rows] = pixels
    for count, line in enumerate(lines):
        shown = wrapped(line, cols, LINE_PX)[0] if count == 0 else line
        draw_text(card, (rows + 12 + count * 1.4 * LINE_PX, 0), shown, LINE_PX - 4 * count, bold=count == 0)
    return card
