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

from render.draw.carried import MOST_TILES, Due
from render.draw.cloth import ClothLayer
from render.draw.ground import lay_ground
from render.draw.layers import Bed, light_part
from render.draw.parts import LIT_TILE_PX, Parts
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

LEVEL = np.zeros((1, 1), np.int16)  # cloth that nothing presses down: it will be pressed later
OWN_TILES = 12.0  # lighting a part takes as long as so many tiles more than it has (measured)
NOTHING_DUE = Due([], [])


class Growing:
    """A drawing from which the stitches are taken out and in which they land again, one by one.

    `way` is how the cloth moves meanwhile, None where it lies still: where it moves `Between` says what to
    draw again. Appliqué piece p is laid after `laid[p]` stitches. `pool` are the workers, its own by default.
    """

    def __init__(
        self,
        drawing: Drawing,
        way: Way | None,
        *,
        laid: tuple[int, ...] = (),
        pool: ThreadPoolExecutor | None = None,
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
        self.parts = Parts(drawing)
        self.whole = np.ones(self.parts.tiles, bool)
        self.bare = np.ones(self.whole.shape)  # what share of each tile shows cloth, as it was drawn last
        self.unlit = np.ones(self.parts.lit_tiles, bool)
        # Left, top, right, bottom of what a pixel may change: taps, in blocks of two by two sub-pixels,
        # point to what shades them, and thread hides what begins under it of fibres that lie over other.
        taps = np.concatenate([drawing.shading.shadow_taps, drawing.shading.sky_taps])[:, ::-1]
        shades_px = np.concatenate([taps.max(0), -taps.min(0)]) * 2 / self.sub
        stray_px = 0.0 if drawing.ground.stray is None else drawing.ground.stray.reach_mm * window.px_per_mm
        self.shades_px = (np.maximum(shades_px, stray_px) + 1) * [-1, -1, 1, 1]
        self.pool = ThreadPoolExecutor(os.cpu_count() or 1) if pool is None else pool

    def grow(
        self,
        stitches: int,
        take: Take,
        *,
        cloth: float | None = None,
        slack: float = 1.0,
        due: Due = NOTHING_DUE,
        hidden: NDArray[np.bool_] | None = None,
    ) -> None:
        """Let stitches land until there are so many, and let each part of the window that looks otherwise now
        be taken, by any worker and in any order.

        `cloth` is how far on its way the cloth is, as a rule as far as the stitches; what is `due` is drawn
        again. With `slack` 0 no light is left as it was where it should be otherwise, by however little.
        Where tiles are `hidden` (rows, cols) light waits until they are seen.
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
        parts = [self.parts.of_tiles(rect) for rect, _ in drawn]
        moves = [None if self.way is None else self.way.move(then) for _, then in drawn]
        within = [
            self._strands_in(part, self.placed.drift_px(then))
            for part, then in zip(parts, moves, strict=True)
        ]
        # All are placed before any is drawn: they press each other.
        for chosen, then in zip(within, moves, strict=True):
            self.placed.place(chosen, then)
        list(self.pool.map(self._redraw, parts, within, moves, (then for _, then in drawn)))
        for rect, _ in drawn:
            self._note_bare(rect)
        rippled = [self.parts.of_tiles(rect) for rect in due.rippled]
        self._note_unlit(new, parts, rippled, slack)
        # What has been drawn again is lit as it was drawn: cut up anew, each piece would have its halo.
        seen = [(self.parts.in_window(part), then) for part, (_, then) in zip(parts, drawn, strict=True)]
        lit = [(part, then) for part, then in seen if part is not None]
        for part, _ in lit:
            self.unlit[self.parts.lit_in(part)] = False
        wait = np.zeros_like(self.unlit) if hidden is None else self.unlit & self.parts.lit_of(hidden)
        lit += [(self.parts.of_lit_tiles(rect), at) for rect in cheapest(self.unlit & ~wait, OWN_TILES)]
        self.unlit = wait
        list(self.pool.map(lambda one: take(one[0], self._light(*one)), lit))

    def waits(self) -> NDArray[np.bool_]:
        """Tiles (rows, cols) in which light waits."""
        return self.parts.holding(self.unlit)

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

    def _redraw(self, part: Part, chosen: Ints, move: ClothMove | None, then: float) -> None:
        """Lay the thread so far of a part as it lies then, and the cloth that it leaves to be seen."""
        top, left, high, wide = part
        now, sub = self.placed.now, self.sub
        rect = (top * sub, left * sub, high * sub, wide * sub)
        drawn = rasterise(now.pixel_strands, chosen, rect, self._shape, places=False)
        place, fine = self.parts.place(part), self.parts.place(part, sub)
        self.thread.height_mm[fine], self.thread.strand[fine] = drawn.height_mm, drawn.strand
        wanted = cloth_wanted(drawn.height_mm, now.highest_mm, sub, LEVEL, np.zeros(3))
        aside = self._aside(part, then)
        ground = replace(now.ground, move=move, aside=aside, pieces=now.ground.pieces[: self.pieces])
        laid = lay_ground(ground, now.window, part, wanted)
        self.wanted[place] = wanted
        self.cloth.radiance_linear[place], self.cloth.height_mm[place] = laid.radiance_linear, laid.height_mm
        self._press(chosen, self.parts.box_mm(part))

    def _aside(self, part: Part, then: float) -> tuple[Aside, ...]:
        """How yarns of a part lie then."""
        if self.way is None:
            return self.drawing.ground.aside
        return self.way.aside(then, self.parts.box_mm(part) + self.parts.anchor_mm)

    def _land(self, new: Ints) -> None:
        now, corner = self.placed.now, (-self.halo * self.sub, -self.halo * self.sub)
        raster_onto(self.thread, now.pixel_strands, new, corner, self._shape)
        self._press(new)

    def _note_bare(self, rect: Rect) -> None:
        """Take note of what share of each tile shows cloth: of each so many sub-pixels one."""
        for row, col in product(range(rect[0], rect[2]), range(rect[1], rect[3])):
            tile = self.parts.of_tiles((row, col, row + 1, col + 1))
            self.bare[row, col] = (self.thread.strand[self.parts.place(tile, self.sub)][::5, ::5] < 0).mean()

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
        self.pressed.note_changes(self.parts.to_mm(np.concatenate([boxes, again])))
        if self.finished:
            self.pressed.finish()
        else:
            self.pressed.settle()
        # Thread that the cloth has carried by less than seen shades what it did.
        wider = self.shades_px if slack == 0.0 else np.zeros(4)
        pressed = self.parts.to_px(self.pressed.unlit_mm(slack))
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
        place, fine = self.parts.place(around), self.parts.place(around, self.sub)
        # Copies, for thread that the cloth hides is taken out of them.
        height, strand = self.thread.height_mm[fine].copy(), self.thread.strand[fine].copy()
        buffers = Buffers(height, strand, self.thread.along, self.thread.across)
        laid = ClothLayer(self.cloth.radiance_linear[place].copy(), self.cloth.height_mm[place].copy())
        maps = self.pressed.dimple_steps, self.pressed.thread_mm
        bed = Bed(laid, *maps, self._ridges(part, at), self.wanted[place].copy())
        layers = light_part(self.placed.now, part, buffers, bed)
        self.pressed.lit(self.parts.box_mm(part))
        return layers

    def _ridges(self, part: Part, at: float) -> Pucker | None:
        if self.way is None or self.finished:
            return self.drawing.ridges
        anchor = self.drawing.strands.anchor_mm
        ridges = self.way.ridges(at, self.parts.box_mm(part) + self.parts.anchor_mm)
        return None if ridges is None else held_down(ridges, self.pressed.dimple_steps, anchor)

    @property
    def _shape(self) -> tuple[int, int]:
        return self.drawing.window.rows * self.sub, self.drawing.window.cols * self.sub
