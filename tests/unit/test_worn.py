"""A cap's front on its curve, against the closed form of a cylinder seen from far away."""

from __future__ import annotations

import numpy as np
import pytest

from render.compose.worn import TURNED_AWAY, worn_layers
from render.errors import UsageError
from render.model import Layers, Window

WINDOW = Window((0.0, 0.0), 10.0, 8, 1200)


def layers(covered: np.ndarray) -> Layers:
    light = np.ones((*covered.shape, 3), np.float32)
    return Layers(light, light.copy(), 1 - covered, covered)


def marks(*x_mm: float) -> np.ndarray:
    """Upright lines 1 mm wide at places along the curve."""
    x = (np.arange(1200) + 0.5 - 600) / 10
    line = np.zeros(1200, np.float32)
    for at in x_mm:
        line[np.abs(x - at) < 0.5] = 1
    return np.tile(line, (8, 1))


@pytest.mark.parametrize("radius_mm", [60.0, 88.0])
def test_a_point_along_the_curve_is_seen_at_r_sin_of_s_over_r(radius_mm: float) -> None:
    for s in (-50.0, -20.0, 0.0, 35.0):
        worn, seen = worn_layers(layers(marks(s)), WINDOW, radius_mm)
        line = worn.covered[0].astype(float)
        x = (np.arange(seen.cols) + 0.5 - seen.cols / 2) / 10
        assert (line @ x) / line.sum() == pytest.approx(radius_mm * np.sin(s / radius_mm), abs=0.05)


def test_the_picture_gets_as_narrow_as_the_chord() -> None:
    _, seen = worn_layers(layers(marks()), WINDOW, 88.0)
    assert seen.cols / 10 == pytest.approx(2 * 88 * np.sin(60 / 88), abs=0.2)
    assert seen.rows == WINDOW.rows


def test_cloth_that_turns_away_gets_darker_and_left_is_like_right() -> None:
    worn, seen = worn_layers(layers(marks()), WINDOW, 88.0)
    light = worn.cloth_linear[0, :, 0]
    assert light == pytest.approx(light[::-1], abs=1e-6)
    assert light[seen.cols // 2] == pytest.approx(1, abs=1e-3)
    assert light[0] == pytest.approx(1 - TURNED_AWAY * (1 - np.cos(60 / 88)), abs=2e-3)


def test_a_flat_cap_changes_nothing() -> None:
    flat = layers(marks(-20.0, 31.5))
    worn, seen = worn_layers(flat, WINDOW, 1e7)
    assert seen.cols in (1199, 1200)
    assert np.abs(worn.covered - flat.covered[:, : seen.cols]).max() < 0.6
    assert worn.covered.sum() == pytest.approx(flat.covered.sum(), rel=1e-3)


def test_what_reaches_round_to_the_side_is_refused() -> None:
    with pytest.raises(UsageError, match="reach round"):
        worn_layers(layers(marks()), WINDOW, 40.0)
