"""A window in which stitches land on moving cloth: two pictures of it, between which lies what is to be seen.

How a pixel changes while the cloth carries things on by a part of a pixel is nearly a straight line, and a
line is found from two drawings. So tiles are drawn much more seldom than if the nearer drawing were shown.
"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from render.draw.carried import Carried
from render.draw.growing import Growing

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from render.draw.layers import Drawing
    from render.draw.way import Way
    from render.model import Floats, Layers

    TakeOf = Callable[[int, tuple[int, int, int, int], Layers], None]


class Between:
    """Two `Growing` drawings of a piece, both with all stitches so far; each tile is drawn in turns in one,
    as the cloth lay, and in the other, as it will lie. `way` and `laid` are as for `Growing`, `shown` as for
    `Carried`."""

    def __init__(
        self,
        drawing: Drawing,
        way: Way,
        *,
        laid: tuple[int, ...] = (),
        shown: Floats | None = None,
        workers: int | None = None,
    ) -> None:
        self.laid, self.pieces = laid, 0
        self.carried = Carried(
            way, drawing.window, drawing.halo_px, shown, cloth_linear=drawing.ground.below_linear
        )
        # Each worker keeps the memory that it has worked in: both pictures share them.
        self.workers = ThreadPoolExecutor(workers or os.cpu_count() or 1)
        self.two = tuple(Growing(drawing, way, laid=laid, pool=self.workers) for _ in range(2))
        self.pool = ThreadPoolExecutor(2)

    def grow(
        self, stitches: int, take: TakeOf, *, cloth: float | None = None, slack: float = 1.0
    ) -> NDArray[np.int32]:
        """As `Growing.grow`; `take` is also told which of the two it is, 0 or 1.

        Gives how much (rows, cols), of 256, of each tile is shown of the second picture.
        With `slack` 0 the first shows all as it is, and the second is left as it was.
        """
        at = float(stitches) if cloth is None else cloth
        pieces = sum(stitch <= stitches for stitch in self.laid)
        if pieces != self.pieces:
            self.carried.forget()
        self.pieces = pieces
        self.carried.bare = 0.5 * (self.two[0].bare + self.two[1].bare)
        due = self.carried.due(at, slack)
        shares = np.rint(256 * self.carried.shares(at)).astype(np.int32)

        def draw(which: int) -> None:
            hidden = None if slack == 0.0 else shares == (256, 0)[which]
            self.two[which].grow(
                stitches, partial(take, which), cloth=at, slack=slack, due=due[which], hidden=hidden
            )

        list(self.pool.map(draw, (0,) if slack == 0.0 else (0, 1)))
        return shares

    def note_apart(self, apart: NDArray[np.float64]) -> None:
        """Take note of how many levels (rows, cols) the two pictures of each tile are apart, as they are to
        be seen: tiles that differ more are drawn again sooner."""
        self.carried.note_apart(apart, self.two[0].waits() | self.two[1].waits())

    def release(self) -> None:
        """Let go of the buffers, when nothing more is drawn."""
        for one in self.two:
            one.release()
