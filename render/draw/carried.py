"""Which tiles of a window the moving cloth has carried on since they were drawn."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from render.draw.unmoved import moved_mm

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.patches import Rect
    from render.draw.way import Way
    from render.model import Window

TILE_PX = 64
# Tiles are drawn anew once the cloth has carried them on by this, at most. They are drawn as they will lie
# half of it later, so that they are never further off than half of it, before or behind.
CARRIED_PX, CARRIED_MM = 0.25, 0.02
# That holds for tiles that are carried on by so much a stitch; slower ones are drawn anew sooner, by the root
# of their speed. To draw a tile takes as long however it moves, and how much a frame differs from a still
# grows with about the root of how far things are off: so shared out, a film is nearest to its stills.
FAST_PX, LEAST_SHARE = 0.014, 0.1
STEEPER = 0.02  # and lit again once their ridges have got steeper by this: no step is seen then (by eye)
HALVINGS = 8  # of the time between two states of rest, to find when a tile will lie so


class Carried:
    """Tiles of `TILE_PX` over a window and its halo; each remembers how the cloth lay as it was drawn."""

    def __init__(self, way: Way, window: Window, halo_px: int) -> None:
        self.way, self.reach_mm = way, 0.5 * TILE_PX / window.px_per_mm
        rows, cols = (-(-(side + 2 * halo_px) // TILE_PX) for side in (window.rows, window.cols))
        x, y = (
            middle + (TILE_PX * np.arange(count + 1) - halo_px - side / 2) / window.px_per_mm
            for middle, count, side in zip(
                window.centre_mm, (cols, rows), (window.cols, window.rows), strict=True
            )
        )
        corners = np.stack(np.meshgrid(x, y), -1)
        self.corners_mm = way.first_places_mm(corners.reshape(-1, 2))
        self.middles_mm = 0.25 * (corners[1:, 1:] + corners[:-1, 1:] + corners[1:, :-1] + corners[:-1, :-1])
        # The movement at the corners of the tiles (rests, rows, cols, 4, 2), pixels, in the states of rest.
        self.rests_px = np.stack([_of_tiles(moved_mm(m, self.corners_mm), rows) for m in way.moves])
        self.rests_px *= window.px_per_mm
        steps_px = [self._off_px(before, after) for before, after in pairwise(self.rests_px)]
        speeds = np.stack(steps_px) / np.diff(way.at)[:, None, None]
        # How far off tiles may lie (rests - 1, rows, cols), pixels, on the way from each rest to the next.
        most_px = 0.5 * min(CARRIED_PX, CARRIED_MM * window.px_per_mm)
        self.most_px = most_px * np.clip(np.sqrt(speeds / FAST_PX), LEAST_SHARE, 1.0)
        self.drawn_px = np.full(self.rests_px.shape[1:], np.inf)
        self.steeper = np.zeros((rows, cols))
        self.at = 0.0
        self._interval: tuple[int, NDArray[np.float64]] | None = None

    def stale(self, at: float, slack: float) -> NDArray[np.bool_]:
        """The tiles (rows, cols) to draw again `at` on the cloth's way. With `slack` 0 all that lie
        otherwise than they are drawn, by however little."""
        return np.asarray(self._off_px(self._moved_px(at), self.drawn_px) > slack * self._most_px(at))

    def draw(self, tiles: Rect, at: float, slack: float) -> float:
        """How far on its way the cloth is drawn in a rectangle of tiles; they are taken as drawn."""
        place = (slice(tiles[0], tiles[2]), slice(tiles[1], tiles[3]))
        ahead = at if slack == 0.0 else self._ahead(place, at, 0.98 * slack * self._most_px(at)[place])
        self.drawn_px[place] = self._moved_px(ahead, place)
        self.steeper[place] = 0.0
        return ahead

    def _ahead(self, place: tuple[slice, slice], at: float, most_px: NDArray[np.float64]) -> float:
        """When the cloth will have carried one of the tiles on by so many pixels; what comes after the last
        stitch is not foreseen before it comes."""
        now = self._moved_px(at, place)

        def near(then: float) -> bool:
            return bool((self._off_px(self._moved_px(then, place), now) <= most_px).all())

        low, stops = at, [stop for stop in self.way.at if stop > at]
        if at < self.way.sewn:
            stops = [stop for stop in stops if stop <= self.way.sewn]
        for stop in stops:
            if near(stop):
                low = stop
                continue
            high = stop
            for _ in range(HALVINGS):
                middle = 0.5 * (low + high)
                low, high = (middle, high) if near(middle) else (low, middle)
            break
        return low

    def _most_px(self, at: float) -> NDArray[np.float64]:
        found: NDArray[np.float64] = self.most_px[self.way.between(at)[0]]
        return found

    def _moved_px(self, at: float, place: tuple[slice, ...] = ()) -> NDArray[np.float64]:
        rest, share = self.way.between(at)
        before, after = self.rests_px[rest][place], self.rests_px[rest + 1][place]
        return np.asarray(after if share == 1.0 else before + (after - before) * share)

    @staticmethod
    def _off_px(one: NDArray[np.float64], other: NDArray[np.float64]) -> NDArray[np.float64]:
        """How far tiles lie off where they lay, at the corner that is furthest off."""
        return np.asarray(np.hypot(*np.moveaxis(one - other, -1, 0)).max(-1))

    def rippled(self, at: float, slack: float) -> NDArray[np.bool_]:
        """The tiles to light again, `at` on the cloth's way, for their ridges; they are taken as lit."""
        self._steepen(at)
        rippled: NDArray[np.bool_] = self.steeper > slack * STEEPER
        self.steeper[rippled] = 0.0
        return rippled

    def _steepen(self, at: float) -> None:
        """Add how much steeper the ridges have got at most since the last time."""
        here, (last, _) = self.at, self.way.between(at)
        first, _ = self.way.between(here)
        for rest in range(first, last + 1):
            low, high = self.way.at[rest : rest + 2]
            share = (min(at, high) - max(here, low)) / (high - low)
            if share > 0.0:
                self.steeper += share * self._steepening(rest)
        self.at = at

    def _steepening(self, rest: int) -> NDArray[np.float64]:
        if self._interval is None or self._interval[0] != rest:
            flat = self.way.steepening(rest, self.middles_mm.reshape(-1, 2), self.reach_mm)
            self._interval = (rest, flat.reshape(self.steeper.shape))
        return self._interval[1]


def _of_tiles(corners: NDArray[np.float64], rows: int) -> NDArray[np.float64]:
    """From values (C, 2) at the corners of a grid of tiles those of each tile (rows, cols, 4, 2)."""
    grid = corners.reshape(rows + 1, -1, 2)
    return np.stack([grid[:-1, :-1], grid[:-1, 1:], grid[1:, :-1], grid[1:, 1:]], 2)
