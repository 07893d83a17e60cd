"""The sheen table: what it holds, and the dye that gives a colour back."""

from __future__ import annotations

import dataclasses
import itertools

import numpy as np
import pytest
import samples
from scipy.interpolate import RegularGridInterpolator

from render.draw import flat_satin, sheen
from render.draw.dye import AGAIN
from render.materials.fibres import load_fibres
from render.model import Lamp, Light

RAYON = load_fibres()["rayon"]
TABLE = sheen.make_sheen_table(RAYON, samples.LIGHT)
LEVEL = sheen.TILT_STEPS // 2, sheen.ROLL_STEPS // 2


def test_tables_add_up_over_lights() -> None:
    """Light is additive: all lamps and the dome together give the sum of each alone, all at the
    exposure of the whole."""
    whole = TABLE.values[..., :12].astype(float).reshape(*TABLE.values.shape[:3], 2, 2, 3).sum(4)
    card = sheen.white_card_linear(samples.LIGHT)
    parts = np.zeros_like(whole)
    below = sheen.BELOW_LINEAR
    for lamp in samples.LIGHT.lamps:
        # A black dome still has the cloth below it: taken off again, it is in every part.
        alone = Light("part", "", (lamp,), (0.0, 0.0, 0.0))
        table = sheen.make_sheen_table(RAYON, alone).values.astype(float)
        table = table[..., :12].reshape(*table.shape[:3], 2, 2, 3)
        parts += table[..., 0, :] * (sheen.white_card_linear(alone) / card)
    dome = sheen.make_sheen_table(RAYON, dataclasses.replace(samples.LIGHT, lamps=())).values.astype(float)
    dome = dome[..., :12].reshape(*dome.shape[:3], 2, 2, 3)[..., 1, :]
    # The dome alone is its own white card: up to radiance 1 instead of dome / card.
    share = np.array(samples.LIGHT.dome_linear) / card
    skin = np.stack([TABLE.skin_share, 1 - TABLE.skin_share], -1)[None, ..., None]
    upward = (dome / skin - below) / (1 - below)
    parts += skin * (upward * share + (1 - upward) * below)
    assert np.allclose(whole, parts, rtol=1e-4, atol=1e-5)


def test_turning_the_lights_turns_the_table() -> None:
    lamps = tuple(dataclasses.replace(p, azimuth_deg=p.azimuth_deg + 90) for p in samples.LIGHT.lamps)
    turned = sheen.make_sheen_table(RAYON, dataclasses.replace(samples.LIGHT, lamps=lamps))
    steps = sheen.AZIMUTH_STEPS // 4
    assert (np.roll(TABLE.values, steps, axis=0) == turned.values).all()


def test_turning_a_thread_end_for_end_changes_nothing() -> None:
    """Half a turn of the thread, with tilt and roll to the other side, is the same surface."""
    other = np.roll(TABLE.values, sheen.AZIMUTH_STEPS // 2, axis=0)[:, ::-1, ::-1]
    assert np.allclose(other, TABLE.values, rtol=0.01, atol=0.003)


def test_thread_is_brightest_across_the_light() -> None:
    """A level thread mirrors what stands in the plane across it."""
    key = Light("key", "", (Lamp(90, 45, 10, 3.0, (1, 1, 1)),), (0.1, 0.1, 0.1))
    level = sheen.make_sheen_table(RAYON, key).values[:, LEVEL[0], LEVEL[1]]
    for lobe in (0, 6):
        assert level[:, lobe].argmax() in (0, sheen.AZIMUTH_STEPS // 2)
        assert level[:, lobe].argmin() in (
            sheen.AZIMUTH_STEPS // 4,
            sheen.AZIMUTH_STEPS * 3 // 4,
        )


@pytest.mark.parametrize("target", [(0.2, 0.2, 0.2), (0.5, 0.05, 0.1), (0.01, 0.012, 0.05)])
def test_the_dye_gives_its_colour_back(target: tuple[float, float, float]) -> None:
    albedo, gloss = flat_satin.dye_albedo(target, TABLE)
    # The table as kernels read it, at many places of equal weight.
    places = itertools.product(
        np.linspace(0, sheen.AZIMUTH_STEPS, 500, endpoint=False),
        (sheen.FLAT_TILTS_DEG / sheen.TILT_LIMIT_DEG + 1) * (sheen.TILT_STEPS // 2),
        (sheen.FLAT_ROLLS_DEG / sheen.ROLL_LIMIT_DEG + 1) * (sheen.ROLL_STEPS // 2),
    )
    grid = [np.arange(sheen.AZIMUTH_STEPS + 1), np.arange(sheen.TILT_STEPS), np.arange(sheen.ROLL_STEPS)]
    around = np.concatenate([TABLE.values, TABLE.values[:1]]).astype(float)
    flat = RegularGridInterpolator(grid, around)(list(places))
    dyed_key, dyed_rest = (albedo ** flat[..., 12 + which, None] for which in range(2))
    reached = flat_satin.REACHED / (1 - AGAIN * albedo * (1 - flat_satin.REACHED))
    light = reached * (dyed_key * flat[..., 6:9] + dyed_rest * flat[..., 9:12])
    light += gloss * flat_satin.SHINE_OUT * (flat[..., :3] + flat[..., 3:6])
    shown = light.mean(0)
    assert shown == pytest.approx(np.array(target), abs=0.003)
    assert 0 < gloss <= 1


def test_a_colour_lighter_than_thread_keeps_its_hue() -> None:
    albedo, _ = flat_satin.dye_albedo((1.0, 0.5, 0.25), TABLE)
    assert albedo.max() == pytest.approx(TABLE.most_albedo)
    assert albedo[0] > 1.4 * albedo[1] > 2 * albedo[2]


def test_dark_thread_keeps_less_gloss() -> None:
    glosses = [flat_satin.dye_albedo((v, v, v), TABLE)[1] for v in (0.0, 0.005, 0.3)]
    assert glosses[0] < glosses[1] < glosses[2] == 1.0
