"""When to draw which tiles of a window again while the cloth moves, in either of two pictures.

A tile is drawn in turns in one picture and in the other, each time as it will lie when the cloth has carried
it on by so much from where it lies in the other. What is shown lies between the two.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from render.draw.patches import rectangles
from render.draw.unmoved import moved_mm

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.patches import Rect
    from render.draw.way import Way
    from render.model import Floats, Window

TILE_PX, ALIGNED_PX = 128, 16
# How far the cloth carries a tile with stitches on between a drawing and the next, at most, and bare cloth,
# which has softer edges, so many times as far.
MOST_PX, BARE = 0.25, 1.6
# Two drawings `a` levels apart are seen as `SEEN * a ** POWER`, mean FLIP of what lies between them (thread
# and bare cloth), as measured on some tiles with stitches of the crest; a frame is to be seen so at most.
SEEN, SEEN_BARE, POWER, BUDGET = 0.0100, 0.0050, 0.8, 0.0085
HARSH = 30.0  # levels by which drawings a pixel apart differ, where that is not known yet: more than most
KNOWN_PX = 0.02  # it is found from drawings so far apart
STILL_PX = 1e-3  # what has moved by no more lies where it did
MOST_TILES = 3  # along a side of a rectangle that is drawn at once: as few as keep two cores at work
STEEPER = 0.05  # and lit again once their ridges have got steeper by this: no step is seen then (by eye)
BENT = 0.1  # of that way a tile may lie beside the straight line between two drawings
HALVINGS = 8  # of the time between two states of rest, to find when a tile will lie so


@dataclass(frozen=True, slots=True)
class Due:
    """What to draw again in one of two pictures: rectangles of tiles, each with how far on its way the cloth
    is to lie there, and rectangles to light again because of their ridges."""

    drawn: list[tuple[Rect, float]]
    rippled: list[Rect]


class Carried:
    """Tiles of `TILE_PX` over a window and its halo; each remembers how the cloth lay as it was drawn, and
    when, in either picture."""

    def __init__(self, way: Way, window: Window, halo_px: int) -> None:
        self.way, self.reach_mm = way, 0.5 * TILE_PX / window.px_per_mm
        rows, cols = tiles_over(window, halo_px)
        x, y = (
            middle + (TILE_PX * np.arange(count + 1) - edge_px(halo_px) - side / 2) / window.px_per_mm
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
        # How fast (rests - 1, rows, cols) tiles move from each rest to the next, pixels a stitch.
        self.speeds = np.stack(steps_px) / np.diff(way.at)[:, None, None]
        self.harsh = np.full((rows, cols), HARSH)
        # With which stitch the first thread comes into each tile (rows, cols).
        self.begun = np.full((rows, cols), np.inf)
        self.steeper = np.zeros((2, rows, cols))
        self.at = 0.0
        self._interval: tuple[int, NDArray[np.float64]] | None = None
        self.forget()

    def note_stitches(self, boxes_px: Floats, lands: Floats, edge_px: int) -> None:
        """Take note of where strands come to lie and with which stitch: their boxes (N, 4), left, top, right,
        bottom, in pixels of the window."""
        low, high = (
            np.floor((boxes_px[:, side] + edge_px) / TILE_PX).astype(int) for side in ((0, 1), (2, 3))
        )
        for right, down in np.ndindex(*(high - low).max(0, initial=-1) + 1):
            at = low + (right, down)
            here = ((at <= high) & (at >= 0) & (at < self.begun.shape[::-1])).all(1)
            np.minimum.at(self.begun, (at[here, 1], at[here, 0]), lands[here])

    def forget(self) -> None:
        """All has to be drawn anew."""
        self.drawn_px = np.full((2, *self.rests_px.shape[1:]), np.inf)
        self.drawn_at = np.full((2, *self.rests_px.shape[1:3]), -np.inf)

    def due(self, at: float, slack: float) -> tuple[Due, Due]:
        """What to draw again `at` on the cloth's way; it is taken as drawn. With `slack` 0 all is drawn in
        the first picture that lies otherwise there, by however little."""
        self._steepen(at)
        now, steps_px = self._moved_px(at), self._steps_px(at)
        if slack == 0.0:
            stale = np.stack([self._off_px(now, self.drawn_px[0]) > 0.0, np.zeros(now.shape[:2], bool)])
        else:
            second = self.drawn_at[1] > self.drawn_at[0]
            last_px = np.where(second[..., None, None], self.drawn_px[1], self.drawn_px[0])
            gone = (at > self.drawn_at.max(0)) & (self._off_px(now, last_px) > STILL_PX)
            stale = np.stack([gone & second, gone & ~second])
        found = [Due([], []), Due([], [])]
        for side in (0,) if slack == 0.0 else (0, 1):
            drawn = []
            for tiles in rectangles(stale[side], full=1.0, most=MOST_TILES):
                place = (slice(tiles[0], tiles[2]), slice(tiles[1], tiles[3]))
                then = at if slack == 0.0 else self._ahead(place, at, last_px[place], steps_px[place])
                drawn.append((tiles, then, place))
            rippled = self.steeper[side] > slack * STEEPER
            self.steeper[side][rippled | stale[side]] = 0.0
            found[side] = Due([(tiles, then) for tiles, then, _ in drawn], rectangles(rippled & ~stale[side]))
            for _, then, place in drawn:
                self.drawn_px[(side, *place)] = self._moved_px(then, place)
                self.drawn_at[(side, *place)] = then
        return found[0], found[1]

    def shares(self, at: float) -> NDArray[np.float32]:
        """How far (rows, cols) each tile has come on its way from the first picture to the second, in
        [0, 1], by where it lies."""
        known = np.isfinite(self.drawn_at)
        first, second = np.where(known[..., None, None], self.drawn_px, 0.0)
        way, come = second - first, self._moved_px(at) - first
        share = (way * come).sum((2, 3)) / np.maximum((way * way).sum((2, 3)), 1e-12)
        share = np.where(known[0], np.where(known[1], share, 0.0), 1.0)
        return np.asarray(np.clip(share, 0.0, 1.0), np.float32)

    def _ahead(
        self,
        place: tuple[slice, slice],
        at: float,
        last_px: NDArray[np.float64],
        most_px: NDArray[np.float64],
    ) -> float:
        """When the cloth will have carried one of the tiles on as far as it may from where it was drawn last,
        or now; what comes after the last stitch is not foreseen before it comes."""

        passed: list[NDArray[np.float64]] = []

        def near(then: float) -> bool:
            gone_px = self._moved_px(then, place) - last_px
            if (self._off_px(gone_px, np.zeros(2)) > most_px).any():
                return False
            # What lies between is shown on a straight line: where the cloth turns back, a drawing is needed.
            return all(
                (self._off_px(come_px, _along(gone_px, come_px)) <= BENT * most_px).all()
                for come_px in passed
            )

        if not near(at):
            return at
        low, stops = at, [stop for stop in self.way.at if stop > at]
        if at < self.way.sewn:
            stops = [stop for stop in stops if stop <= self.way.sewn]
        for stop in stops:
            if near(stop):
                low = stop
                passed.append(self._moved_px(stop, place) - last_px)
                continue
            high = stop
            for _ in range(HALVINGS):
                middle = 0.5 * (low + high)
                low, high = (middle, high) if near(middle) else (low, middle)
            break
        return low

    def note_apart(self, apart: NDArray[np.float64]) -> None:
        """Take note of how many levels (rows, cols) the two pictures of each tile are apart."""
        gap_px = self._off_px(*np.where(np.isfinite(self.drawn_px), self.drawn_px, 0.0))
        known = (gap_px > KNOWN_PX) & np.isfinite(self.drawn_at).all(0) & (apart > 0.0)
        self.harsh = np.where(known, apart / np.maximum(gap_px, KNOWN_PX), self.harsh)

    def _steps_px(self, at: float) -> NDArray[np.float64]:
        """How far (rows, cols) the cloth may carry each tile between two drawings, so that all together are
        seen no more than they may and as few as can be are drawn.

        By Lagrange's rule: tiles that move at `v` and are seen by `w d ** p` cost `v / d`, least where all
        have the same `w d ** (1 + p) / v`.
        """
        bare = self.begun >= at
        seen = np.where(bare, SEEN_BARE, SEEN) * self.harsh**POWER
        share = (self.speeds[self.way.between(at)[0]] / seen) ** (1.0 / (1.0 + POWER))
        together = float((seen * share**POWER).mean())
        step_px = share * (BUDGET / max(together, 1e-12)) ** (1.0 / POWER)
        return np.asarray(np.minimum(step_px, np.where(bare, BARE, 1.0) * MOST_PX))

    def _moved_px(self, at: float, place: tuple[slice, ...] = ()) -> NDArray[np.float64]:
        rest, share = self.way.between(at)
        before, after = self.rests_px[rest][place], self.rests_px[rest + 1][place]
        return np.asarray(after if share == 1.0 else before + (after - before) * share)

    @staticmethod
    def _off_px(one: NDArray[np.float64], other: NDArray[np.float64]) -> NDArray[np.float64]:
        """How far tiles lie off where they lay, at the corner that is furthest off."""
        return np.asarray(np.hypot(*np.moveaxis(one - other, -1, 0)).max(-1))

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
            self._interval = (rest, flat.reshape(self.steeper.shape[1:]))
        return self._interval[1]


def _along(gone_px: NDArray[np.float64], come_px: NDArray[np.float64]) -> NDArray[np.float64]:
    """The place on each tile's straight way, `gone_px (rows, cols, 4, 2)` in all, that is nearest to where it
    has come."""
    share = (gone_px * come_px).sum((2, 3)) / np.maximum((gone_px * gone_px).sum((2, 3)), 1e-12)
    return np.asarray(gone_px * np.clip(share, 0.0, 1.0)[..., None, None])


def edge_px(halo_px: int) -> int:
    """How far before the window the first tile begins: tiles then end where those that are lit do."""
    return -(-halo_px // ALIGNED_PX) * ALIGNED_PX


def tiles_over(window: Window, halo_px: int) -> tuple[int, int]:
    """Rows and columns of tiles over a window and its halo."""
    edge = edge_px(halo_px)
    rows, cols = (-(-(side + edge + halo_px) // TILE_PX) for side in (window.rows, window.cols))
    return rows, cols


def _of_tiles(corners: NDArray[np.float64], rows: int) -> NDArray[np.float64]:
    """From values (C, 2) at the corners of a grid of tiles those of each tile (rows, cols, 4, 2)."""
    grid = corners.reshape(rows + 1, -1, 2)
    return np.stack([grid[:-1, :-1], grid[:-1, 1:], grid[1:, :-1], grid[1:, 1:]], 2)
