"""Cloth lit once for every colour against the same cloth lit in one colour."""

from __future__ import annotations

import numpy as np
import pytest

from render.colour import to_srgb
from render.compose.encoding import shoulder
from render.draw.cloth import laying, light_cloth
from render.draw.cloth.scattered import add_planes
from render.draw.cloth.undyed import DEGREE, NODES, dye_weights, node_shares, undyed_cloth
from render.materials.fabrics import load_fabric
from render.materials.lights import load_light

COLOURS = [(0.97, 0.97, 0.96), (0.12, 0.16, 0.27), (0.72, 0.2, 0.17), (0.1, 0.5, 0.9), (0.03, 0.03, 0.03)]


def test_a_polynomial_of_that_degree_goes_through_its_nodes() -> None:
    closed = np.linspace(0, 1, 9)
    own = np.polynomial.Polynomial(np.arange(1.0, DEGREE + 1))
    np.testing.assert_allclose(own(NODES) @ node_shares(closed), own(closed), rtol=1e-5)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["denim", "terry"])
def test_every_colour_comes_out_within_a_level_of_255(name: str) -> None:
    """Denim has undyed yarn, terry a deep pile. Light under a window, so that channels differ."""
    fabric, light = load_fabric(name), load_light("window")
    cloth = undyed_cloth(fabric, light, turn_deg=30.0, px_per_mm=5.0, seed=3)
    x, y = np.linspace(-31, 22, 60), np.linspace(-8, 33, 50)
    places = np.stack(np.meshgrid(x, y), -1).reshape(-1, 2).astype(np.float32)
    piece = cloth.sizes[0]
    planes = np.zeros((len(places), piece.texels.shape[2]), np.float32)
    add_planes(planes, piece, cloth.axes, places, np.arange(len(places)), np.ones(len(places), np.float32))
    for colour in COLOURS:
        shown = planes.astype(np.float64) @ dye_weights(cloth, colour)
        lit = light_cloth(
            fabric, light, colour_srgb=colour, turn_deg=30.0, mirrored=False, px_per_mm=5.0, seed=3
        )
        want = laying.lay(lit.piece, lit.texels, x, y, lit.axes).radiance_linear.reshape(-1, 3)
        levels = np.abs(to_srgb(shoulder(shown)) - to_srgb(shoulder(want))) * 255
        assert levels.max() < 1.0
