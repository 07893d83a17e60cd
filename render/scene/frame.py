"""The finished picture's frame, and a garment set up in it: all that needs neither a design nor a dye."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from render.colour import to_linear
from render.errors import UsageError
from render.scene.cloth import undyed_for
from render.scene.light import lamps_of
from render.scene.view import stage

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Colour, Job
    from render.scene.cloth import Undyed
    from render.scene.light import Lamps
    from render.scene.mesh import Part
    from render.scene.setting import Setting
    from render.scene.view import Stage

# Height of a picture as a share of its width.
SHAPES = {"square": 1.0, "portrait": 1.25, "landscape": 0.75, "wide": 0.5625}
LOWEST = SHAPES["landscape"]  # that cameras are set up for
LEAST_PX, MOST_PX = 64, 8000


@dataclass(frozen=True, slots=True)
class Frame:
    """The finished picture: size in pixels, whether cut out, and how dark its corners get."""

    rows: int
    cols: int
    transparent: bool = False
    backdrop_srgb: Colour | None = None
    vignette: float | None = None


def frame_of(
    shape: str,
    width_px: int,
    *,
    transparent: bool = False,
    backdrop_srgb: Colour | None = None,
    vignette: float | None = None,
) -> Frame:
    """The picture's size and what is around the garment. Raises UsageError."""
    if shape not in SHAPES:
        raise UsageError(f"there is no shape {shape!r}: choose {', '.join(SHAPES)}")
    if not LEAST_PX <= width_px <= MOST_PX:
        raise UsageError(f"a scene is {LEAST_PX} to {MOST_PX} pixels wide, not {width_px}")
    if vignette is not None and not 0.0 <= vignette <= 1.0:
        raise UsageError(f"a vignette of {vignette:g} is no share: give 0 (none) to 1 (black corners)")
    return Frame(round(width_px * SHAPES[shape]), width_px, transparent, backdrop_srgb, vignette)


@dataclass(frozen=True, slots=True, eq=False)
class SetUp:
    """A garment before the camera under the light, before anything is sewn or dyed."""

    here: Stage
    undyed: Undyed
    lamps: Lamps
    frame: Frame


def set_up(setting: Setting, job: Job, frame: Frame) -> SetUp:
    """What needs neither the design nor a colour."""
    if frame.transparent:
        setting = replace(setting, parts=tuple(part for part in setting.parts if not part.ground))
    elif frame.backdrop_srgb is not None:
        setting = replace(setting, parts=tuple(_before(part, frame.backdrop_srgb) for part in setting.parts))
    here = stage(framed(setting, frame), job.light, frame.rows, frame.cols)
    return SetUp(here, undyed_for(here, job), lamps_of(job.light), frame)


def _before(part: Part, backdrop_srgb: Colour) -> Part:
    """The part; if it is what the garment stands or lies on, of the backdrop's colour."""
    if not part.ground:
        return part
    return replace(part, material=replace(part.material, colour_srgb=backdrop_srgb))


def framed(setting: Setting, frame: Frame) -> Setting:
    """The setting, its camera lowered where so high a picture would show more than there is above, and
    farther off where so low a one would cut through a garment that stands free."""
    camera = setting.camera
    if setting.cut_out and frame.rows < LOWEST * frame.cols:
        whole = camera.field_mm * LOWEST * frame.cols / frame.rows
        return replace(setting, camera=replace(camera, field_mm=whole))
    over = camera.field_mm * frame.rows / frame.cols / 2 - (setting.above_mm or np.inf)
    if over <= 0:
        return setting
    x, y, z = camera.target_mm
    return replace(setting, camera=replace(camera, target_mm=(x, y + over, z)))


def backdrop_of(setting: Setting, frame: Frame) -> NDArray[np.float32]:
    """Linear light (rows, 1, 3) past everything."""
    pair = setting.backdrop_srgb if frame.backdrop_srgb is None else (frame.backdrop_srgb,) * 2
    upper, lower = (to_linear(np.array(colour)) for colour in pair)
    share = np.linspace(0, 1, frame.rows)[:, None, None]
    return np.asarray(upper + (lower - upper) * share, np.float32)
