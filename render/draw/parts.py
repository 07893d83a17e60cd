"""Parts of a window and its halo: which tiles they hold, where they lie in buffers and on the cloth."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.draw.carried import edge_px, tile_px, tiles_over

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.layers import Drawing
    from render.draw.patches import Rect
    from render.model import Floats

    Part = tuple[int, int, int, int]
    Marks = NDArray[np.bool_]

LIT_TILE_PX = 16


class Parts:
    """Parts (first row, first column, rows, columns) of a drawing's window and its halo.

    Tiles that are drawn begin before the window, tiles that are lit, `LIT_TILE_PX` a side, with it. Boxes
    (N, 4) are left, top, right, bottom.
    """

    def __init__(self, drawing: Drawing) -> None:
        self.window, self.halo = window, halo = drawing.window, drawing.halo_px
        self.tile_px, self.edge_px, self.tiles = tile_px(window), edge_px(halo), tiles_over(window, halo)
        self.lit_tiles = tuple(-(-side // LIT_TILE_PX) for side in (window.rows, window.cols))
        self.anchor_mm = np.tile(drawing.strands.anchor_mm, 2)
        # The window's middle, twice as boxes have it: from its corner, and in local mm.
        self._middle_px = np.tile([window.cols / 2, window.rows / 2], 2)
        self._offset_mm = np.tile(window.centre_mm, 2) - self.anchor_mm

    def of_tiles(self, rect: Rect) -> Part:
        """Those of a rectangle (top, left, bottom, right) of tiles, as far as there are any."""
        return self._part(rect, self.tile_px, self.edge_px, self.halo)

    def of_lit_tiles(self, rect: Rect) -> Part:
        """Those of a rectangle of tiles that are lit."""
        return self._part(rect, LIT_TILE_PX, 0, 0)

    def _part(self, rect: Rect, side_px: int, before_px: int, beyond_px: int) -> Part:
        top, left = (max(side * side_px - before_px, -beyond_px) for side in rect[:2])
        bottom, right = (side * side_px - before_px for side in rect[2:])
        bottom, right = min(bottom, self.window.rows + beyond_px), min(right, self.window.cols + beyond_px)
        return top, left, bottom - top, right - left

    def in_window(self, part: Part) -> Part | None:
        """What of a part lies in the window; None where nothing does."""
        window, (top, left, high, wide) = self.window, part
        first_row, first_col = max(top, 0), max(left, 0)
        rows, cols = min(top + high, window.rows) - first_row, min(left + wide, window.cols) - first_col
        return (first_row, first_col, rows, cols) if rows > 0 and cols > 0 else None

    @staticmethod
    def lit_in(part: Part) -> tuple[slice, slice]:
        """The tiles to be lit of a part that begins and ends where they do."""
        rows, cols = (
            slice(first // LIT_TILE_PX, -(-(first + size) // LIT_TILE_PX))
            for first, size in zip(part[:2], part[2:], strict=True)
        )
        return rows, cols

    def lit_of(self, tiles: Marks) -> Marks:
        """The tiles to be lit of marked tiles."""
        side, first = self.tile_px // LIT_TILE_PX, self.edge_px // LIT_TILE_PX
        rows, cols = (slice(first, first + count) for count in self.lit_tiles)
        return tiles.repeat(side, 0).repeat(side, 1)[rows, cols]

    def holding(self, lit: Marks) -> Marks:
        """The tiles that hold some of the marked ones of those that are lit."""
        side, first = self.tile_px // LIT_TILE_PX, self.edge_px // LIT_TILE_PX
        rows, cols = self.tiles
        every = np.zeros((rows * side, cols * side), bool)
        every[first : first + lit.shape[0], first : first + lit.shape[1]] = lit
        return np.asarray(every.reshape(rows, side, cols, side).any((1, 3)))

    def place(self, part: Part, scale: int = 1) -> tuple[slice, slice]:
        """Where a part lies in buffers with so many places a pixel's side, which begin with the halo."""
        top, left, high, wide = part
        rows = slice((top + self.halo) * scale, (top + self.halo + high) * scale)
        return rows, slice((left + self.halo) * scale, (left + self.halo + wide) * scale)

    def box_mm(self, part: Part) -> Floats:
        """The box of a part, in local mm."""
        top, left, high, wide = part
        return np.asarray(self.to_mm(np.array([[left, top, left + wide, top + high]], float))[0])

    def to_mm(self, boxes_px: Floats) -> Floats:
        """Boxes in pixels from the window's corner, in local mm."""
        return np.asarray((boxes_px - self._middle_px) / self.window.px_per_mm + self._offset_mm)

    def to_px(self, boxes_mm: Floats) -> Floats:
        """Boxes in local mm, in pixels from the window's corner."""
        return np.asarray((boxes_mm - self._offset_mm) * self.window.px_per_mm + self._middle_px)
