"""How deep the stitches so far press the cloth down, and how much thread lies over it: kept up to date where
stitches land or move."""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING

import numpy as np

from render.compiled import njit
from render.draw.across import CELL_MM
from render.draw.dimples import EDGE_CELLS, FAR_CELLS, STEPS_PER_MM, dimples_in_steps
from render.draw.laid import lay_thread, leave_pits, map_shape, mark_holes, smooth_rows, thread_over_mm
from render.draw.patches import cheapest, mark_boxes

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.stack import Stack
    from render.draw.strands import Strands
    from render.model import Floats

PRESSED_MM = 0.03  # cloth is lit again once it is pressed down deeper by this: no step is seen then (by eye)
DIMPLE_CELLS = 3 * (FAR_CELLS // 2)  # a cell's depth depends on those up to so far away
TILE = 16  # cells along the side of a tile
OWN_TILES = 20.0  # settling a rectangle takes as long as so many tiles more than it has (estimate)


class Pressed:
    """The maps `dimple_steps` and `thread_mm` of a stack on their way there.

    Boxes (N, 4): left, top, right, bottom, local mm.
    """

    def __init__(self, strands: Strands, stacked: Stack) -> None:
        self.stacked, self.sewn, self.pits = stacked, strands.stitch >= 0, leave_pits(strands)
        shape = map_shape(strands)
        self._steps_mm, self._holes = np.zeros(shape, np.uint16), np.zeros(shape, np.uint8)
        self.dimple_steps, self._lit_steps = (np.zeros(shape, np.int16) for _ in range(2))
        # Pieces and foam lie there from the first, as on the map that strands settle on.
        self._raised_mm = stacked.thread_mm - thread_over_mm(strands, stacked.section_mm, stacked.first)
        self.thread_mm = self._raised_mm.copy()
        # Tiles in which thread has come or gone, and those whose depth has changed since that was looked at.
        self._changed, self._deeper = (np.zeros([-(-side // TILE) for side in shape], bool) for _ in range(2))

    def add(
        self,
        chosen: NDArray[np.int64],
        section_mm: NDArray[np.float32],
        start_mm: Floats,
        end_mm: Floats,
        box_mm: Floats | None = None,
    ) -> None:
        """Let chosen strands press; loose thread does not. What lay in the box before, if one is given, gives
        way to what of them lies there."""
        rows, cols = self._steps_mm.shape
        chosen = chosen[self.sewn[chosen]]
        strands, pits = (start_mm, end_mm, section_mm, self.stacked.first, chosen), chosen[self.pits[chosen]]
        if box_mm is None:
            lay_thread(*strands, (rows, cols), 0, self._steps_mm)
            mark_holes(start_mm, end_mm, pits, np.array([0, 0, rows, cols]), self._holes)
            return
        top, left, bottom, right = self._cells(box_mm)
        place, anew = np.s_[top:bottom, left:right], np.zeros((bottom - top, cols), np.uint16)
        lay_thread(*strands, (rows, cols), top, anew)
        self._steps_mm[place], self._holes[place] = anew[:, left:right], 0
        mark_holes(start_mm, end_mm, pits, np.array([top, left, bottom, right]), self._holes)

    def note_changes(self, boxes_mm: Floats) -> None:
        """Thread has come or gone in these boxes."""
        mark_boxes(self._changed, self._in_cells(boxes_mm), TILE)

    def settle(self) -> None:
        """Press the cloth down by the thread as it lies now, and tell how much there is of it."""
        rows, cols = self._steps_mm.shape
        for top, left, bottom, right in cheapest(self._changed, OWN_TILES, 2 * DIMPLE_CELLS / TILE):
            r0, r1 = max(top * TILE - DIMPLE_CELLS, 0), min(bottom * TILE + DIMPLE_CELLS, rows)
            c0, c1 = max(left * TILE - DIMPLE_CELLS, 0), min(right * TILE + DIMPLE_CELLS, cols)
            up, back = max(r0 - DIMPLE_CELLS, 0), max(c0 - DIMPLE_CELLS, 0)
            self._deeper[r0 // TILE : -(-r1 // TILE), c0 // TILE : -(-c1 // TILE)] = True
            around = np.s_[up : r1 + DIMPLE_CELLS, back : c1 + DIMPLE_CELLS]
            own, within = np.s_[r0:r1, c0:c1], np.s_[r0 - up : r1 - up, c0 - back : c1 - back]
            steps = np.ascontiguousarray(self._steps_mm[around])
            cover = np.maximum(steps > 0, self._holes[around])
            edged = np.zeros([side + 2 * EDGE_CELLS for side in cover.shape], np.uint8)
            edged[EDGE_CELLS:-EDGE_CELLS, EDGE_CELLS:-EDGE_CELLS] = cover
            depth = dimples_in_steps(edged, self.stacked.bedding)
            thread = np.empty(steps.shape, np.float32)
            smooth_rows(steps, 0, len(steps), thread, cover)
            self.dimple_steps[own] = depth[EDGE_CELLS:, EDGE_CELLS:][within]
            self.thread_mm[own] = thread[within] + self._raised_mm[own]
        self._changed[:] = False

    def finish(self) -> None:
        """The whole cloth as under the finished stitching."""
        self.dimple_steps[:], self.thread_mm[:] = self.stacked.dimple_steps, self.stacked.thread_mm
        self._changed[:], self._deeper[:] = False, True

    def unlit_mm(self, slack: float) -> NDArray[np.float64]:
        """Boxes (N, 4) where the cloth lies deeper or higher than when it was lit, of those in which that has
        changed since this was asked last; with `slack` 0 of all."""
        unlit = self._deeper if slack > 0.0 else np.ones_like(self._deeper)
        most = int(slack * PRESSED_MM * STEPS_PER_MM)  # as whole as what is compared with it
        keep_apart(self.dimple_steps, self._lit_steps, most, TILE, unlit)
        self._deeper = np.zeros_like(unlit)
        tiles = np.argwhere(unlit)[:, ::-1]
        low = (tiles * TILE - 2 - np.array(self._steps_mm.shape[::-1]) // 2) * CELL_MM
        return np.concatenate([low, low + (TILE + 4) * CELL_MM], 1)

    def lit(self, box_mm: Floats) -> None:
        """The cloth in this box has been lit as it lies."""
        top, left, bottom, right = self._cells(box_mm)
        place = (slice(top, bottom), slice(left, right))
        self._lit_steps[place] = self.dimple_steps[place]

    def _in_cells(self, boxes_mm: Floats) -> NDArray[np.float64]:
        middle = np.array(self._steps_mm.shape[::-1]) // 2 + 0.5
        return np.asarray(boxes_mm) / CELL_MM + np.tile(middle, 2)

    def _cells(self, box_mm: Floats) -> tuple[int, int, int, int]:
        """Top, left, bottom, right of the cells whose middles lie in a box."""
        rows, cols = self._steps_mm.shape
        # Number by number: arrays so small take ten times as long.
        left, right = (min(max(ceil(x / CELL_MM + cols // 2), 0), cols) for x in box_mm[::2].tolist())
        top, bottom = (min(max(ceil(y / CELL_MM + rows // 2), 0), rows) for y in box_mm[1::2].tolist())
        return top, left, bottom, right


@njit(cache=True, nogil=True)
def keep_apart(
    one: NDArray[np.int16], other: NDArray[np.int16], most: int, tile: int, marked: NDArray[np.bool_]
) -> None:
    """Leave those marked of the tiles, so many cells wide and high, in which two maps are further apart than
    `most` steps."""
    rows, cols = one.shape
    for top in range(marked.shape[0]):
        for left in range(marked.shape[1]):
            if not marked[top, left]:
                continue
            apart = False
            for r in range(top * tile, min((top + 1) * tile, rows)):
                for c in range(left * tile, min((left + 1) * tile, cols)):
                    apart |= abs(one[r, c] - other[r, c]) > most
            marked[top, left] = apart
