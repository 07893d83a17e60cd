"""Turns of cloth and light: exact where they are quarter turns, so that a turned piece is the same piece."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Lamp


def lamp_towards(lamp: Lamp, *, turn_deg: float, mirrored: bool) -> NDArray[np.float64]:
    """Unit vector to the lamp in the cloth's own frame; exact under quarter turns and mirroring."""
    azimuth = lamp.azimuth_deg - turn_deg
    if mirrored:
        azimuth = 180.0 - azimuth
    x, y = exact_turn(azimuth)
    up = np.sin(np.deg2rad(lamp.elevation_deg))
    flat = np.sqrt(max(1.0 - up * up, 0.0))
    return np.array([flat * x, flat * y, up])


def exact_turn(angle_deg: float) -> tuple[float, float]:
    """Cosine and sine of an angle; quarter turns permute and negate the same two numbers."""
    quarter, rest = divmod(angle_deg % 360.0, 90.0)
    if rest <= 45.0:
        c, s = float(np.cos(np.deg2rad(rest))), float(np.sin(np.deg2rad(rest)))
    else:
        c, s = float(np.sin(np.deg2rad(90.0 - rest))), float(np.cos(np.deg2rad(90.0 - rest)))
    return ((c, s), (-s, c), (-c, -s), (s, -c))[int(quarter)]
