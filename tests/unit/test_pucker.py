"""Ridges of pressed cloth: where, which way, and how they take the light."""

from __future__ import annotations

from dataclasses import replace

import naive
import numpy as np
import pytest
from numpy.typing import NDArray

from render.draw import pucker
from render.draw.across import CELL_MM
from render.draw.cloth import gloss
from render.draw.dimples import STEPS_PER_MM
from render.draw.pucker import CELL_MM as PUCKER_MM
from render.draw.pucker import FLAT_MM, Pucker, add_ridge_light, drawn_out, held_down, pucker_of
from render.materials.fabrics import load_fabric
from render.materials.lights import load_light
from render.model import ClothMove, Window

BOX = (-10.0, -10.0, 10.0, 10.0)


def pressed(strain: float, *, axis: int = 0) -> ClothMove:
    """Cloth pressed together evenly along x (or y) within 15 mm of the origin, held at its rim."""
    x, y = np.meshgrid(np.arange(-60.0, 61.0, 2.0), np.arange(-60.0, 61.0, 2.0))
    u = np.zeros((61, 61, 2))
    inside = np.hypot(x, y) < 15
    u[..., axis] = np.where(inside, -strain * (x, y)[axis], 0.0)
    return ClothMove(u, np.zeros((61, 61), np.uint8), (-60.0, -60.0), 2.0)


def test_cloth_that_lies_still_or_is_stretched_has_no_ridges() -> None:
    assert pucker_of(pressed(0.0), BOX, 0) is None


@pytest.mark.parametrize("axis", [0, 1])
def test_ridges_run_across_the_pressing(axis: int) -> None:
    found = pucker_of(pressed(0.06, axis=axis), BOX, 3)
    assert found is not None
    middle = found.height_mm[30:59, 30:59]
    along_y, along_x = (float((np.diff(middle, axis=way) ** 2).mean()) for way in (0, 1))
    steep, gentle = (along_x, along_y) if axis == 0 else (along_y, along_x)
    assert steep > 3 * gentle


def test_more_pressing_raises_them_higher() -> None:
    low, high = (pucker_of(pressed(strain), BOX, 1) for strain in (0.03, 0.05))
    assert low is not None
    assert high is not None
    assert 0 < low.height_mm[30:59, 30:59].std() < high.height_mm[30:59, 30:59].std()


def test_cloth_ripples_a_little_before_it_gives_way_and_far_beyond_by_all_that_it_does_not_bear() -> None:
    bears = 0.02
    taken_up = pucker._beyond(np.array([0.0, 0.002, 0.01, 0.02, 0.4], np.float32), bears)
    # By the binomial series: p^3 / (3 b^2) of a small compression p, p - b + b^3 / (3 p^2) of a large one.
    assert taken_up == pytest.approx(
        [0.0, 0.002**3 / (3 * bears**2), 8.2e-4, bears * (2 ** (1 / 3) - 1), 0.4 - bears], abs=2e-5
    )


def test_firm_cloth_takes_the_pressing_that_light_cloth_ripples_under_and_ripples_wider() -> None:
    cloths = [replace(pressed(0.035), bending_n_mm=bending) for bending in (0.002, 0.02, 9.0)]
    light, middling, firm = (pucker_of(cloth, BOX, 1) for cloth in cloths)
    assert firm is None
    assert light is not None
    assert middling is not None
    steep = [
        np.gradient(one.height_mm[30:59, 30:59].astype(float), 0.5)[1].std() for one in (light, middling)
    ]
    wide = [one.height_mm[30:59, 30:59].std() / s for one, s in zip((light, middling), steep, strict=True)]
    assert steep[0] > 1.2 * steep[1]
    assert wide[1] > 1.2 * wide[0]


def test_the_same_cloth_has_the_same_ridges_and_another_piece_others() -> None:
    one, again, other = (pucker_of(pressed(0.05), BOX, seed) for seed in (1, 1, 2))
    assert one is not None
    assert again is not None
    assert other is not None
    assert (one.height_mm == again.height_mm).all()
    assert not np.allclose(one.height_mm, other.height_mm)


def test_stitching_holds_the_cloth_flat() -> None:
    found = pucker_of(pressed(0.05), BOX, 1)
    assert found is not None
    dimple_steps = np.zeros((201, 201), np.int16)
    dimple_steps[:, 100:] = 0.4 * STEPS_PER_MM
    held = held_down(found, dimple_steps, (0.0, 0.0))
    x = held.origin_mm[0] + 0.5 * np.arange(held.height_mm.shape[1])
    inside = (x > 1) & (x < 100 * CELL_MM - 1)
    assert not held.height_mm[30:59][:, inside].any()
    assert (held.height_mm[:, x < -1] == found.height_mm[:, x < -1]).all()


def test_light_from_the_other_side_swaps_light_and_shade() -> None:
    found = pucker_of(pressed(0.05), BOX, 1)
    assert found is not None
    window, wanted = Window((0.0, 0.0), 8.0, 120, 120), np.ones((60, 70), bool)
    wanted[:7, :9] = False
    one, other = np.zeros((2, 60, 70), np.float32)
    for light, way in ((one, 1.0), (other, -1.0)):
        towards = np.array([way * 0.6, 0.0, 0.8])
        add_ridge_light(light, found, window, (10, 20), wanted, towards=towards, key_share=0.6)
    assert not one[:7, :9].any()
    assert np.abs(one).max() > 0.005
    assert one == pytest.approx(-other, abs=1e-6)


def test_a_plane_slope_is_lit_by_lamberts_law() -> None:
    """Height 0.1 x: a card that leans so gets 1 - 0.1 tan of the lamp's zenith angle more or less."""
    x = -10.0 + 0.5 * np.arange(41)
    plane = Pucker(np.tile(0.1 * x, (41, 1)).astype(np.float32), (-10.0, -10.0))
    lit, window = np.zeros((60, 60), np.float32), Window((0.0, 0.0), 10.0, 60, 60)
    towards, all_of_it = np.array([0.6, 0.0, 0.8]), np.ones((60, 60), bool)
    add_ridge_light(lit, plane, window, (0, 0), all_of_it, towards=towards, key_share=1.0)
    # The surface's normal is (-0.1, 0, 1): towards a lamp on the right it turns away.
    assert lit == pytest.approx(-0.1 * 0.6 / 0.8, abs=2e-3)


def test_ridges_are_drawn_out_along_the_field() -> None:
    rng = np.random.default_rng(3)
    angle = rng.uniform(0, np.pi) + np.cumsum(rng.normal(0, 0.02, (40, 46)), axis=1)
    run = np.stack([np.sin(angle), np.cos(angle)]).astype(np.float32)
    run[:, 10:20] *= -1.0  # a direction without sign
    noise = rng.normal(size=angle.shape).astype(np.float32)
    # In single precision a place comes to lie some 1e-5 cells elsewhere, and white noise is steep.
    assert drawn_out(noise, run, 6) == pytest.approx(naive.drawn_out(noise, run, 6), abs=5e-4)


def test_ridges_are_held_down_as_another_library_has_it() -> None:
    rng = np.random.default_rng(7)
    dimple_steps = np.pad(STEPS_PER_MM * rng.uniform(0, 0.15, (41, 61)), 2).astype(np.int16)
    ridges = Pucker(rng.normal(size=(20, 22)).astype(np.float32), (-5.0, -4.5))
    got = held_down(ridges, dimple_steps, (0.5, -0.25)).height_mm
    assert got == pytest.approx(naive_held(ridges, dimple_steps / STEPS_PER_MM, (0.5, -0.25)), abs=1e-5)
    assert 0.0 < (got == ridges.height_mm).mean() < 0.9  # beyond the map and on it


def naive_held(
    ridges: Pucker, dimple_mm: NDArray[np.float64], anchor_mm: tuple[float, float]
) -> NDArray[np.float64]:
    from scipy.ndimage import map_coordinates

    axes = [
        (origin - anchor + PUCKER_MM * np.arange(cells)) / CELL_MM + side // 2
        for origin, anchor, cells, side in zip(
            ridges.origin_mm[::-1], anchor_mm[::-1], ridges.height_mm.shape, dimple_mm.shape, strict=True
        )
    ]
    depth = map_coordinates(dimple_mm, np.meshgrid(*axes, indexing="ij"), order=1, mode="constant")
    return np.asarray(ridges.height_mm * np.clip(1.0 - depth / FLAT_MM, 0.0, 1.0))


def test_a_slope_of_matt_card_answers_as_lambert_has_it_and_satin_glints_more() -> None:
    satin, light = load_fabric("satin-weave"), load_light("soft-studio")
    matt = {
        **satin.structure["finish"],
        "wrap": 0.0,
        "along": 0.0,
        "sheen": 0.0,
        "f0": 0.0,
        "shadow_floor": 1.0,
    }
    assert gloss.slope_gain(matt, light, (0.5, 0.5, 0.5)) == pytest.approx(1.0, abs=0.03)
    dark, pale = (gloss.slope_gain(satin.structure["finish"], light, (c, c, c)) for c in (0.1, 0.9))
    assert dark > 1.5 > pale >= 1.0
