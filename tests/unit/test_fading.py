"""Pictures in fine levels, and what lies between two of them."""

from __future__ import annotations

import naive
import numpy as np
import pytest

from render.colour import to_srgb
from render.compose import paint
from render.compose.encoding import shoulder
from render.compose.fading import FINE, paint_finely, show_between
from render.model import Layers


def test_fine_levels_round_to_those_of_the_picture() -> None:
    light = np.concatenate([np.linspace(-0.1, 2.5, 40_000), np.linspace(0.0, 0.01, 9_998)]).astype(np.float32)
    linear = np.stack([light[0::2], light[1::2], light[0::2][::-1]], -1)[None]
    none = np.zeros(linear.shape[:2], np.float32)
    layers = Layers(linear, np.zeros_like(linear), none, none)
    pixels, fine = np.zeros(linear.shape, np.uint8), np.zeros(linear.shape, np.uint16)
    part = (0, 0, *linear.shape[:2])
    paint(pixels, part, layers)
    paint_finely(fine, part, layers)
    assert np.array_equal((fine + FINE // 2) // FINE, pixels)
    exact = to_srgb(shoulder(linear)) * 255.0
    # Between the ends of a level a straight line; highlights just below white bend within a level.
    inner = (pixels > 0) & (pixels < 250)
    assert np.abs(fine / FINE - exact)[inner].max() < 0.04
    assert np.abs(fine / FINE - exact)[pixels < 255].max() < 0.3


def test_what_lies_between_is_as_its_twin_says() -> None:
    rng = np.random.default_rng(8)
    one, other = rng.integers(0, 255 * FINE, (2, 150, 200, 3)).astype(np.uint16)
    shares = rng.integers(0, 257, (4, 4)).astype(np.int32)
    shares[0, :2] = 0, 256
    pixels = np.zeros(one.shape, np.uint8)
    apart = show_between(one, other, shares, 64, 32, pixels)
    assert np.array_equal(pixels, naive.between(one, other, shares, 64, 32))
    # The tile in the second row and column is rows and columns 32 to 95.
    inner = np.s_[32:96, 32:96]
    assert apart[1, 1] == pytest.approx(np.abs(one[inner] / FINE - other[inner] / FINE).mean())
    assert apart[0, 3] == pytest.approx(np.abs(one[:32, 160:] / FINE - other[:32, 160:] / FINE).mean())
