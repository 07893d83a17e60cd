"""Views, pictures, and the planes that a picture is drawn from."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING

from render.errors import UsageError
from render.model.arrays import freeze, lock

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from render.model.arrays import Floats, Ints


CLOTH = -1  # in planes that count stitches or blocks: no thread here


@dataclass(frozen=True, slots=True)
class View:
    """How the picture is framed: resolution, margin, turn and background.

    `width_px` sets the resolution from the picture's width instead of `dpi`. The turn is
    of the design on the cloth, clockwise as seen; a mirror image swaps left and right first. `worn`
    shows a cap's front on its curve.
    Raises UsageError for values that frame no picture.
    """

    dpi: float = 300.0
    width_px: int | None = None
    margin_mm: float = 6.0
    hoop_mm: tuple[float, float] | None = None
    rotate_deg: float = 0.0
    mirror: bool = False
    transparent: bool = False
    worn: bool = False

    def __post_init__(self) -> None:
        if not (isfinite(self.dpi) and self.dpi > 0):
            raise UsageError(f"{self.dpi:g} dpi make no picture: give a number above 0")
        if self.width_px is not None and self.width_px < 1:
            raise UsageError(f"a picture cannot have a width of {self.width_px} pixels: give 1 or more")
        if not (isfinite(self.margin_mm) and self.margin_mm >= 0):
            raise UsageError(f"a margin of {self.margin_mm:g} mm makes no picture: give 0 or more")
        if self.hoop_mm is not None and not all(isfinite(side) and side > 0 for side in self.hoop_mm):
            width, height = self.hoop_mm
            raise UsageError(f"a hoop of {width:g} x {height:g} mm makes no picture: give sides above 0")


@dataclass(frozen=True, slots=True)
class Window:
    """The rectangle of design space that a picture shows.

    `px_per_mm` pixels a millimetre, `rows` by `cols` pixels around `centre_mm`. Rows and columns count
    from the upper left corner, so that the middle of the first pixel lies at (0.5, 0.5).
    """

    centre_mm: tuple[float, float]
    px_per_mm: float
    rows: int
    cols: int

    @property
    def x_mm(self) -> Floats:
        """Where the middle of each column (cols,) lies."""
        import numpy as np

        steps = np.arange(self.cols, dtype=np.float64) + 0.5 - self.cols / 2
        return np.asarray(self.centre_mm[0] + steps / self.px_per_mm, np.float64)

    @property
    def y_mm(self) -> Floats:
        """Where the middle of each row (rows,) lies."""
        import numpy as np

        steps = np.arange(self.rows, dtype=np.float64) + 0.5 - self.rows / 2
        return np.asarray(self.centre_mm[1] + steps / self.px_per_mm, np.float64)

    def middle_mm(self, row: float, col: float) -> tuple[float, float]:
        """The middle of a pixel, or of the mean of some."""
        return (
            float(self.centre_mm[0] + (col + 0.5 - self.cols / 2) / self.px_per_mm),
            float(self.centre_mm[1] + (row + 0.5 - self.rows / 2) / self.px_per_mm),
        )

    def pixels_at(self, points_mm: Floats) -> tuple[Ints, Ints]:
        """Row and column (N,) of the pixels that points (N, 2) lie in, the nearest for those outside."""
        import numpy as np

        col, row = ((points_mm - self.centre_mm) * self.px_per_mm).T
        return (
            np.clip((row + self.rows / 2).astype(int), 0, self.rows - 1),
            np.clip((col + self.cols / 2).astype(int), 0, self.cols - 1),
        )


@dataclass(frozen=True, slots=True, eq=False)
class Layers:
    """The drawn picture in linear light, not yet put together.

    `thread_linear (rows, cols, 3)` is what thread adds, `cloth_linear` the lit cloth
    alone (0 where none of it can be seen), `cloth_share (rows, cols)` how much of the cloth's light
    is seen past thread and shadow, `covered` the share of the pixel that is thread. All float32."""

    thread_linear: NDArray[np.float32]
    cloth_linear: NDArray[np.float32]
    cloth_share: NDArray[np.float32]
    covered: NDArray[np.float32]

    def __post_init__(self) -> None:
        rows, cols = self.covered.shape
        # Made by the million, of what has been checked.
        lock(self, thread_linear=(rows, cols, 3), cloth_linear=(rows, cols, 3))
        lock(self, cloth_share=(rows, cols), covered=(rows, cols))


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A finished picture: `pixels (rows, cols, 3 or 4)` uint8 sRGB, alpha last, straight.

    `dpi` is its true scale; `notes` travel with it to the report.
    """

    pixels: NDArray[np.uint8]
    dpi: float
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        freeze(self, pixels=(-1, -1, self.pixels.shape[-1]))


@dataclass(frozen=True, slots=True, eq=False)
class Cover:
    """Which stitch lies on top where, at `window.px_per_mm`, one sample a pixel.

    `stitch (rows, cols)` int32 is the topmost stitch, `CLOTH` (-1) where there is none. Thread
    that is dragged, and tails, hide no stitch here: `loose (rows, cols)` int32 is the stitch that
    comes after the thread that lies over all, -1 where there is none.
    """

    stitch: NDArray[np.int32]
    loose: NDArray[np.int32]
    window: Window

    def __post_init__(self) -> None:
        shape = (self.window.rows, self.window.cols)
        freeze(self, stitch=shape, loose=shape)


@dataclass(frozen=True, slots=True, eq=False)
class ThreadPlanes:
    """What thread shows at each pixel and how it lies, `(rows, cols)` each.

    `order` int32 is the stitch that shows, or after which the thread was dragged that shows, `block`
    int32 the colour block, both `CLOTH` where there is none. `azimuth_deg` of its axis in [0, 180),
    `tilt_deg` of that axis out of the picture and `roll_deg` of its surface to the right are float32;
    `body` is the share of light that its shape and bare cloth within the pixel leave; bit k of `sides`
    uint8 says that a lamp reaches it from k eighths of a turn.
    """

    order: NDArray[np.int32]
    block: NDArray[np.int32]
    azimuth_deg: NDArray[np.float32]
    tilt_deg: NDArray[np.float32]
    roll_deg: NDArray[np.float32]
    body: NDArray[np.float32]
    sides: NDArray[np.uint8]

    def __post_init__(self) -> None:
        shape = self.order.shape
        freeze(self, order=(-1, -1), block=shape, azimuth_deg=shape, tilt_deg=shape, roll_deg=shape)
        freeze(self, body=shape, sides=shape)


@dataclass(frozen=True, slots=True, eq=False)
class Earlier:
    """What a piece looked like before: `order (rows, cols)` int32 is the stitch that showed then, as in
    `ThreadPlanes`."""

    layers: Layers
    order: NDArray[np.int32]

    def __post_init__(self) -> None:
        freeze(self, order=self.layers.covered.shape)


@dataclass(frozen=True, slots=True, eq=False)
class Relightable:
    """A drawn picture with its planes, and what each place looked like before.

    A place looks as it does in the picture once the stitch `final (rows, cols)` int32 is sewn,
    `CLOTH` where none comes near. Until then it looks like the first of `earlier` whose stitch is
    sewn, those of other colour blocks, the latest first; and like bare cloth before all.
    """

    layers: Layers
    planes: ThreadPlanes
    final: NDArray[np.int32]
    earlier: tuple[Earlier, ...]

    def __post_init__(self) -> None:
        freeze(self, final=self.planes.order.shape)
