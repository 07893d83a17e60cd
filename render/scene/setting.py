"""A setting: a garment as it is photographed, before anything is sewn on it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from render.model import Colour, Fabric
    from render.scene.camera import Camera
    from render.scene.mesh import Part


@dataclass(frozen=True, slots=True, eq=False)
class Setting:
    """A garment's parts in space, the camera, and what it is made of unless the job says otherwise.

    The middle of the design lies at the origin of the flat cloth of the part that is `sewn`, moved
    by `place_mm`. `room_mm` is how wide and how high a design can sensibly be there. `colour_srgb`
    of the garment, `trim_srgb` of its trim. `backdrop_srgb` is what is seen past everything, at the
    top and at the bottom of the picture. `cut_out` is true where the garment can stand alone.
    `aims` is true for a camera that shows a part of the design alone: it looks where most thread is.
    A picture that would reach more than `above_mm` over the camera's target looks lower instead.
    `falls_off` is the share of light that is lost from the middle of the picture over half its width, away
    from the key lamp, where that is near.
    `exposure` is what is made of a white card: below 1 highlights have room above it.
    `lay` gives the parts as they come to lie of a cloth and by a seed, where that makes a difference.
    """

    name: str
    parts: tuple[Part, ...]
    camera: Camera
    fabric: str
    colour_srgb: Colour
    trim_srgb: Colour
    room_mm: tuple[float, float]
    place_mm: tuple[float, float] = (0.0, 0.0)
    light: str = "soft-studio"
    backdrop_srgb: tuple[Colour, Colour] = ((0.86, 0.86, 0.86), (0.78, 0.78, 0.78))
    cut_out: bool = False
    vignette: float = 0.12
    falls_off: float = 0.0
    exposure: float = 1.0
    above_mm: float | None = None
    aims: bool = False
    lay: Callable[[Fabric, int], tuple[Part, ...]] | None = None
