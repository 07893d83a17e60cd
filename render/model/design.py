"""What a stitch file says, and what is understood of it: designs, objects, travels, plans."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING, Literal

from render.model.arrays import freeze

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from render.model.arrays import Colour, Floats, Ints


class Command(IntEnum):
    """What the machine does at one record of a stitch file."""

    STITCH = 0
    JUMP = 1
    TRIM = 2
    COLOUR_CHANGE = 3
    STOP = 4
    SEQUIN = 5


TrimRule = Literal["explicit", "every-jump", "inferred", "by-length", "never"]


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """A stitch file as read: every record in order, nothing interpreted yet.

    `xy_mm (N, 2)` float64 is where each record ends, `command (N,)` uint8 a `Command`.
    A STITCH is a needle point; a JUMP moves without one; TRIM, COLOUR_CHANGE, STOP and
    SEQUIN happen at their point. `colours_srgb` has one entry a colour block as far as
    the file knows it, None where it does not. `trim_rule` says how the format tells cuts:
    with codes, on every jump, not at all (then a run of jumps, or from some length on any jump,
    may or may not cut, depending on the machine), or the machine never cuts. `long_stitches_split` is true
    for formats that write a long stitch as jumps ending in a stitch with the same step.
    """

    name: str
    format: str
    xy_mm: Floats
    command: Ints
    colours_srgb: tuple[Colour | None, ...]
    trim_rule: TrimRule
    long_stitches_split: bool
    sha256: str
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        freeze(self, xy_mm=(-1, 2), command=(len(self.xy_mm),))


Cut = Literal["no", "yes", "depends"]


@dataclass(frozen=True, slots=True)
class Travel:
    """Thread dragged, or cut, between two needle points.

    `after_stitch` is the index of the last stitch before it (-1: before the first).
    """

    from_mm: tuple[float, float]
    to_mm: tuple[float, float]
    after_stitch: int
    colour_block: int
    cut: Cut
    reason: str

    @property
    def length_mm(self) -> float:
        """From needle point to needle point as programmed."""
        return math.dist(self.from_mm, self.to_mm)


StitchKind = Literal[
    "running", "bean", "satin", "split-satin", "e-stitch", "fill", "cross-stitch", "underlay", "tie"
]
SATIN_KINDS: tuple[StitchKind, ...] = ("satin", "split-satin")
AREA_KINDS: tuple[StitchKind, ...] = ("fill", *SATIN_KINDS)  # what closes an area with rows
HIDDEN_KINDS: tuple[StitchKind, ...] = ("tie", "underlay")  # meant not to be seen


@dataclass(frozen=True, slots=True)
class SewnObject:
    """A run of stitches of one character: `first` to `last` stitch, both included.

    `row_spacing_mm` is the distance of neighbouring rows (fill) or of neighbouring
    penetrations on one edge (satin), nan where there are none; `angle_deg` the main
    direction of the thread in [0, 180); `width_mm` the extent across the object's axis
    and `length_mm` along it. An object of kind underlay or tie says in `serves` which
    kind of stitch it is made of.
    """

    index: int
    kind: StitchKind
    first: int
    last: int
    colour_block: int
    row_spacing_mm: float
    angle_deg: float
    width_mm: float
    length_mm: float
    serves: StitchKind | None = None


@dataclass(frozen=True, slots=True)
class ColourBlock:
    """Consecutive stitches of one thread: `first` to `last`, both included.

    `ends_with` is what ends it: a colour change, a stop, or the end of the design.
    """

    index: int
    first: int
    last: int
    ends_with: Literal["colour-change", "stop", "end"]


@dataclass(frozen=True, slots=True, eq=False)
class SewPlan:
    """What will be sewn, in order.

    Stitch i lies on the cloth from `start_mm[i]` to `end_mm[i]` (S, 2). `thread_breaks`
    (S,) bool is true where the thread does not come from the stitch before (after a
    travel, cut or colour change). `colour_block`, `object_index` (S,) int32.
    `sequins_mm (Q, 2)` with `sequin_block (Q,)`.
    """

    start_mm: Floats
    end_mm: Floats
    thread_breaks: NDArray[np.bool_]
    colour_block: Ints
    object_index: Ints
    travels: tuple[Travel, ...]
    blocks: tuple[ColourBlock, ...]
    objects: tuple[SewnObject, ...]
    sequins_mm: Floats
    sequin_block: Ints
    trims: int
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        n = len(self.start_mm)
        freeze(self, start_mm=(-1, 2), end_mm=(n, 2), thread_breaks=(n,))
        freeze(self, colour_block=(n,), object_index=(n,))
        freeze(self, sequins_mm=(-1, 2), sequin_block=(len(self.sequins_mm),))

    @property
    def box_mm(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom of all needle points and sequins."""
        import numpy as np

        # An axis at a time: over both at once it takes ten times as long.
        x, y = np.concatenate([self.start_mm, self.end_mm, self.sequins_mm]).T
        return float(x.min()), float(y.min()), float(x.max()), float(y.max())
