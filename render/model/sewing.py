"""What the cloth does while the stitches go in."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from render.model.arrays import freeze

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from render.model.arrays import Floats
    from render.model.design import SewPlan

BUCKLES = 0.2  # compression with which cloth of 1 N mm gives way (calibrated to common practice)


@dataclass(frozen=True, slots=True, eq=False)
class ClothMove:
    """How far the finished cloth has moved from where it lay in the hoop before the first stitch.

    `u_mm (rows, cols, 2)` at even points: row r, column c belongs to the cloth that lay at
    `origin_mm` + `cell_mm` (c, r). `pucker (rows, cols)` uint8 is 0 low, 1 medium, 2 high. `bending_n_mm`
    is the stiffness with which the cloth resists bending.
    """

    u_mm: Floats
    pucker: NDArray[np.uint8]
    origin_mm: tuple[float, float]
    cell_mm: float
    bending_n_mm: float = 0.01

    def __post_init__(self) -> None:
        freeze(self, u_mm=(*self.pucker.shape, 2), pucker=(-1, -1))

    @property
    def buckles_at(self) -> float:
        """Compression beyond which the cloth buckles: a sheet on an elastic bed gives way under
        2 sqrt(bending x bed) (Hetenyi, Beams on Elastic Foundation, 1946). The bed, its stabiliser, and how
        little cloth resists being pressed together before that are alike for all cloths (estimate)."""
        return BUCKLES * math.sqrt(self.bending_n_mm)


@dataclass(frozen=True, slots=True)
class ClothRest:
    """How the cloth lay in the hoop once so many stitches were sewn."""

    stitches: int
    move: ClothMove


@dataclass(frozen=True, slots=True)
class ObjectMove:
    """One object as programmed and as sewn, mm; its `index` is that of the plan's object.

    Width is along the main direction of the thread (nan where an object has none), push what
    the object gains across it, both ends together, and shift how far its middle has moved.
    """

    index: int
    programmed_width_mm: float
    sewn_width_mm: float
    push_mm: float
    shift_mm: tuple[float, float]

    @property
    def pull_in_mm(self) -> float:
        """How much narrower the object is sewn than programmed; negative where it is wider."""
        return self.programmed_width_mm - self.sewn_width_mm


@dataclass(frozen=True, slots=True, eq=False)
class Sewn:
    """Where the stitches end up on the finished cloth, `(S, 2)` each.

    While the cloth lies still these are the programmed places, `cloth` and `give_mm` are None
    and `objects` empty. `give_mm (S, 2, 2)` is what needle holes have given way at the start and
    at the end of each stitch; the rest of the way from the programmed place the cloth has moved.
    `rests`, where they are asked for, is how the cloth lay on the way, from few stitches to all.
    """

    plan: SewPlan
    start_mm: Floats
    end_mm: Floats
    notes: tuple[str, ...] = ()
    cloth: ClothMove | None = None
    objects: tuple[ObjectMove, ...] = ()
    give_mm: Floats | None = None
    rests: tuple[ClothRest, ...] = ()

    def __post_init__(self) -> None:
        freeze(self, start_mm=(len(self.plan.start_mm), 2), end_mm=(len(self.plan.start_mm), 2))
        if self.give_mm is not None:
            freeze(self, give_mm=(len(self.plan.start_mm), 2, 2))
