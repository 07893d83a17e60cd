"""Patches of parallel satin stitches, as they are path-traced."""

from __future__ import annotations

import numpy as np
from reference.trace import FIBRES, Camera, Cord, Floats, trace

PI = float(np.pi)  # irradiance: a white card that faces the lamp has radiance 1
LENGTH_MM = 4.0
ARCH_MM = 0.2


def arch_mm(x_mm: Floats) -> Floats:
    """Rise of a stitch that ends at +-2 mm."""
    return np.asarray(ARCH_MM * (1 - np.abs(2 * x_mm / LENGTH_MM) ** 3))


def patch(
    *,
    lines: int,
    spacing_mm: float,
    half_width_mm: float,
    half_height_mm: float,
    turns_per_mm: float,
    seed: int = 1,
) -> list[Cord]:
    """Stitches along x side by side, arched, each with its twist at a random place."""
    x = np.linspace(-LENGTH_MM / 2, LENGTH_MM / 2, 81)
    cords = []
    for i, phase in enumerate(np.random.default_rng(seed).uniform(0, 2 * PI, lines)):
        y = np.full_like(x, (i - (lines - 1) / 2) * spacing_mm)
        cords.append(
            Cord(
                np.stack([x, y, arch_mm(x) + half_height_mm], 1),
                np.full_like(x, half_width_mm),
                np.full_like(x, half_height_mm),
                2 * PI * turns_per_mm * x + phase,
            )
        )
    return cords


# A 26.7 tex rayon thread has 0.0275 mm2 at a packing of 0.65, and lies flat; satin of 0.4 mm between
# needle points on one edge has a line every 0.2 mm, and they overlap.
TRUE = {"lines": 22, "spacing_mm": 0.2, "half_width_mm": 0.18, "half_height_mm": 0.05}
TRUE_TWIST = 0.55
LEANING = {"azimuth_deg": 45.0, "elevation_deg": 45.0}  # the one view that is not straight down


def mean_radiance(
    cords: list[Cord],
    kind: str,
    azimuth_deg: float,
    elevation_deg: float,
    *,
    camera: Camera,
    samples: int,
    seed: int,
) -> Floats:
    """Mean colour (3,) of the middle of a patch under one lamp."""
    lamp = (azimuth_deg, elevation_deg, 0.0, PI)
    picture = trace(
        cords, fibre=FIBRES[kind], lamps=[lamp], dome=0.0, camera=camera, samples=samples, seed=seed
    )
    return np.asarray(picture.mean((0, 1)))


def true_camera(leaning: bool, side_px: int = 64) -> Camera:
    """The middle 2 mm of the true patch, where no end shows."""
    return Camera((0.0, 0.0), 2.0, side_px, side_px, **(LEANING if leaning else {}))
