"""Strands where the pixels of one window lie.

Pixel coordinates count from the middle of the window, so a turned or mirrored design
lands on exactly turned or mirrored pixels. Positions are snapped to 1/1024 pixel.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.draw.profile import thread_profile

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.stack import Stack
    from render.draw.strands import Strands
    from render.model import Floats

SNAP_PER_PX = 1024.0


@dataclass(frozen=True, slots=True, eq=False)
class PixelStrands:
    """Strands in the pixel frame of one window; `px_per_mm` already includes supersampling.

    `run` (N, 3) is the unit vector from start to end and the length in pixels; `half_width_px` the
    most that a strand reaches to either side; its course is `profile`, see `thread_profile`:
    strand i owns rows `first[i]` to `first[i+1]`.
    """

    start_px: Floats
    end_px: Floats
    run: Floats
    half_width_px: Floats
    profile: NDArray[np.float32]
    first: NDArray[np.int64]
    px_per_mm: float


def to_pixels(
    strands: Strands,
    stacked: Stack,
    centre_mm: tuple[float, float],
    px_per_mm: float,
    twist: float = 1.0,
) -> PixelStrands:
    """Strands as seen in a window around `centre_mm` (design space); `twist` 1 is Z, -1 is S."""
    offset = np.array(strands.anchor_mm) - np.array(centre_mm)

    def snapped(points: Floats) -> NDArray[np.float64]:
        return np.asarray(np.round((points + offset) * px_per_mm * SNAP_PER_PX) / SNAP_PER_PX)

    start, end = snapped(strands.start_mm), snapped(strands.end_mm)
    profile, half_width_px = thread_profile(strands, stacked, px_per_mm, twist)
    length = np.hypot(*(end - start).T)[:, None]
    return PixelStrands(
        start,
        end,
        np.concatenate([(end - start) / np.maximum(length, 1e-9), length], 1),
        half_width_px,
        profile,
        stacked.first,
        px_per_mm,
    )
