"""Planes of a picture that is lit anew: the kernel against its slow twin."""

from __future__ import annotations

from unittest.mock import patch

import naive
import numpy as np
import pytest
import samples

from render.draw import surface as lies
from render.draw.layers import Drawing, prepare, raster_part
from render.draw.planes_kernel import lie_in_pixels
from render.draw.sheen import AZIMUTH_STEPS, COLUMNS, ROLL_STEPS, TILT_STEPS, SheenTable
from render.draw.stack import stack_strands
from render.draw.strands import strands_of
from render.draw.surface import AZIMUTH_UNIT, thread_surface
from render.materials.fibres import load_fibres
from render.model import Sewn, Window

THREADS = (samples.RED, samples.CREAM, samples.GOLD)
WINDOW = Window((0.0, 0.0), 8.0, 64, 72)
STEP_DEG = 360 / (AZIMUTH_STEPS * AZIMUTH_UNIT)


@pytest.fixture(scope="module")
def sewn() -> Sewn:
    return samples.layered()


@pytest.fixture(scope="module")
def drawing(sewn: Sewn) -> Drawing:
    strands = strands_of(sewn, THREADS, samples.JOB)
    # Cloth has no part in how thread lies, and takes minutes uncompiled.
    level = samples.level_ground(np.zeros(3))
    # Nor has light, whose table takes as long.
    shape = (AZIMUTH_STEPS, TILT_STEPS, ROLL_STEPS, COLUMNS)
    even = SheenTable(np.full(shape, 0.1, np.float32), np.full(shape[1:3], 0.1), 1.0)
    with patch("render.draw.shading.sheen_table", lambda *_: even):
        return prepare(
            strands,
            stack_strands(strands),
            level,
            threads=THREADS,
            lobes=load_fibres(),
            light=samples.LIGHT,
            window=WINDOW,
        )


def test_how_thread_lies_as_the_twin_says(drawing: Drawing) -> None:
    part, shading, sub = (20, 24, 12, 16), drawing.shading, drawing.shading.supersample
    buffers, edge = raster_part(drawing, part), drawing.halo_px * drawing.shading.supersample
    inner = (slice(edge, -edge), slice(edge, -edge))
    strand, along, across = buffers.strand[inner], buffers.along[inner], buffers.across[inner]
    order = np.empty(part[2:], np.int32)
    angles, body = np.zeros((*part[2:], 3), np.float32), np.zeros(part[2:], np.float32)
    numbers, wholes, profile = shading.numbers, shading.wholes, drawing.pixel_strands.profile
    lie_in_pixels(
        strand,
        along,
        across,
        numbers,
        wholes,
        profile,
        shading.dye,
        shading.texture,
        sub,
        order,
        angles,
        body,
    )

    of_strands = numbers.ravel(), wholes.ravel(), profile.ravel()

    def surface(i: int, s: float, v: float) -> tuple[float, ...]:
        flake, fuzz = shading.dye[wholes[i, lies.THREAD], 4:6]
        place, side = np.float32(s) * numbers[i, lies.LAST], np.float32(np.clip(v, -0.999, 0.999))
        return thread_surface(np.uintp(i), place, side, *of_strands, flake, fuzz, shading.texture.ravel())

    askew_deg = numbers[:, lies.HAND] * numbers[:, lies.WANDER]
    azimuth_deg = wholes[:, lies.AZIMUTH] * STEP_DEG + askew_deg
    want = naive.lie(strand, along, across, surface, azimuth_deg, sub, lies)
    assert len(np.unique(order)) > 10
    np.testing.assert_array_equal(order, want[0])
    np.testing.assert_allclose(angles, want[1], atol=1e-3)
    np.testing.assert_allclose(body, want[2], atol=1e-5)
