"""Cloth in a scene, drawn together by the stitching."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import samples
from scipy.ndimage import map_coordinates

from render.draw.aside import aside_of
from render.model import ClothMove
from render.scene import drawn_in


def test_cloth_in_a_scene_is_drawn_together_as_in_a_drawing() -> None:
    """The place that is seen, less how far the cloth there has moved: membrane and yarns drawn aside."""
    sewn = samples.sewn_of(samples.Part(samples.satin(9.0, 3.0), "satin"))
    x, y = np.arange(-12.0, 13.0), np.arange(-10.0, 11.0)
    u = np.stack(np.meshgrid(0.02 * x, -0.03 * y), -1)  # even strain: back = place - place / (1 + strain)
    move = ClothMove(u, np.zeros(u.shape[:2], np.uint8), (-12.0, -10.0), 1.0)
    moved = replace(sewn, cloth=move)
    found = drawn_in.drawn_in(moved, (5.0, -2.0), 3)
    assert found is not None
    at = np.random.default_rng(5).uniform(-6, 6, (40, 2))
    aside = aside_of(moved, 3)
    grid = (at[:, ::-1] / 0.25 - np.array(aside.first)[::-1]).T
    way = np.stack(
        [map_coordinates(aside.way_mm[..., k], grid, order=1, mode="grid-constant") for k in (0, 1)], 1
    )
    assert np.abs(way).max() > 0.01
    want = at / (1.0 + np.array([0.02, -0.03])) - way - np.array([5.0, -2.0])
    got = found.lay((at - np.array([5.0, -2.0])).astype(np.float32))
    np.testing.assert_allclose(got, want, atol=2e-5)
    assert drawn_in.drawn_in(replace(sewn, cloth=None), (0.0, 0.0), 3) is None
