"""How much of the picture a single thread covers, against geometry."""

from __future__ import annotations

import math

import naive
import numpy as np
import pytest
from numpy.typing import NDArray

from render.draw import profile, raster, section
from render.draw.pixel_strands import PixelStrands

Floats = NDArray[np.float64]
PX_PER_MM = 10.0
SCATTERED = np.random.default_rng(1).uniform(0, 0.5, (16, 2))


def _covered_px(*, length_px: float, width_px: float, angle_deg: float, sides_mm: Floats) -> float:
    """Pixels that a straight strand without dives covers, of half-width `sides_mm` at evenly spaced
    places and at most `width_px` wide: the mean over 16 places on the grid."""
    heading = np.array([math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))])
    size = 2 * int(length_px / 2 + width_px)
    course = np.zeros((len(sides_mm), profile.COLUMNS), np.float32)
    course[:, profile.HALF_HEIGHT] = sides_mm
    course[:, profile.SLIMNESS] = 1 / (sides_mm * PX_PER_MM)
    covered = 0
    for place in range(16):
        # The grid repeats itself after two sub-pixels.
        off = np.array([place % 4, place // 4]) / 2 + SCATTERED[place]
        strands = PixelStrands(
            (off - heading * length_px / 2)[None],
            (off + heading * length_px / 2)[None],
            np.array([[*heading, length_px]]),
            np.array([width_px / 2]),
            course,
            np.array([0, len(sides_mm)]),
            PX_PER_MM,
        )
        drawn = raster.rasterise(strands, np.arange(1), (0, 0, size, size), (size, size))
        covered += int((drawn.strand == 0).sum())
    return covered / 16


# A capsule of length L and width w covers L w + pi w^2 / 4 (geometry). Thread ends go down into the
# cloth: their caps are half-ellipses that reach `CAP` of the half-width, so together they cover
# `CAP` pi w^2 / 4.
@pytest.mark.parametrize("angle_deg", [0, 10, 22.5, 37, 45, 71, 90, 133])
def test_covered_area(angle_deg: float) -> None:
    length, width = 100.0, 14.0
    sides_mm = np.full(3, width / 2 / PX_PER_MM)
    got = _covered_px(length_px=length, width_px=width, angle_deg=angle_deg, sides_mm=sides_mm)
    capsule = length * width + math.pi * width**2 / 4
    assert got == pytest.approx(length * width + raster.CAP * math.pi * width**2 / 4, rel=0.005)
    assert got != pytest.approx(capsule, rel=0.02)


@pytest.mark.compiled
@pytest.mark.parametrize("angle_deg", [0, 10, 22.5, 37, 45, 71, 90, 133])
def test_covered_area_of_thread_of_uneven_width(angle_deg: float) -> None:
    """It covers the integral of its own width."""
    length, width = 400.0, 14.0
    places_mm = np.linspace(0, length / PX_PER_MM, 401)
    waves = np.array([naive.noise1(s / section.UNEVEN_MM, 5) for s in places_mm])
    share = 1 - section.UNEVEN_WIDTH * (1 + waves) / 2
    caps = raster.CAP * math.pi * width**2 / 8 * (share[0] + share[-1])
    sides_mm = share * width / 2 / PX_PER_MM
    got = _covered_px(length_px=length, width_px=width, angle_deg=angle_deg, sides_mm=sides_mm)
    assert got == pytest.approx(length * width * share.mean() + caps, rel=0.005)
