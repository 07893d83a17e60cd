"""The frames of a film, one after the other, each made from the one before."""

from __future__ import annotations

import math
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from render.animation import as_sewn
from render.animation.flashing import FlashWatch
from render.animation.overlay import draw_caption, draw_needle
from render.compose import blank, paint
from render.compose.fading import paint_finely, show_between
from render.draw.between import Between
from render.draw.carried import edge_px
from render.draw.fuzz import HAIR
from render.draw.growing import Growing
from render.draw.laid_out import laid_out
from render.draw.layers import prepare
from render.draw.way import Way
from render.materials.fabrics import load_fabric
from render.materials.fibres import load_fibres

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from render.animation import Film
    from render.animation.timeline import Moment
    from render.model import Floats, Job, Layers, Sewn, Window
    from render.preview import SewnDesign

    Pixels = NDArray[np.uint8]
    Part = tuple[int, int, int, int]

CLIP_ROOM_PX = 6


class Growth:
    """The picture of a piece that grows; `pixels (rows, cols, 3)` is what has been drawn so far.

    `shown` is how far on its way the cloth will be when it is grown to, as a rule each stitch; `way` is that
    way, if it is known."""

    def __init__(
        self,
        ready: SewnDesign,
        job: Job,
        window: Window,
        shown: Floats | None = None,
        way: Way | None = None,
    ) -> None:
        sewn, self.window = ready.sewn, window
        threads, lobes = ready.threads, load_fibres(ready.threads)
        laid = laid_out(sewn, threads, job, load_fabric, window.px_per_mm, hairs_of=lobes)
        drawing = prepare(*laid, threads=threads, lobes=lobes, light=job.light, window=window)
        way = Way(sewn, job.seed) if way is None and sewn.rests else way
        pieces = _laid(sewn, job)
        self.drawn = (
            Growing(drawing, None, laid=pieces)
            if way is None
            else Between(drawing, way, laid=pieces, shown=shown)
        )
        self.drawing, self.way, self.end = drawing, way, 0.0 if way is None else way.end
        self.pixels = blank(window, transparent=False)
        self.fine = np.zeros((0 if way is None else 2, *self.pixels.shape), np.uint16)

    def grow(self, stitches: int, *, cloth: float | None = None, slack: float = 1.0) -> Pixels:
        """Draw on until so many stitches are sewn, see `Growing.grow`."""
        if isinstance(self.drawn, Growing):
            self.drawn.grow(stitches, partial(paint, self.pixels), cloth=cloth, slack=slack)
            return self.pixels

        def take(which: int, part: Part, layers: Layers) -> None:
            paint_finely(self.fine[which], part, layers)

        shares = self.drawn.grow(stitches, take, cloth=cloth, slack=slack)
        one, other = self.fine
        apart = show_between(
            one, other, shares, self.drawn.carried.tile_px, edge_px(self.drawing.halo_px), self.pixels
        )
        self.drawn.note_apart(apart)
        return self.pixels

    def loose_px(self) -> list[Part]:
        """Parts of the window that hold a dragged thread or a tail, in the order in which they were sewn."""
        drawing, sub = self.drawing, self.drawing.shading.supersample
        stitch = drawing.strands.stitch
        parts = []
        for one in dict.fromkeys(stitch[stitch < HAIR].tolist()):
            boxes = drawing.boxes[stitch == one] / sub
            left, top = np.maximum(boxes[:, :2].min(0).astype(int) - CLIP_ROOM_PX, 0).tolist()
            right, bottom = (boxes[:, 2:].max(0).astype(int) + CLIP_ROOM_PX).tolist()
            high, wide = min(bottom, self.window.rows) - top, min(right, self.window.cols) - left
            if high > 0 and wide > 0:
                parts.append((top, left, high, wide))
        return parts


def frames_of(film: Film) -> Iterator[Pixels]:
    """Every frame (rows, cols, 3) uint8 sRGB; the array is used again for the next one.

    The last one is the finished still. Raises UsageError where the film would flash.
    """
    watch = FlashWatch(film.order.fps)
    for moment, picture in _pictures(film):
        shown = _overlaid(picture, moment, film)
        watch.see(shown)
        yield shown


def key_pictures(film: Film) -> Iterator[Pixels]:
    """Bare cloth, the piece at some moments and finished: every colour that the film shows."""
    times = film.timeline
    piece = Growth(film.ready, as_sewn(film.job), film.window)
    for share in (0.0, 0.2, 0.4, 0.6, 0.8, 1.0):
        yield piece.grow(times.first + round(share * (times.last + 1 - times.first)))


def _pictures(film: Film) -> Iterator[tuple[Moment, Pixels]]:
    times, total = film.timeline, len(film.ready.sewn.plan.start_mm)
    shown_at = _shown_at(film)
    piece = Growth(film.ready, as_sewn(film.job), film.window, shown_at)
    whole = times.last == total - 1
    finished: Growth | None = None
    loose: list[Part] = []
    clipped = 0
    for frame in range(times.frames):
        moment = times.moment(frame)
        if moment.doing in ("clip", "release", "hold") and whole and finished is None:
            shown = piece.grow(moment.stitches)
            if film.clipped:
                loose = piece.loose_px()
                finished = Growth(film.ready, film.job, film.window, shown_at, piece.way)
                piece.drawn.release()
            else:
                finished = piece
            finished.grow(total, cloth=float(total), slack=0.0)
        if finished is None:
            shown = piece.grow(moment.stitches)
        elif moment.doing == "clip":
            done = math.ceil(moment.share * len(loose))
            for part in loose[clipped:done]:
                piece.pixels[_place(part)] = finished.pixels[_place(part)]
            clipped, shown = done, piece.pixels
        elif moment.doing == "release":
            shown = finished.grow(total, cloth=_released(total, moment))
        else:
            shown = finished.grow(total, cloth=finished.end, slack=0.0)
        yield moment, shown


def _released(total: int, moment: Moment) -> float:
    """How far on its way the cloth is while it comes out of the hoop, after so many stitches."""
    return total + _eased(moment.share)


def _shown_at(film: Film) -> NDArray[np.float64]:
    """How far on its way the cloth is in each frame."""
    times, total = film.timeline, len(film.ready.sewn.plan.start_mm)
    moments = [times.moment(frame) for frame in range(times.frames)]
    return np.array([_released(total, m) if m.doing == "release" else float(m.stitches) for m in moments])


def _overlaid(picture: Pixels, moment: Moment, film: Film) -> Pixels:
    """The picture with caption and needle, where they are asked for; the finished piece stands bare."""
    order, plan = film.order, film.ready.sewn.plan
    if moment.doing == "hold" or not (order.caption or order.needle):
        return picture
    shown = picture.copy()
    if order.needle and moment.doing in ("start", "sew", "jump", "trim", "colour-change", "stop"):
        place, lifted = _needle(moment, film)
        lamps = film.job.light.lamps
        azimuth = math.radians(lamps[0].azimuth_deg if lamps else 225.0)
        draw_needle(shown, place, lifted, film.window, (math.cos(azimuth), math.sin(azimuth)))
    if order.caption:
        draw_caption(shown, moment, plan, tuple(t.colour_srgb for t in film.ready.threads))
    return shown


def _needle(moment: Moment, film: Film) -> tuple[tuple[float, float], float]:
    """Where the needle is, mm, and how far it is lifted; the machine's places, not the cloth's."""
    plan, times, following = film.ready.sewn.plan, film.timeline, moment.stitches
    start, end = plan.start_mm[following], plan.end_mm[following]
    if moment.doing == "sew":
        lasts = float(times.lands_s[following - times.first] - times.begins_s[following - times.first])
        lifted = math.sin(math.pi * moment.share) if lasts * film.order.fps > 3 else 0.0
        at = start + (end - start) * moment.share
    else:
        came = plan.end_mm[following - 1] if following > times.first else start
        at = came + (start - came) * _eased(moment.share)
        lifted = min(1.0, 4 * moment.share, 4 * (1 - moment.share))
    return (float(at[0]), float(at[1])), lifted


def _eased(share: float) -> float:
    return share * share * (3.0 - 2.0 * share)


def _laid(sewn: Sewn, job: Job) -> tuple[int, ...]:
    """After how many stitches each appliqué piece is laid: its placement line is then sewn."""
    blocks = (b for b in sewn.plan.blocks if b.index in job.blocks and job.blocks[b.index].kind == "applique")
    return tuple(block.last + 1 for block in blocks)


def _place(part: Part) -> tuple[slice, slice]:
    top, left, high, wide = part
    return slice(top, top + high), slice(left, left + wide)
