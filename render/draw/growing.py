"""A window in which stitches land: what is drawn stays, and only what changes is drawn again.

The buffers of the topmost thread, the cloth and how deep it is pressed cover the whole window. A
stitch is drawn into them once; where the cloth has carried it on since, its tile is drawn anew. Light is
worked out again where thread, shadow or cloth have changed. On moving cloth two pictures are drawn, one as
the cloth lay and one as it will lie, and what is shown lies between: see `Carried`.
"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from render.draw.carried import MOST_TILES, Due, edge_px, tile_px, tiles_over
from render.draw.cloth import ClothLayer
from render.draw.ground import lay_ground
from render.draw.layers import Bed, light_part
from render.draw.patches import cheapest, keep_holding, mark_boxes, rectangles
from render.draw.placed import Placed, lands_with
from render.draw.pressed import Pressed
from render.draw.pucker import held_down
from render.draw.raster import Buffers, empty_buffers, raster_onto, rasterise
from render.draw.shadow import cloth_wanted

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.aside import Aside
    from render.draw.layers import Drawing
    from render.draw.patches import Rect
    from render.draw.pucker import Pucker
    from render.draw.tiles import Take
    from render.draw.way import Way
    from render.model import ClothMove, Layers

    Part = tuple[int, int, int, int]
    Ints = NDArray[np.int64]

LEVEL = np.zeros((1, 1), np.float32)  # cloth that nothing presses down: it will be pressed later
LIT_TILE_PX = 16
OWN_TILES = 12.0  # lighting a part takes as long as so many tiles more than it has (measured)
NOTHING_DUE = Due([], [])


class Growing:
    """A drawing from which the stitches are taken out and in which they land again, one by one.

    `way` is how the cloth moves meanwhile, None where it lies still: where it moves `Between` says what to
    draw again. Appliqué piece p is laid after `laid[p]` stitches.
    """

    def __init__(
        self, drawing: Drawing, way: Way | None, *, laid: tuple[int, ...] = (), workers: int | None = None
    ) -> None:
        window, strands = drawing.window, drawing.strands
        self.drawing, self.way, self.laid = drawing, way, laid
        self.sub, self.halo = drawing.shading.supersample, drawing.halo_px
        rows, cols = window.rows + 2 * self.halo, window.cols + 2 * self.halo
        self.lands = lands_with(strands.stitch)
        self.total = int(strands.stitch.max(initial=-1)) + 1
        self.stitches, self.count, self.pieces = 0, 0, -1
        self.finished, self.exact = False, True
        self.thread = empty_buffers(rows * self.sub, cols * self.sub, places=False)
        self.cloth = ClothLayer(np.zeros((rows, cols, 3), np.float32), np.zeros((rows, cols), np.float32))
        self.wanted = np.ones((rows, cols), bool)
        self.placed = Placed(drawing, way)
        self.pressed = Pressed(strands, drawing.stacked)
        self.tile_px = tile_px(window)
        self.whole = np.ones(tiles_over(window, self.halo), bool)
        self.bare = np.ones(self.whole.shape)  # what share of each tile shows cloth, as it was drawn last
        self.unlit = np.ones([-(-side // LIT_TILE_PX) for side in (window.rows, window.cols)], bool)
        # Left, top, right, bottom of what a pixel may change: taps, in blocks of two by two sub-pixels,
        # point to what shades them, and thread hides what begins under it of fibres that lie over other.
        taps = np.concatenate([drawing.shading.shadow_taps, drawing.shading.sky_taps])[:, ::-1]
        shades_px = np.concatenate([taps.max(0), -taps.min(0)]) * 2 / self.sub
        stray_px = 0.0 if drawing.ground.stray is None else drawing.ground.stray.reach_mm * window.px_per_mm
        self.shades_px = (np.maximum(shades_px, stray_px) + 1) * [-1, -1, 1, 1]
        # The window's middle, twice as boxes have it: from its corner, and in local mm.
        self.middle_px = np.tile([window.cols / 2, window.rows / 2], 2)
        self.offset_mm = np.tile(np.array(window.centre_mm) - np.array(strands.anchor_mm), 2)
        self.pool = ThreadPoolExecutor(workers or os.cpu_count() or 1)

    def grow(
        self,
        stitches: int,
        take: Take,
        *,
        cloth: float | None = None,
        slack: float = 1.0,
        due: Due = NOTHING_DUE,
    ) -> None:
        """Let stitches land until there are so many, and let each part of the window that looks otherwise now
        be taken, by any worker and in any order.

        `cloth` is how far on its way the cloth is, as a rule as far as the stitches; what is `due` is drawn
        again. With `slack` 0 no light is left as it was where it should be otherwise, by however little.
        Raises ValueError for fewer stitches than before.
        """
        if stitches < self.stitches:
            raise ValueError(f"{self.stitches} stitches are sewn, and {stitches} would be fewer")
        at = float(stitches) if cloth is None else cloth
        move = None if self.way is None else self.way.move(at)
        before, self.count, self.stitches = self.count, self._landed(stitches), stitches
        at_end = self.count == len(self.lands) and (self.way is None or at >= self.way.end)
        self.finished = at_end and slack == 0.0
        changed = self.placed.follow(move, finished=self.finished)
        new = np.arange(before, self.count)
        self.placed.place(new, move)
        # Before anything is drawn again, which is with them.
        self._land(new)
        drawn = self._to_draw(at, due, changed=changed)
        parts = [self._part(rect, self.tile_px, -edge_px(self.halo)) for rect, _ in drawn]
        moves = [None if self.way is None else self.way.move(then) for _, then in drawn]
        within = [
            self._strands_in(part, self.placed.drift_px(then))
            for part, then in zip(parts, moves, strict=True)
        ]
        # All are placed before any is drawn: they press each other.
        for chosen, then in zip(within, moves, strict=True):
            self.placed.place(chosen, then)
        asides = {then: self._aside(then) for _, then in drawn}
        list(self.pool.map(self._redraw, parts, within, moves, (asides[then] for _, then in drawn)))
        for rect, _ in drawn:
            self._note_bare(rect)
        rippled = [self._part(rect, self.tile_px, -edge_px(self.halo)) for rect in due.rippled]
        self._note_unlit(new, parts, rippled, slack)
        # What has been drawn again is lit as it was drawn: cut up anew, each piece would have its halo.
        seen = [(self._in_window(part), then) for part, (_, then) in zip(parts, drawn, strict=True)]
        lit = [(part, then) for part, then in seen if part is not None]
        for part, _ in lit:
            self.unlit[self._lit_tiles(part)] = False
        lit += [(self._part(rect, LIT_TILE_PX, 0), at) for rect in cheapest(self.unlit, OWN_TILES)]
        self.unlit[:] = False
        list(self.pool.map(lambda one: take(one[0], self._light(*one)), lit))

    def release(self) -> None:
        """Let go of the buffers, when nothing more is drawn."""
        self.thread = empty_buffers(0, 0)

    def _landed(self, stitches: int) -> int:
        """How many strands lie there after so many stitches."""
        if stitches >= self.total:
            return len(self.lands)
        return int(np.searchsorted(self.lands, stitches - 0.75))

    def _to_draw(self, at: float, due: Due, *, changed: bool) -> list[tuple[Rect, float]]:
        """What is due, or all: where what lies there has `changed`, and on still cloth at first and whenever
        a piece has been laid on it."""
        pieces = sum(stitch <= self.stitches for stitch in self.laid)
        laid, self.pieces = pieces != self.pieces, pieces
        if changed or (laid and self.way is None):
            return [(rect, at) for rect in rectangles(self.whole, most=MOST_TILES)]
        return due.drawn

    def _strands_in(self, part: Part, drift_px: float) -> Ints:
        """Strands so far that may lie in a part."""
        top, left, high, wide = part
        boxes, sub, reach = self.placed.now.boxes[: self.count], self.sub, drift_px * self.sub
        hit = (boxes[:, 0] < (left + wide) * sub + reach) & (boxes[:, 2] > left * sub - reach)
        hit &= (boxes[:, 1] < (top + high) * sub + reach) & (boxes[:, 3] > top * sub - reach)
        return np.flatnonzero(hit)

    def _redraw(self, part: Part, chosen: Ints, move: ClothMove | None, aside: tuple[Aside, ...]) -> None:
        """Lay the thread so far of a part as it lies then, and the cloth that it leaves to be seen."""
        top, left, high, wide = part
        now, sub = self.placed.now, self.sub
        rect = (top * sub, left * sub, high * sub, wide * sub)
        drawn = rasterise(now.pixel_strands, chosen, rect, self._shape, places=False)
        place, fine = self._place_of(part), self._place_of(part, sub)
        self.thread.height_mm[fine], self.thread.strand[fine] = drawn.height_mm, drawn.strand
        wanted = cloth_wanted(drawn.height_mm, now.highest_mm, sub, LEVEL, np.zeros(3))
        ground = replace(now.ground, move=move, aside=aside, pieces=now.ground.pieces[: self.pieces])
        laid = lay_ground(ground, now.window, part, wanted)
        self.wanted[place] = wanted
        self.cloth.radiance_linear[place], self.cloth.height_mm[place] = laid.radiance_linear, laid.height_mm
        self._press(chosen, self._box_mm(part))

    def _aside(self, then: float) -> tuple[Aside, ...]:
        """How yarns lie then."""
        return self.drawing.ground.aside if self.way is None else self.way.aside(then)

    def _land(self, new: Ints) -> None:
        now, corner = self.placed.now, (-self.halo * self.sub, -self.halo * self.sub)
        raster_onto(self.thread, now.pixel_strands, new, corner, self._shape)
        self._press(new)

    def _note_bare(self, rect: Rect) -> None:
        """Take note of what share of each tile shows cloth: of each so many sub-pixels one."""
        for row, col in product(range(rect[0], rect[2]), range(rect[1], rect[3])):
            tile = self._part((row, col, row + 1, col + 1), self.tile_px, -edge_px(self.halo))
            self.bare[row, col] = (self.thread.strand[self._place_of(tile, self.sub)][::5, ::5] < 0).mean()

    def _press(self, chosen: Ints, box_mm: NDArray[np.float64] | None = None) -> None:
        placed = self.placed
        self.pressed.add(chosen, placed.section_mm, placed.start_mm, placed.end_mm, box_mm)

    def _note_unlit(self, new: Ints, parts: list[Part], rippled: list[Part], slack: float) -> None:
        """Mark what new thread and redrawn parts may look otherwise, and cloth pressed or rippled."""
        if slack == 0.0 and not self.exact:
            self.unlit[:] = True
        self.exact = slack == 0.0
        boxes = self.placed.boxes_px(new)
        again, ripples = (
            np.array([[p[1], p[0], p[1] + p[3] - 1, p[0] + p[2] - 1] for p in some], float).reshape(-1, 4)
            for some in (parts, rippled)
        )
        self.pressed.note_changes(self._to_mm(np.concatenate([boxes, again])))
        if self.finished:
            self.pressed.finish()
        else:
            self.pressed.settle()
        # Thread that the cloth has carried by less than seen shades what it did.
        wider = self.shades_px if slack == 0.0 else np.zeros(4)
        pressed = self._to_px(self.pressed.unlit_mm(slack))
        self.unlit |= self._touched(boxes + self.shades_px) | self._touched(again + wider)
        on_cloth = np.concatenate([pressed, ripples])
        if len(on_cloth):
            touched = self._touched(on_cloth + wider)
            # Only where thread may leave cloth to be seen.
            inside = slice(self.halo, -self.halo)
            keep_holding(touched, self.wanted[inside, inside], LIT_TILE_PX)
            self.unlit |= touched

    def _touched(self, boxes_px: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Tiles to be lit that boxes touch."""
        marked = np.zeros_like(self.unlit)
        mark_boxes(marked, boxes_px, LIT_TILE_PX)
        return marked

    def _light(self, part: Part, at: float) -> Layers:
        top, left, high, wide = part
        around = (top - self.halo, left - self.halo, high + 2 * self.halo, wide + 2 * self.halo)
        place, fine = self._place_of(around), self._place_of(around, self.sub)
        # Copies, for thread that the cloth hides is taken out of them.
        height, strand = self.thread.height_mm[fine].copy(), self.thread.strand[fine].copy()
        buffers = Buffers(height, strand, self.thread.along, self.thread.across)
        laid = ClothLayer(self.cloth.radiance_linear[place].copy(), self.cloth.height_mm[place].copy())
        maps = self.pressed.dimple_mm, self.pressed.thread_mm
        bed = Bed(laid, *maps, self._ridges(part, at), self.wanted[place].copy())
        layers = light_part(self.placed.now, part, buffers, bed)
        self.pressed.lit(self._box_mm(part))
        return layers

    def _ridges(self, part: Part, at: float) -> Pucker | None:
        if self.way is None or self.finished:
            return self.drawing.ridges
        anchor = self.drawing.strands.anchor_mm
        ridges = self.way.ridges(at, self._box_mm(part) + np.tile(anchor, 2))
        return None if ridges is None else held_down(ridges, self.pressed.dimple_mm, anchor)

    @property
    def _shape(self) -> tuple[int, int]:
        return self.drawing.window.rows * self.sub, self.drawing.window.cols * self.sub

    def _part(self, rect: Part, tile_px: int, first_px: int) -> Part:
        """The pixels of a rectangle (top, left, bottom, right) of tiles, as far as there are any."""
        window, beyond = self.drawing.window, self.halo if first_px else 0
        top, left = (max(side * tile_px + first_px, -beyond) for side in rect[:2])
        bottom, right = (side * tile_px + first_px for side in rect[2:])
        bottom, right = min(bottom, window.rows + beyond), min(right, window.cols + beyond)
        return top, left, bottom - top, right - left

    def _in_window(self, part: Part) -> Part | None:
        """What of a part lies in the window; None where nothing does."""
        window, (top, left, high, wide) = self.drawing.window, part
        first_row, first_col = max(top, 0), max(left, 0)
        rows, cols = min(top + high, window.rows) - first_row, min(left + wide, window.cols) - first_col
        return (first_row, first_col, rows, cols) if rows > 0 and cols > 0 else None

    @staticmethod
    def _lit_tiles(part: Part) -> tuple[slice, slice]:
        """The tiles to be lit of a part that begins and ends where they do."""
        rows, cols = (
            slice(first // LIT_TILE_PX, -(-(first + size) // LIT_TILE_PX))
            for first, size in zip(part[:2], part[2:], strict=True)
        )
        return rows, cols

    def _place_of(self, part: Part, scale: int = 1) -> tuple[slice, slice]:
        """Where a part lies in the buffers, which begin with the halo."""
        top, left, high, wide = part
        rows = slice((top + self.halo) * scale, (top + self.halo + high) * scale)
        return rows, slice((left + self.halo) * scale, (left + self.halo + wide) * scale)

    def _box_mm(self, part: Part) -> NDArray[np.float64]:
        top, left, high, wide = part
        box: NDArray[np.float64] = self._to_mm(np.array([[left, top, left + wide, top + high]], float))[0]
        return box

    def _to_mm(self, boxes_px: NDArray[np.float64]) -> NDArray[np.float64]:
        """Boxes in pixels from the window's corner, in local mm."""
        return np.asarray((boxes_px - self.middle_px) / self.drawing.window.px_per_mm + self.offset_mm)

    def _to_px(self, boxes_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray((boxes_mm - self.offset_mm) * self.drawing.window.px_per_mm + self.middle_px)
