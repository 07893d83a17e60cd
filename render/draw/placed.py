"""Where strands lie while the cloth still moves."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from render.draw.cords import snap
from render.draw.crowd import LONG, crowd_of
from render.draw.frames import strand_boxes
from render.draw.fuzz import HAIR
from render.draw.pixel_strands import SNAP_PER_PX
from render.draw.profile import press_profile
from render.draw.section import set_sections
from render.draw.strand_numbers import note_runs
from render.draw.unmoved import moved_mm

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.layers import Drawing
    from render.draw.way import Way
    from render.model import ClothMove

    Ints = NDArray[np.int64]

FAR_PX = 2.0  # strands carried on further are looked for in other places


class Placed:
    """The strands of a drawing on their way to where they lie in it.

    What lies on what is settled from the first, as the needle lays it. `now` is the drawing with each
    strand where it was last placed; `start_mm` and `end_mm` are its ends there, `section_mm` (M, 3) how
    its neighbours press it there.
    """

    def __init__(self, drawing: Drawing, way: Way | None) -> None:
        self.drawing, self.way, self.now = drawing, way, drawing
        self.start_mm, self.end_mm = drawing.strands.start_mm, drawing.strands.end_mm
        self.section_mm = drawing.stacked.section_mm
        self._boxes_at: ClothMove | None = None  # how the cloth lay when the boxes of `now` were made
        if way is None:
            return
        self.start_mm, self.end_mm = self.start_mm.copy(), self.end_mm.copy()
        anchor, pixel = np.array(drawing.strands.anchor_mm), drawing.pixel_strands
        unmoved = drawing.strands.unmoved()
        self.first_mm = (unmoved.start_mm + anchor, unmoved.end_mm + anchor)
        # The cloth carries a stitch as it does its hole, from whose middle the thread lies a little off; what
        # is no stitch it carries where that lies.
        sewn = drawing.strands.stitch >= 0
        self.ridden_mm = tuple(
            np.where(sewn[:, None], laid[np.maximum(drawing.strands.stitch, 0)], first)
            for laid, first in zip(way.laid_mm, self.first_mm, strict=True)
        )
        self.crowd = crowd_of(unmoved, drawing.stacked.first)
        self.section_mm = drawing.stacked.section_mm.copy()
        pixel = replace(
            pixel,
            start_px=pixel.start_px.copy(),
            end_px=pixel.end_px.copy(),
            run=pixel.run.copy(),
            half_width_px=pixel.half_width_px.copy(),
            profile=pixel.profile.copy(),
        )
        shading = drawing.shading
        shading = replace(shading, numbers=shading.numbers.copy(), wholes=shading.wholes.copy())
        self.now = replace(drawing, pixel_strands=pixel, shading=shading)

    def follow(self, move: ClothMove | None, *, finished: bool) -> bool:
        """Keep track of roughly where strands lie; once all is finished they lie as in the drawing.
        Whether that has moved them there."""
        if move is None:
            return False
        if finished:
            changed = self.now is not self.drawing
            self.now, self._boxes_at = self.drawing, move
            self.start_mm, self.end_mm = self.drawing.strands.start_mm, self.drawing.strands.end_mm
            self.section_mm = self.drawing.stacked.section_mm
            return changed
        if self._boxes_at is None or self.drift_px(move) > FAR_PX:
            every = np.arange(len(self.first_mm[0]))
            start, end = (self._in_pixels(self._lie_mm(which, every, move)) for which in (0, 1))
            moved = replace(self.now.pixel_strands, start_px=start, end_px=end)
            boxes = strand_boxes(moved, self.drawing.window, self.drawing.shading.supersample)
            self.now, self._boxes_at = replace(self.now, boxes=boxes), move
        return False

    def place(self, chosen: Ints, move: ClothMove | None) -> None:
        """Put strands where the cloth has them now."""
        if move is None or not len(chosen) or self.now is self.drawing:
            return
        anchor, pixel = np.array(self.drawing.strands.anchor_mm), self.now.pixel_strands
        for which, mm, px in (0, self.start_mm, pixel.start_px), (1, self.end_mm, pixel.end_px):
            places = self._lie_mm(which, chosen, move)
            mm[chosen], px[chosen] = places - anchor, self._in_pixels(places)
        run = pixel.end_px[chosen] - pixel.start_px[chosen]
        length = np.hypot(*run.T)[:, None]
        pixel.run[chosen] = np.concatenate([run / np.maximum(length, 1e-9), length], 1)
        note_runs(self.now.shading, pixel, chosen)
        set_sections(self.crowd, chosen, self.start_mm, self.end_mm, self.section_mm)
        press_profile(
            chosen,
            pixel.first,
            self.section_mm,
            self.crowd.ends[:, LONG],
            pixel.px_per_mm,
            pixel.profile,
            pixel.half_width_px,
        )

    def boxes_px(self, chosen: Ints) -> NDArray[np.float64]:
        """Boxes (N, 4) of strands where they lie now: left, top, right, bottom, pixels of the window."""
        if not len(chosen):
            return np.zeros((0, 4))
        some = self.now.pixel_strands
        placed = replace(
            some,
            start_px=some.start_px[chosen],
            end_px=some.end_px[chosen],
            half_width_px=some.half_width_px[chosen],
        )
        sub = self.drawing.shading.supersample
        return strand_boxes(placed, self.drawing.window, sub) / sub

    def drift_px(self, move: ClothMove | None) -> float:
        """How far strands may lie from the boxes of `now`."""
        if move is None or self._boxes_at is None:
            return 0.0
        return float(np.abs(move.u_mm - self._boxes_at.u_mm).max()) * self.drawing.window.px_per_mm

    def _lie_mm(self, which: int, chosen: Ints, move: ClothMove) -> NDArray[np.float64]:
        """Where starts (0) or ends (1) of strands lie in design space."""
        ridden = self.ridden_mm[which][chosen]
        return np.asarray(self.first_mm[which][chosen] + snap(moved_mm(move, ridden)))

    def _in_pixels(self, places_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Places (N, 2) in design space in the frame of the pixel strands."""
        scale, middle = self.now.pixel_strands.px_per_mm, np.array(self.drawing.window.centre_mm)
        return np.asarray(np.round((places_mm - middle) * scale * SNAP_PER_PX) / SNAP_PER_PX)


def lands_with(stitch: NDArray[np.integer[Any]]) -> NDArray[np.float64]:
    """With which stitch each strand lands: dragged thread with the one after it, a tail with the one it
    stands at, a hair with its thread."""
    lands = np.where(stitch >= 0, stitch, -2.5 - stitch)
    owner = np.where(stitch == HAIR, 0, np.arange(len(stitch)))
    return np.asarray(lands[np.maximum.accumulate(owner)])
