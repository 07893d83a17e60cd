"""How much of the picture a single thread covers, against geometry."""

from __future__ import annotations

import math

import naive
import numpy as np
import pytest
from numpy.typing import NDArray

from render.draw import raster


def _covered_px(*, length_px: float, width_px: float, angle_deg: float, word: int = 5) -> float:
    """Pixels that a straight strand without dives covers: the mean over 16 places on the grid."""
    heading = np.array([math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))])
    size = 2 * int(length_px / 2 + width_px)
    covered = 0
    for place in range(16):
        off = np.array([place % 4, place // 4]) / 4 + 1 / 8
        strand, height, along, across = _blank(size)
        raster.raster(
            (off - heading * length_px / 2)[None],
            (off + heading * length_px / 2)[None],
            np.array([width_px / 2]),
            np.array([0.05]),
            np.zeros((1, 2), bool),
            np.zeros(3, np.float32),
            np.array([0, 3]),
            np.zeros(1),
            np.array([word], np.uint32),
            np.arange(1),
            np.array([0.5 - size / 2, 0.5 - size / 2, 10.0]),
            height,
            strand,
            along,
            across,
        )
        covered += int((strand == 0).sum())
    return covered / 16


def _blank(size: int) -> tuple[NDArray[np.int32], *tuple[NDArray[np.float32], ...]]:
    floats = (np.full((size, size), v, np.float32) for v in (raster.NOTHING, 0, 0))
    return np.full((size, size), -1, np.int32), *floats


# A capsule of length L and width w covers L w + pi w^2 / 4 (geometry). Thread ends go down into
# the cloth: their caps are half-ellipses half as long, so together they cover pi w^2 / 8.
@pytest.mark.parametrize("angle_deg", [0, 10, 22.5, 37, 45, 71, 90, 133])
def test_covered_area(angle_deg: float, monkeypatch: pytest.MonkeyPatch) -> None:
    # The uncompiled kernel reads its constants as they are now: here thread of even width.
    monkeypatch.setattr(raster, "UNEVEN_WIDTH", 0.0)
    monkeypatch.setattr(raster, "raster", getattr(raster.raster, "py_func", raster.raster))
    length, width = 100.0, 14.0
    got = _covered_px(length_px=length, width_px=width, angle_deg=angle_deg)
    capsule = length * width + math.pi * width**2 / 4
    assert got == pytest.approx(length * width + math.pi * width**2 / 8, rel=0.005)
    assert got != pytest.approx(capsule, rel=0.02)


@pytest.mark.parametrize("angle_deg", [0, 10, 22.5, 37, 45, 71, 90, 133])
def test_covered_area_of_thread_of_uneven_width(angle_deg: float) -> None:
    """The kernel as it runs: it covers the integral of its own width."""
    length, width = 400.0, 14.0
    places_mm = np.linspace(0, length / 10, 4001)
    waves = np.array([naive.noise1(s / raster.UNEVEN_MM, 5) for s in places_mm])
    share = 1 - raster.UNEVEN_WIDTH * (1 + waves) / 2
    caps = math.pi * width**2 / 16 * (share[0] + share[-1])
    got = _covered_px(length_px=length, width_px=width, angle_deg=angle_deg)
    assert got == pytest.approx(length * width * share.mean() + caps, rel=0.005)
