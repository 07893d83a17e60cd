"""What the screen proof shows when its lamp moves: the arithmetic of its shaders, in Python."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.colour import to_srgb
from render.compose.encoding import shoulder
from render.proof.web_light import BODIES, REST_TOP, MovingLamp, Steps, exposure, from_lamp, to_light


def rest_of(
    lamp: MovingLamp, steps: Steps, picture: NDArray[np.uint8], azimuth_deg: float, elevation_deg: float
) -> NDArray[np.uint8]:
    """The picture without its main lamp: the square root of light, in bytes (rows, cols, 3)."""
    light = to_light(picture) - from_lamp(lamp, steps, body_of(steps), azimuth_deg, elevation_deg)
    return np.asarray(np.floor(np.sqrt(np.clip(light / REST_TOP, 0.0, 1.0)) * 255.0 + 0.5), np.uint8)


def relit(
    lamp: MovingLamp, steps: Steps, rest: NDArray[np.uint8], azimuth_deg: float, elevation_deg: float
) -> NDArray[np.uint8]:
    """The picture with the main lamp elsewhere: what the page shows, sRGB (rows, cols, 3)."""
    expose = exposure(lamp, lamp.elevation_deg) / exposure(lamp, elevation_deg)
    # Cloth lies as flat as the card that sets the exposure: it stays as it is.
    light = (rest / 255.0) ** 2 * REST_TOP * np.where(steps.block[..., None] > 0, expose, 1.0)
    light = light + from_lamp(lamp, steps, body_of(steps), azimuth_deg, elevation_deg)
    return np.asarray(np.rint(to_srgb(shoulder(light.astype(np.float32))) * 255.0), np.uint8)


def body_of(steps: Steps) -> NDArray[np.float64]:
    """The share of light that the thread's shape leaves, as kept."""
    return np.asarray((steps.body + 0.5) / BODIES)
