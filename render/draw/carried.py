"""When to draw which tiles of a window again while the cloth moves, in either of two pictures.

A tile is drawn in turns in one picture and in the other, each time as it will lie in a frame to come: for how
many frames, `foreseen` says. What is shown until then lies between the two.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.draw.foreseen import AHEAD, MEAN, TILE_AT_MOST, at_most, off_px, seen_levels, take, worthwhile
from render.draw.patches import rectangles
from render.draw.unmoved import moved_mm

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.patches import Rect
    from render.draw.way import Way
    from render.model import Floats, Window

# Sides of tiles, in windows from so wide and high on and in smaller ones.
TILE_PX, LARGE_PX, SMALL_TILE_PX, ALIGNED_PX = 256, 768, 128, 16
MOST_PX = 1.0  # how far the cloth carries a tile on between two drawings at most: no further was tried
HARSH = 12.0  # levels by which drawings a pixel apart differ, where that is not known yet
KNOWN_PX = 0.02  # it is found from drawings so far apart
STILL_PX = 1e-3  # what has moved by no more lies where it did
MOST_TILES = 2  # along a side of a rectangle that is drawn at once: as few as keep two cores at work
# Where a tile is not drawn again it is lit again once ridges have got steeper by this: no step is seen then
# (by eye). A drawing ahead has ridges as they will be.
STEEPER = 0.05
LIGHTEST = np.ones(3)


@dataclass(frozen=True, slots=True)
class Due:
    """What to draw again in one of two pictures: rectangles of tiles, each with how far on its way the cloth
    is to lie there, and rectangles to light again because of their ridges."""

    drawn: list[tuple[Rect, float]]
    rippled: list[Rect]


class Carried:
    """Tiles over a window and its halo; each remembers how the cloth lay as it was drawn, and
    when, in either picture. `shown` are the places on the cloth's way that are to be seen; as a rule each
    stitch. `cloth_linear (3,)` is the cloth's colour, white card = 1."""

    def __init__(
        self,
        way: Way,
        window: Window,
        halo_px: int,
        shown: Floats | None = None,
        *,
        cloth_linear: Floats = LIGHTEST,
    ) -> None:
        self.way, self.tile_px = way, tile_px(window)
        self.reach_mm = 0.5 * self.tile_px / window.px_per_mm
        rows, cols = tiles_over(window, halo_px)
        x, y = (
            middle
            + (self.tile_px * np.arange(0.0, count + 0.1, 0.5) - edge_px(halo_px) - side / 2)
            / window.px_per_mm
            for middle, count, side in zip(
                window.centre_mm, (cols, rows), (window.cols, window.rows), strict=True
            )
        )
        # What share (rows, cols) of the window each tile holds.
        down, along = (
            np.diff(np.clip(self.tile_px * np.arange(count + 1) - edge_px(halo_px), 0, side)) / side
            for count, side in ((rows, window.rows), (cols, window.cols))
        )
        self.holds = np.outer(down, along).astype(np.float64)
        places = np.stack(np.meshgrid(x, y), -1)
        self.middles_mm = places[1::2, 1::2]
        self.places_mm = way.first_places_mm(places.reshape(-1, 2))
        # The movement at places over the tiles (rests, rows, cols, 9, 2), pixels, in the states of rest.
        self.rests_px = np.stack([_of_tiles(moved_mm(m, self.places_mm), rows) for m in way.moves])
        self.rests_px *= window.px_per_mm
        self.shown = np.arange(np.ceil(way.end) + 1.0) if shown is None else np.unique(shown)
        self.most, self.at = at_most(self.holds, cloth_linear), 0.0
        self.harsh = np.full((rows, cols), HARSH)
        # What share (rows, cols) of each tile shows cloth.
        self.bare = np.ones((rows, cols))
        # How much steeper (rows, cols) ridges have got up to states of rest, since the first asked for.
        self._steep: dict[int, NDArray[np.float64]] = {}
        self.forget()

    def forget(self) -> None:
        """All has to be drawn anew."""
        self.drawn_px = np.full((2, *self.rests_px.shape[1:]), np.inf)
        self.drawn_at = np.full((2, *self.rests_px.shape[1:3]), -np.inf)
        self.lit_steep = np.zeros((2, *self.rests_px.shape[1:3]))

    def due(self, at: float, slack: float) -> tuple[Due, Due]:
        """What to draw again `at` on the cloth's way; it is taken as drawn. With `slack` 0 all is drawn in
        the first picture that lies otherwise there, by however little."""
        now, then = self._moved_px(at), np.full(self.harsh.shape, at)
        if slack == 0.0:
            stale = np.stack([self._off_px(now, self.drawn_px[0]) > 0.0, np.zeros(then.shape, bool)])
        else:
            second = self.drawn_at[1] > self.drawn_at[0]
            last_px = np.where(second[..., None, None], self.drawn_px[1], self.drawn_px[0])
            gone = (at > self.drawn_at.max(0)) & (self._off_px(now, last_px) > STILL_PX)
            stale = np.stack([gone & second, gone & ~second])
            known = gone & np.isfinite(self.drawn_at).any(0)
            if known.any():
                begin_px = np.where(known[..., None, None], last_px, self._moved_px(self.at))
                then[known] = self._ahead(known, at, begin_px)
        self.at = at
        found, steep = [Due([], []), Due([], [])], self._steep_at(at)
        # Ridges lie between the two pictures as threads do: it is enough if one has them so steep.
        lit_steep = self.lit_steep[0].copy() if slack == 0.0 else self.lit_steep.max(0)
        for side in (0,) if slack == 0.0 else (0, 1):
            drawn = self._alike(stale[side], then)
            rippled = (steep - lit_steep > slack * STEEPER) & ~stale[side]
            self.lit_steep[side][rippled] = steep[rippled]
            found[side] = Due(drawn, rectangles(rippled))
            for (top, left, bottom, right), when in drawn:
                place = (slice(top, bottom), slice(left, right))
                self.drawn_px[(side, *place)] = self._moved_px(when, place)
                self.drawn_at[(side, *place)] = when
                self.lit_steep[(side, *place)] = self._steep_at(when)[place]
        return found[0], found[1]

    def shares(self, at: float) -> NDArray[np.float32]:
        """How much (rows, cols) of each tile is shown of the second picture, in [0, 1].

        Where thread lies, what differs between the two is mostly samples that another thread takes, each at
        once: so before half-way less of the second shows than the cloth has come of its way, after it more.
        """
        come = self.come(at)
        smooth = come * come * (3.0 - 2.0 * come)
        return np.asarray(smooth + (come - smooth) * self.bare, np.float32)

    def come(self, at: float) -> NDArray[np.float64]:
        """How far (rows, cols) each tile has come on its way from the first picture to the second, in
        [0, 1], by where it lies."""
        known = np.isfinite(self.drawn_at)
        first, second = np.where(known[..., None, None], self.drawn_px, 0.0)
        way, come = second - first, self._moved_px(at) - first
        share = (way * come).sum((2, 3)) / np.maximum((way * way).sum((2, 3)), 1e-12)
        share = np.where(known[0], np.where(known[1], share, 0.0), 1.0)
        return np.asarray(np.clip(share, 0.0, 1.0))

    @staticmethod
    def _alike(stale: NDArray[np.bool_], then: NDArray[np.float64]) -> list[tuple[Rect, float]]:
        """Rectangles of stale tiles that are drawn as they lie at the same time."""
        return [
            (rect, float(one))
            for one in np.unique(then[stale])
            for rect in rectangles(stale & (then == one), full=1.0, most=MOST_TILES)
        ]

    def _ahead(
        self, tiles: NDArray[np.bool_], at: float, begin_px: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """When (N,) each of N tiles is drawn, now or ahead, that lay at `begin_px (rows, cols, 9, 2)` in the
        frame before; what comes after the last stitch is not foreseen before it comes."""
        frame = int(np.searchsorted(self.shown, at, "right"))
        stops = np.concatenate([[at], self.shown[frame : frame + AHEAD[-1] - 1]])
        if at < self.way.sewn:
            stops = stops[stops <= self.way.sewn]
        ahead = AHEAD[len(stops) >= AHEAD]
        lies_px = np.stack([self._moved_px(stop) for stop in stops]).reshape(len(stops), self.holds.size, -1)
        come_px = (lies_px - begin_px.reshape(self.holds.size, -1)).transpose(1, 0, 2)
        ways = come_px @ come_px.transpose(0, 2, 1) / begin_px.shape[2]  # (tiles, stops, stops)
        own, last = np.einsum("nkk->kn", ways), ahead - 1
        gone, both = own[last], ways.transpose(1, 2, 0)[last]
        bare, harsh = self.bare.ravel(), self.harsh.ravel()
        # Of each frame up to the one that it is drawn for, by so many frames: (A, K, N).
        seen = seen_levels(harsh * off_px(gone[:, None], own, both, bare), bare)
        seen[np.arange(len(stops)) >= last[:, None]] = 0.0
        allowed = (gone <= MOST_PX**2) & (seen.max(1) <= TILE_AT_MOST)
        allowed = np.logical_and.accumulate(allowed | (ahead == 1)[:, None])
        seen *= self.holds.ravel()
        chosen = worthwhile(seen.sum(1) / ahead[:, None], allowed, bare, MEAN * self.most)
        planned = self._planned(lies_px, stops, ~tiles.ravel())
        return np.array(
            [
                stops[take(planned, self.most, seen[:, :, tile], chosen[tile]) - 1]
                for tile in np.flatnonzero(tiles)
            ]
        )

    def _planned(
        self, lies_px: NDArray[np.float64], stops: NDArray[np.float64], tiles: NDArray[np.bool_]
    ) -> NDArray[np.float64]:
        """How much (K,) is seen at K stops, where all tiles lie so, of some tiles by what has been drawn."""
        known = np.where(np.isfinite(self.drawn_px), self.drawn_px, 0.0)
        first, second = known.reshape(2, self.holds.size, -1)
        way, come = second - first, lies_px - first
        pairs = (way, way), (come, come), (way, come)
        gone, own, both = ((one * other).sum(-1) / known.shape[3] for one, other in pairs)
        bare = self.bare.ravel()
        seen = seen_levels(self.harsh.ravel() * off_px(gone, own, both, bare), bare)
        drawn = self.drawn_at.reshape(2, -1)
        still = tiles & np.isfinite(drawn).all(0) & (stops[:, None] < drawn.max(0))
        return np.asarray((seen * still * self.holds.ravel()).sum(1))

    def note_apart(self, apart: NDArray[np.float64], unlike: NDArray[np.bool_]) -> None:
        """Take note of how many levels (rows, cols) the two pictures of each tile are apart; not by its
        way alone where they are `unlike`: that makes no more of it."""
        gap_px = self._off_px(*np.where(np.isfinite(self.drawn_px), self.drawn_px, 0.0))
        known = (gap_px > KNOWN_PX) & np.isfinite(self.drawn_at).all(0) & (apart > 0.0)
        harsh = apart / np.maximum(gap_px, KNOWN_PX)
        harsh = np.where(unlike, np.minimum(harsh, self.harsh), harsh)
        self.harsh = np.where(known, harsh, self.harsh)

    def _moved_px(self, at: float, place: tuple[slice, ...] = ()) -> NDArray[np.float64]:
        rest, share = self.way.between(at)
        before, after = self.rests_px[rest][place], self.rests_px[rest + 1][place]
        return np.asarray(after if share == 1.0 else before + (after - before) * share)

    @staticmethod
    def _off_px(one: NDArray[np.float64], other: NDArray[np.float64]) -> NDArray[np.float64]:
        """How far tiles lie off where they lay, the root mean square of their places."""
        off = one - other
        return np.asarray(np.sqrt((off * off).sum(-1).mean(-1)))

    def _steep_at(self, at: float) -> NDArray[np.float64]:
        """How much steeper (rows, cols) ridges have got at most up to a time, summed up."""
        rest, share = self.way.between(at)
        steep = self._steep
        if not steep:
            steep[rest] = np.zeros(self.bare.shape)
        for known in range(max(steep), rest + 1):
            more = self.way.steepening(known, self.middles_mm.reshape(-1, 2), self.reach_mm)
            steep[known + 1] = steep[known] + more.reshape(self.bare.shape)
        return np.asarray(steep[rest] + (steep[rest + 1] - steep[rest]) * share)


def tile_px(window: Window) -> int:
    """How wide and high tiles over a window are: small ones cost more, and follow the cloth better."""
    return TILE_PX if min(window.rows, window.cols) >= LARGE_PX else SMALL_TILE_PX


def edge_px(halo_px: int) -> int:
    """How far before the window the first tile begins: tiles then end where those that are lit do."""
    return -(-halo_px // ALIGNED_PX) * ALIGNED_PX


def tiles_over(window: Window, halo_px: int) -> tuple[int, int]:
    """Rows and columns of tiles over a window and its halo."""
    edge = edge_px(halo_px)
    tile = tile_px(window)
    rows, cols = (-(-(side + edge + halo_px) // tile) for side in (window.rows, window.cols))
    return rows, cols


def _of_tiles(places: NDArray[np.float64], rows: int) -> NDArray[np.float64]:
    """From values (P, 2) at places half a tile apart those of each tile (rows, cols, 9, 2): in its middle, at
    its corners, and between those."""
    grid = places.reshape(2 * rows + 1, -1, 2)
    down, along = grid.shape[0] - 2, grid.shape[1] - 2
    return np.stack([grid[r : r + down : 2, c : c + along : 2] for r in range(3) for c in range(3)], 2)
