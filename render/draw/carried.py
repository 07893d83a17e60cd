"""Which tiles of a window the moving cloth has carried on since they were drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.draw.way import moved_mm

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.way import Way
    from render.model import ClothMove, Window

TILE_PX = 64
# Stitches are drawn again once the cloth has carried them further than this: beyond it their edges are off,
# or which thread lies on which, and frames no longer the stills that they should be.
CARRIED_PX, CARRIED_MM = 0.25, 0.02
STEEPER = 0.02  # and lit again once its ridges have got steeper by this: no step is seen then (by eye)


class Carried:
    """Tiles of `TILE_PX` over a window and its halo; each remembers how the cloth lay when it was drawn."""

    def __init__(self, way: Way, window: Window, halo_px: int) -> None:
        self.way, self.px_per_mm = way, window.px_per_mm
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
        self.drawn_mm = np.full((rows, cols, 4, 2), np.inf)  # the movement at its corners
        self.steeper = np.zeros((rows, cols))
        self.at = 0.0
        self._interval: tuple[int, NDArray[np.float64]] | None = None

    def stale(self, move: ClothMove, slack: float) -> NDArray[np.bool_]:
        """The tiles (rows, cols) to draw again now that the cloth lies so; they are taken as drawn.
        With `slack` 0 all that have moved by however little."""
        now = moved_mm(move, self.corners_mm).reshape(self.drawn_mm.shape[0] + 1, -1, 2)
        now = np.stack([now[:-1, :-1], now[:-1, 1:], now[1:, :-1], now[1:, 1:]], 2)
        far = np.hypot(*np.moveaxis(now - self.drawn_mm, -1, 0)).max(-1) * self.px_per_mm
        stale: NDArray[np.bool_] = far > slack * min(CARRIED_PX, CARRIED_MM * self.px_per_mm)
        self.drawn_mm[stale] = now[stale]
        self.steeper[stale] = 0.0
        return stale

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
            flat = self.way.steepening(rest, self.middles_mm.reshape(-1, 2), 0.5 * TILE_PX / self.px_per_mm)
            self._interval = (rest, flat.reshape(self.steeper.shape))
        return self._interval[1]
