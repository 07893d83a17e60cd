"""How the stitching has drawn the cloth of the sewn part together, where a scene looks at it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.draw.aside import aside_of
from render.draw.cloth.lattice import STEP_MM, lattice_around, reached_mm
from render.draw.seen_move import seen_move
from render.model import freeze

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Sewn

AROUND_MM = 40.0  # farther from the design cloth has moved evenly


@dataclass(frozen=True, slots=True, eq=False)
class DrawnIn:
    """How far the cloth seen at places `STEP_MM` apart has moved: `back_mm` (2, rows, cols), x and y.

    The first place lies at `first_mm` of the sewn part's flat cloth; beyond the last it has moved as there.
    """

    back_mm: NDArray[np.float32]
    first_mm: tuple[float, float]

    def __post_init__(self) -> None:
        freeze(self, back_mm=(2, -1, -1))

    def lay(self, places_mm: NDArray[np.float32]) -> NDArray[np.float32]:
        """Where the cloth lay that is seen at places (G, 2) of the flat cloth."""
        from scipy.ndimage import map_coordinates

        at = ((places_mm - np.array(self.first_mm, np.float32)) / np.float32(STEP_MM)).T[::-1]
        back = [map_coordinates(one, at, order=1, mode="nearest") for one in self.back_mm]
        return np.asarray(places_mm - np.stack(back, 1), np.float32)


def drawn_in(sewn: Sewn, offset_mm: tuple[float, float], seed: int) -> DrawnIn | None:
    """Around a sewn design, None on cloth that lies still; `offset_mm` takes flat cloth to design space."""
    if sewn.cloth is None:
        return None
    low, high = np.reshape(sewn.plan.box_mm, (2, 2))
    x, y = (np.array([low[axis] - AROUND_MM, high[axis] + AROUND_MM]) for axis in (0, 1))
    move = seen_move(sewn.cloth, reached_mm(x), reached_mm(y), (aside_of(sewn, seed),))
    lattice = lattice_around(x, y, move)
    first = STEP_MM * np.array(lattice.first) - offset_mm
    back = np.moveaxis(lattice.back_mm, -1, 0).astype(np.float32)
    return DrawnIn(back, (float(first[0]), float(first[1])))
