"""Where strands lie while the cloth still moves, and how they are stacked there."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from render.draw.ground import raised_base
from render.draw.layers import strand_boxes
from render.draw.raster import SNAP_PER_PX, to_pixels
from render.draw.shading import of_moved
from render.draw.stack import stack_strands
from render.draw.way import moved_mm

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.layers import Drawing
    from render.draw.way import Way
    from render.model import ClothMove

    Ints = NDArray[np.int64]

RESTACK_STRAIN = 0.01  # threads are stacked anew once the cloth is strained by this more: gaps open and close


class Placed:
    """The strands of a drawing on their way to where they lie in it.

    `now` is the drawing with the strands as they are stacked at the time; `start_mm` and `end_mm` of
    its strands and the places in its pixel strands are those of the last time that each was placed.
    """

    def __init__(self, drawing: Drawing, way: Way | None) -> None:
        self.drawing, self.way, self.now = drawing, way, drawing
        self.start_mm, self.end_mm = drawing.strands.start_mm, drawing.strands.end_mm
        self.stacked_at: ClothMove | None = None  # how the cloth lay when the threads were stacked
        if way is not None:
            anchor = np.array(drawing.strands.anchor_mm)
            self.first_mm = tuple(way.first_places_mm(p + anchor) for p in (self.start_mm, self.end_mm))

    def stack(self, move: ClothMove | None, *, finished: bool) -> bool:
        """Stack the threads anew, where the cloth is strained otherwise than when they were stacked,
        or as they are in the finished drawing. Whether that has changed them."""
        if move is None:
            return False
        if finished:
            changed = self.now is not self.drawing
            self.now, self.stacked_at = self.drawing, move
            self.start_mm, self.end_mm = self.drawing.strands.start_mm, self.drawing.strands.end_mm
            return changed
        if self.stacked_at is not None and _strain_between(move, self.stacked_at) <= RESTACK_STRAIN:
            return False
        final = self.drawing
        anchor = np.array(final.strands.anchor_mm)
        self.start_mm, self.end_mm = (first + moved_mm(move, first) - anchor for first in self.first_mm)
        strands = replace(final.strands, start_mm=self.start_mm.copy(), end_mm=self.end_mm.copy())
        stacked = stack_strands(strands, raised_base(final.ground, strands))
        pixel = to_pixels(strands, stacked, final.window.centre_mm, final.pixel_strands.px_per_mm)
        boxes = strand_boxes(pixel, final.window, final.shading.supersample)
        # Stretched or shortened, a strand has more or fewer samples, and light must find them.
        shading = of_moved(final.shading, strands, pixel)
        self.now = replace(final, stacked=stacked, pixel_strands=pixel, boxes=boxes, shading=shading)
        self.stacked_at = move
        return False

    def place(self, chosen: Ints, move: ClothMove | None) -> None:
        """Put strands where the cloth has them now."""
        if move is None or not len(chosen) or self.now is self.drawing:
            return
        anchor, pixel = np.array(self.drawing.strands.anchor_mm), self.now.pixel_strands
        offset = anchor - np.array(self.drawing.window.centre_mm)
        for first, mm, px in zip(
            self.first_mm, (self.start_mm, self.end_mm), (pixel.start_px, pixel.end_px), strict=True
        ):
            some = first[chosen]
            mm[chosen] = some + moved_mm(move, some) - anchor
            px[chosen] = np.round((mm[chosen] + offset) * pixel.px_per_mm * SNAP_PER_PX) / SNAP_PER_PX
        run = pixel.end_px[chosen] - pixel.start_px[chosen]
        length = np.hypot(*run.T)[:, None]
        pixel.run[chosen] = np.concatenate([run / np.maximum(length, 1e-9), length], 1)

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
        """How far strands may lie from where they were when they were stacked."""
        if move is None or self.stacked_at is None:
            return 0.0
        return float(np.abs(move.u_mm - self.stacked_at.u_mm).max()) * self.drawing.window.px_per_mm


def _strain_between(one: ClothMove, other: ClothMove) -> float:
    """The largest change of length or angle, per mm, from one way that the cloth lies to another."""
    apart = one.u_mm - other.u_mm
    return max(float(np.abs(np.diff(apart, axis=axis)).max()) for axis in (0, 1)) / one.cell_mm
