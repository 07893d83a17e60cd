"""Tiles resized to the picture, and light on their relief."""

from __future__ import annotations

import numpy as np
import pytest

from render.draw.cloth import laying, sizing
from render.draw.cloth.packed import packed
from render.draw.cloth.turns import exact_turn, lamp_towards
from render.model import Lamp


@pytest.mark.parametrize("width", [1.0, 1.4, 2.0, 2.5, 3.0, 4.0, 5.0, 9.3])
def test_box_has_the_moment_of_its_width(width: float) -> None:
    weights = sizing.box_weights(width)
    at = np.arange(len(weights)) - len(weights) // 2
    assert weights.min() >= 0
    assert weights.sum() == pytest.approx(1.0)
    assert (weights * at**2).sum() == pytest.approx((width**2 - 1) / 12)
    if width % 2 == 1:
        inner = weights[np.abs(at) <= width // 2]
        assert inner == pytest.approx([1 / width] * int(width))


@pytest.mark.parametrize("px_per_mm", [4.0, 11.81, 17.0])
def test_a_texel_spreads_as_far_as_a_pixel(px_per_mm: float) -> None:
    """Second moment of one bright fine sample in the laid picture: that of the pixel's box, 1/12 px²."""
    texels = np.zeros((256, 256, 4), np.float32)
    texels[128, 128] = 1.0
    size = (256 / 48, 256 / 48)
    fine = sizing.resized(texels, size, px_per_mm)
    piece = laying.Piece(
        fine,
        (fine.shape[1] / size[0], fine.shape[0] / size[1]),
        np.zeros((laying.SHIFTS, 2), np.int64),
        9.0,
        0.14,
        np.array([[1.0, 0.0], [1.0, 0.0]]),
        np.zeros(3),
        0,
    )
    # Dense samples of what a pixel centred at each place would hold.
    at = np.linspace(0.0, size[0], 1024, endpoint=False)
    spread = laying.lay(piece, packed(fine), at, at, np.eye(2)).height_mm.sum(axis=0)
    middle = (at * spread).sum() / spread.sum()
    variance_px = (((at - middle) * px_per_mm) ** 2 * spread).sum() / spread.sum()
    # The bright sample itself was drawn as a point; it stands for its own width.
    own = (px_per_mm / 48) ** 2 / 12
    assert variance_px + own == pytest.approx(1 / 12, rel=0.03)


def test_light_follows_the_relief() -> None:
    """A ridge under a low lamp: the side towards it is bright, the ground behind it dark."""
    from render.draw.cloth.relief import lamp_shadow, open_sky

    height = np.zeros((40, 60), np.float32)
    height[:, 28:32] = 0.4
    towards = lamp_towards(Lamp(0.0, 30.0, 5.0, 1.0, (1, 1, 1)), turn_deg=0, mirrored=False)
    shadow = lamp_shadow(height, (20.0, 20.0), towards, 5.0)
    # 0.4 mm at 30 degrees throws a shadow of 0.69 mm = 14 px to the left.
    assert shadow[20, 20] < 0.1
    assert shadow[20, 5] == 1.0
    assert shadow[20, 40] == 1.0
    sky = open_sky(height, (20.0, 20.0))
    assert sky[20, 27] < 0.85 < sky[20, 10]


def test_lamps_turn_exactly() -> None:
    for angle in (0.0, 13.0, 45.0, 90.0, 225.0, 359.0):
        c, s = exact_turn(angle)
        assert (c, s) == pytest.approx((np.cos(np.deg2rad(angle)), np.sin(np.deg2rad(angle))), abs=1e-12)
        assert exact_turn(angle + 90) == (-s, c)
