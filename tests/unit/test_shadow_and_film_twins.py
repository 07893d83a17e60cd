"""Shadow, sky, cloth, dimples, outlines and film against their slow, plain twins, on small scenes."""

from __future__ import annotations

from dataclasses import replace

import naive
import numpy as np
import pytest
import samples
from near import assert_near
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates, uniform_filter

from render.draw import (
    block_rows,
    dimples,
    film,
    lit_thread,
    raster,
    reach,
    sets,
    shading,
    shadow,
    sheen,
)
from render.draw.dimples import STEPS_PER_MM
from render.draw.outline import inside, scan
from render.materials.fibres import load_fibres
from render.materials.lights import load_light

FIBRES = load_fibres()


@pytest.mark.parametrize(("px_per_mm", "ways"), [(12.0, 1), (15.0, 4)])
def test_key_shadow_and_sky_match(px_per_mm: float, ways: int) -> None:
    rng = np.random.default_rng(5)
    height = rng.uniform(-0.1, 0.5, (70, 74)).astype(np.float32)
    strand = rng.integers(-1, 2, (70, 74)).astype(np.int32)
    halo = 25
    key = shading._towards_key(samples.LIGHT)
    taps, rise = shading.shadow_taps(key, samples.LIGHT.lamps[0].size_deg, px_per_mm)
    assert len(taps) == ways * len(rise)
    # None goes further than another, and all round the lamp's middle alike.
    ends = taps.reshape(ways, -1, 2)[:, -1]
    middle, towards = ends.mean(0), key[1::-1] / np.hypot(*key[:2])
    assert middle @ towards == pytest.approx(np.hypot(*middle), rel=1e-3)
    assert np.ptp(np.hypot(*ends.T)) < 1.5
    here = height + rng.uniform(-0.1, 0.1, height.shape).astype(np.float32)
    low = here - rng.uniform(0, 0.2, height.shape).astype(np.float32)
    stands = *(reach.all_in_steps(mm) for mm in (here, low, height)), -(strand < 0).astype(np.int16)
    got = reach.key_shadow(stands, halo, taps, rise)
    for layer, own in zip(got, (here, low), strict=True):
        exact = own.astype(float), height.astype(float)
        # Either height is a whole number of steps to the kernel.
        off = 1 / rise[:, 1].min() / reach.STEPS_PER_MM
        assert layer == pytest.approx(naive.key_shadow(*exact, strand, halo, taps, rise), abs=off)
        assert 0.02 < (layer > 0.5).mean() < 0.98
    assert (reach.key_shadow(stands, halo, taps[:0], rise[:0]) == 1).all()
    taps, per_mm = shading.sky_taps(12.0)
    off = per_mm.mean() / reach.STEPS_PER_MM
    got = reach.sky_open(stands, halo, taps, per_mm)
    for layer, own in zip(got, (here, low), strict=True):
        difference = layer - naive.sky_open(
            own.astype(float), height.astype(float), strand, halo, taps, per_mm
        )
        assert abs(difference).max() < off
        assert abs(difference.mean()) < off / 20


def test_merge_cloth_matches() -> None:
    rng = np.random.default_rng(6)
    dimple_steps = (0.2 * STEPS_PER_MM * rng.random((31, 35))).astype(np.int16)
    dimple_mm = dimple_steps / STEPS_PER_MM
    cloth = rng.uniform(-0.1, 0.3, (20, 22)).astype(np.float32)
    height = np.where(rng.random((40, 44)) < 0.5, rng.uniform(0, 0.3, (40, 44)), raster.NOTHING)
    height = height.astype(np.float32)
    strand = np.where(height > -1, 4, -1).astype(np.int32)
    frame = np.array([-13.3125, -11.6875, 0.5625])
    row, col = np.mgrid[:40, :44]
    places = [frame[1] + row * frame[2] + 15, frame[0] + col * frame[2] + 17]
    pressed = map_coordinates(dimple_mm, places, order=1, mode="nearest")
    relief = np.kron(cloth, np.ones((2, 2)))
    level = relief * np.maximum(1 - block_rows.FLATTENS * pressed, 0.25) - pressed
    expected = np.maximum(height, level)
    hidden = level > height
    shadow.merge_cloth(height, strand, cloth, dimple_steps, frame, 2)
    assert height == pytest.approx(expected, abs=1e-6)
    assert (strand == np.where(hidden, -1, 4)).all()
    assert 0.1 < hidden.mean() < 0.9


@pytest.mark.parametrize("sub", [2, 4])
def test_blocks_match(sub: int) -> None:
    rng = np.random.default_rng(16)
    dimple_steps = (0.2 * STEPS_PER_MM * rng.random((31, 35))).astype(np.int16)
    dimple_mm = dimple_steps / STEPS_PER_MM
    cloth = rng.uniform(-0.1, 0.3, (9, 11)).astype(np.float32)
    size = (9 * sub, 11 * sub)
    height = np.where(rng.random(size) < 0.7, rng.uniform(-0.1, 0.4, size), raster.NOTHING).astype(np.float32)
    height[:, : 3 * sub] = np.maximum(height[:, : 3 * sub], np.float32(0.2))  # covered all over
    strand = np.where(height > -1, rng.integers(0, 3, size), -1).astype(np.int32)
    step = 0.53125
    frame = np.array([-13.3125, -11.6875, step])
    shape = size[0] // 2, size[1] // 2
    wanted = shadow.cloth_wanted(height, 0.3, sub, dimple_steps, frame)
    places = [frame[1] + step * np.arange(shape[0]) + 15, frame[0] + step * np.arange(shape[1]) + 17]
    deep = map_coordinates(dimple_mm, np.meshgrid(*places, indexing="ij"), order=1)
    lowest = height.reshape(shape[0], 2, shape[1], 2).min((1, 3))
    shows = lowest < 0.3 * np.maximum(1 - block_rows.FLATTENS * deep, 0.25) - deep + 1e-6
    assert (wanted == shows.reshape(9, sub // 2, 11, sub // 2).any((1, 3))).all()
    assert 0.2 < wanted.mean() < 0.85  # not where it is covered
    odd = shadow.cloth_wanted(height, 0.3, 1, np.zeros((1, 1), np.int16), np.zeros(3))
    assert (odd == (height < 0.3)).all()
    wanted &= rng.random(wanted.shape) < 0.7
    stands, told = np.empty((4, *shape), np.int16), np.empty(shape, np.int32)
    kept_height, kept_strand = height.copy(), strand.copy()
    shadow.merge_blocks(height, strand, cloth, wanted, dimple_steps, frame, sub, stands, told)

    for r, c in np.ndindex(shape):
        own = np.s_[2 * r : 2 * r + 2, 2 * c : 2 * c + 2]
        pixel = 2 * r // sub, 2 * c // sub
        place = [[frame[1] + r * step + 15], [frame[0] + c * step + 17]]
        pressed = map_coordinates(dimple_mm, place, order=1)[0]
        level = np.float32(cloth[pixel] * max(1 - block_rows.FLATTENS * pressed, 0.25) - pressed)
        expected = naive.merged_block(
            kept_height[own].ravel(), kept_strand[own].ravel(), level if wanted[pixel] else None
        )
        above = np.clip(expected[:3], reach.LOWEST_MM, reach.HIGHEST_MM) - reach.LOWEST_MM
        assert stands[[2, 0, 1], r, c] / reach.STEPS_PER_MM == pytest.approx(
            above, abs=4e-5 + 0.5 / reach.STEPS_PER_MM
        )
        assert stands[3, r, c] == -int((expected[3] < 0).all())
        assert (strand[own].ravel() == expected[3]).all()
        assert told[r, c] == naive.block_sets(*expected[3:], sets)
    assert (strand != kept_strand).mean() > 0.03


@pytest.mark.slow
@pytest.mark.parametrize("groove", [0.0, 2.5])
def test_dimples_are_three_boxes_in_a_row(groove: float) -> None:
    rng = np.random.default_rng(14)
    edge = dimples.EDGE_CELLS
    under = np.pad((rng.random((230, 61)) < 0.4).astype(np.float32), edge)
    under[150:200] = 0
    pierced = (rng.random(under.shape) < 0.05) * (under > 0)
    cover = (under + dimples.PIERCED * pierced).astype(np.float32)

    def softened(part: NDArray[np.float64], cells: int, times: int = 3) -> NDArray[np.float64]:
        for _ in range(times):
            part = uniform_filter(part.astype(float), cells)
        return part

    def sunk(part: NDArray[np.float64], deep: float) -> NDArray[np.float64]:
        return (1.0 + deep) * part / (1.0 + deep * part)

    depth = dimples.NEAR_MM * sunk(softened(under, dimples.NEAR_CELLS), dimples.NEAR_GROOVE * groove)
    depth += dimples.FAR_MM * sunk(softened(under, dimples.FAR_CELLS), groove)
    # One alone is 1 deep in its middle, and several at most `MOST_PITS`.
    pits = softened(pierced, dimples.PIT_CELLS, 2) * dimples.PIT_CELLS**2
    assert pits.max() > dimples.MOST_PITS > 1 > pits[pits > 0].min()
    depth += dimples.PIT_MM * np.minimum(pits, dimples.MOST_PITS)
    bedding = dimples.Bedding(groove=groove)
    got = dimples.dimples_in_steps(cover, bedding)
    assert got == pytest.approx(STEPS_PER_MM * depth, abs=0.5 + 4e-3)
    assert got[150:200].min() == 0 < got.max()
    turned = np.ascontiguousarray(np.rot90(cover))
    assert (dimples.dimples_in_steps(turned, bedding) == np.rot90(got)).all()
    assert not dimples.dimples_in_steps(np.zeros((300, 50), np.float32), bedding).any()


def test_a_lone_thread_sinks_into_soft_cloth_and_closed_stitching_as_in_firm() -> None:
    edge = dimples.EDGE_CELLS
    line, field = np.zeros((120, 120), np.uint8), np.zeros((120, 120), np.uint8)
    line[58:62, edge:-edge], field[edge:-edge, edge:-edge] = 1, 1
    deep = [
        [
            dimples.dimples_in_steps(cover, dimples.Bedding(groove=groove))[60, 60] / STEPS_PER_MM
            for cover in (line, field)
        ]
        for groove in (0.0, 2.0, 4.0)
    ]
    (firm, full), (soft, full_soft), (softer, full_softer) = deep
    # 4 of 17 cells, and of 5: no more than these shares of each part of the full depth.
    assert firm < dimples.NEAR_MM * 0.85 + dimples.FAR_MM * 0.4 < full
    assert 1.25 * firm < soft < softer < full
    assert full == pytest.approx(full_soft, abs=1e-3) == pytest.approx(full_softer, abs=1e-3)


def test_pits_are_as_dark_as_they_are_deep() -> None:
    rng = np.random.default_rng(15)
    dimple_steps = (0.6 * STEPS_PER_MM * rng.random((31, 35))).astype(np.int16)
    dimple_mm = dimple_steps / STEPS_PER_MM
    strand = np.repeat(np.repeat(rng.integers(-1, 2, (20, 24)), 2, axis=0), 2, axis=1).astype(np.int32)
    strand[::6, ::4] = -1  # of some blocks of threads a part
    light = rng.uniform(0.5, 1, (2, 2, 20, 24)).astype(np.float32)
    x, y = -16.0 + 1.375 * np.arange(24), -14.5 + 1.375 * np.arange(20)  # past the map's edges as well
    left = naive.pit_light(dimple_mm, x + 17, y + 15, shadow)
    open_ = (strand < 0).reshape(20, 2, 24, 2).sum((1, 3))
    expected = light * np.where([open_ == 4, open_ > 0], left, 1.0)
    cloth = np.where(open_ == 4, sets.NOTHING_BUT_CLOTH, 0) | (1 << sets.OPEN + open_) - (1 << sets.OPEN)
    shown = np.pad(cloth, 3).astype(np.int32) | sets.ALL  # what blocks show of thread is not asked about
    shadow.darken_pits(dimple_steps, np.array([x[0], y[0], 1.375]), shown, 3, light[0], light[1])
    assert light == pytest.approx(expected, abs=2e-4)
    assert left.min() < 0.4
    assert ((open_ > 0) & (open_ < 4)).mean() > 0.1


def test_the_packed_sheen_is_the_table() -> None:
    """The key lamp's light is all of one colour, so its amount says it all; that of all else where it has
    no colour."""
    for light, wide in ((samples.LIGHT, 1), (load_light("shop-lamp"), 3)):
        table = sheen.sheen_table(FIBRES["rayon"], light)
        packed, key = shading.packed_sheen([table]), shading.key_linear(light)
        packed = packed.reshape(*table.values.shape[:3], -1)
        for at, channel in ((0, 0), (6, 1)):
            by_key = packed[..., channel, None] * key
            assert_near(by_key, table.values[..., at : at + 3], rel=1e-5, abs=1e-7)
            first = lit_thread.REST + channel * wide
            rest = packed[..., first : first + wide] * np.ones(3, np.float32)
            assert_near(rest, table.values[..., at + 3 : at + 6], rel=1e-5, abs=1e-6)
        assert (packed[..., [lit_thread.BY_KEY, lit_thread.BY_REST]] == table.values[..., 12:]).all()


def test_an_outline_is_filled_by_the_even_odd_rule() -> None:
    rng = np.random.default_rng(9)
    for corners in (3, 5, 9):
        outline = rng.uniform(-5, 5, (corners, 2))
        x, y = np.linspace(-6, 6, 37), np.linspace(-6, 6, 31)
        points = np.stack(np.meshgrid(x, y), -1).reshape(-1, 2)
        expected = np.array([naive.inside(outline, p) for p in points])
        assert 0 < expected.sum() < len(expected)
        assert (inside(outline, points) == expected).all()
        assert (scan(outline, x, y).ravel() == expected).all()


@pytest.mark.parametrize("lamp_deg", [225.0, 300.0])
def test_film_matches(lamp_deg: float) -> None:
    lamp = replace(samples.JOB.light.lamps[0], azimuth_deg=lamp_deg)
    mirrors = film.mirrors(replace(samples.JOB.light, lamps=(lamp,)))
    light = np.random.default_rng(10).random((9, 11, 3), np.float32)
    x, y = np.linspace(-8, 9, 11), np.linspace(-7, 5, 9)
    got = film.film_over(light, x, y, 4, mirrors)
    for r in range(9):
        for c in range(11):
            expected = naive.film_over(light[r, c], x[c], y[r], 4, lamp_deg, film)
            assert got[r, c] == pytest.approx(expected, abs=1e-6)


def test_film_mirrors_no_lamp_where_none_is() -> None:
    assert (film.mirrors(replace(samples.JOB.light, lamps=())) == 0.0).all()
