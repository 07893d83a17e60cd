"""The scene's compiled kernels against their slow twins."""

from __future__ import annotations

from dataclasses import replace

import naive
import numpy as np
import pytest
import samples
from scipy.interpolate import RegularGridInterpolator

from render.colour import to_srgb
from render.compose.encoding import shoulder
from render.draw import lobes, shine, turned_kernel
from render.draw.cloth import laying
from render.draw.cloth.packed import packed
from render.draw.cloth.scattered import add_planes
from render.materials.fibres import load_fibres
from render.materials.lights import load_light
from render.model import Lamp
from render.scene import cloth, develop, gather, lens, light, raster, visibility
from render.scene.camera import Camera, see
from render.scene.mesh import Material, Part, joined, sheet

RNG = np.random.default_rng(31)


def test_triangles_match() -> None:
    place = np.concatenate([RNG.uniform(-4, 24, (18, 2)), RNG.uniform(0.5, 2.0, (18, 1))], 1)
    values = RNG.uniform(-1, 1, (18, 3)).astype(np.float32)
    corners = RNG.integers(0, 18, (12, 3))
    part = np.arange(12)
    depth, which = np.zeros((12, 20), np.float32), np.full((12, 20), -1, np.int16)
    out = np.zeros((12, 20, 3), np.float32)
    raster.fill_triangles(place, values, corners, part, np.arange(12), 3, depth, which, out)
    for r in range(12):
        for c in range(20):
            found, near, mean = naive.sample_seen(c + 0.5, r + 3.5, place, values, corners)
            assert which[r, c] == found
            assert depth[r, c] == pytest.approx(near, rel=1e-5, abs=1e-6)
            np.testing.assert_allclose(out[r, c], mean, rtol=1e-4, atol=1e-5)


def test_depth_maps_match() -> None:
    """The same triangles seen square on: the twin's nearness is linear where all depths are alike."""
    place = np.concatenate([RNG.uniform(0, 16, (15, 2)), np.zeros((15, 1))], 1)
    corners = RNG.integers(0, 15, (9, 3))
    heights = RNG.uniform(1, 5, 15)
    place[:, 2] = heights
    depth = np.full((16, 16), -1e9, np.float32)
    raster.fill_depth(place, corners, depth)
    for r in range(16):
        for c in range(16):
            _, near, _ = naive.sample_seen(c + 0.5, r + 0.5, place, np.zeros((15, 1)), corners)
            assert max(depth[r, c], 0.0) == pytest.approx(near, rel=1e-5)


def test_looks_match() -> None:
    which = RNG.integers(-1, 2, (8, 10)).astype(np.int16)
    depth = RNG.uniform(0.1, 1, (8, 10)).astype(np.float32)
    values = RNG.uniform(-1, 1, (8, 10, gather.VALUES)).astype(np.float32)
    looks = gather.looks_of(which, depth, values)
    at = 0
    for row in range(4):
        for col in range(5):
            block = np.s_[2 * row : 2 * row + 2, 2 * col : 2 * col + 2]
            for part, count, near, mean in naive.looks_of_pixel(which[block], depth[block], values[block]):
                assert (looks.pixel[at], looks.part[at], looks.count[at]) == (row * 5 + col, part, count)
                assert looks.share[at] == pytest.approx(count / 4)
                assert looks.nearness[at] == pytest.approx(near, rel=1e-5)
                np.testing.assert_allclose(looks.values[at], mean, atol=1e-6)
                at += 1
    assert at == len(looks.pixel)


@pytest.mark.parametrize("widest", [3.0, 7.0])
def test_spreading_matches(widest: float) -> None:
    plane = RNG.uniform(0, 1, (17, 19, 3)).astype(np.float32)
    circle = RNG.uniform(-widest, widest, (17, 19)).astype(np.float32)
    circle[4:9, 4:9] = 0.2
    ours = lens.blurred(plane, circle)
    np.testing.assert_allclose(
        ours, naive.spread_light(plane, circle, lens.LEVEL_PX, lens.SHARP_PX), atol=2e-5
    )


@pytest.mark.parametrize("kind", ["rayon", "matte-polyester"])
def test_gains_of_turned_thread_match(kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    fibre = load_fibres()[kind]
    # Any table will do, and one over few directions is made sooner.
    monkeypatch.setattr(lobes, "SPHERE_POINTS", 50)
    shape, norms = lobes.lobe_shape(fibre), lobes.lobe_norms(fibre)
    upward = RNG.uniform(0.2, 1, (turned_kernel.UP_AZIMUTHS, 9, 5, 4))
    lamps = np.array(
        [[*p, 0.9, 0.8, 0.7, key] for key in (1.0, 0.0) for p in shine.lamp_ring((-0.5, -0.5, 0.7071), 20)]
    )
    dome = np.array([0.3, 0.35, 0.4, 0.2])
    for _ in range(40):
        axes, _ = np.linalg.qr(RNG.standard_normal((3, 3)))
        axes[2] *= np.sign(axes[2, 2])
        axes[1] = np.cross(axes[2], axes[0])
        view = np.array([0.1, 0.2, 1.0]) / np.linalg.norm([0.1, 0.2, 1.0])
        frame = np.array([*axes.ravel(), *view, *RNG.uniform(0.2, 1, 2)])
        azimuth, tilt, roll = RNG.uniform(-3, 9), RNG.uniform(-50, 50), RNG.uniform(-60, 60)
        gains = np.empty(14)
        turned_kernel._lobe_gains(azimuth, tilt, roll, frame, shape, norms, upward, lamps, dome, gains)
        shares = _upward(upward, azimuth, tilt, roll)

        def own_norms(axis: object, normal: object, seen: object) -> tuple[float, float, float]:
            vectors = (tuple(axis), tuple(normal), tuple(seen))  # type: ignore[call-overload]
            found: tuple[float, float, float] = lobes.norms_towards(norms, *vectors)
            return found

        angles = (azimuth, np.deg2rad(tilt), np.deg2rad(roll))
        want, depths = naive.turned_gains(fibre, own_norms, angles, frame, lamps, shares, dome)
        np.testing.assert_allclose(gains[:12].reshape(4, 3), want, rtol=2e-3, atol=1e-6)
        np.testing.assert_allclose(gains[12:], depths, rtol=2e-3)


def _upward(table: np.ndarray, azimuth: float, tilt: float, roll: float) -> np.ndarray:  # type: ignore[type-arg]
    """The share of the dome by the library's own interpolation, round the circle."""
    around = np.concatenate([table, table[:1]])
    grid = (np.linspace(0, 2 * np.pi, len(around)), turned_kernel.UP_TILTS, turned_kernel.UP_ROLLS)
    return RegularGridInterpolator(grid, around)([azimuth % (2 * np.pi), tilt, roll])[0]


def test_light_on_cloth_matches() -> None:
    lamps = light.lamps_of(samples.LIGHT)
    count = 30
    normal = RNG.standard_normal((count, 3))
    shares = RNG.uniform(0, 1, (count, 2))
    values = np.concatenate([np.zeros((count, 2)), normal, shares], 1).astype(np.float32)
    flat = RNG.uniform(0, 1, (count, 6)).astype(np.float32)
    material = np.array([[0.0, 0.4, 0.0], [0.7, 0.0, 0.0]])
    part = (np.arange(count) % 2).astype(np.int16)
    out = np.zeros((1, count, 6), np.float32)
    axes = np.eye(3)
    camera = np.array([*axes.ravel(), 800.0, count / 2, -4.0])
    empty = np.zeros((1, 1), np.float32)
    colour = RNG.uniform(0, 1, (2, 2, 3)).astype(np.float32)
    light.light_looks(
        np.arange(count),
        np.ones(count, np.float32),
        part,
        values,
        np.zeros((count, 4, 2), np.float32),
        np.ones(count, np.int8),
        flat,
        colour,
        material,
        lamps.rows,
        lamps.dome,
        lamps.card,
        camera,
        np.zeros((1, 1, 6), np.float32),
        empty,
        empty,
        np.zeros(3),
        out,
    )
    lights = (lamps.rows, lamps.dome, lamps.card, light.GROUND_BOUNCE, light.REFILL)
    for g in range(count):
        sight = axes[2] - np.array([(g + 0.5 - camera[10]) / camera[9], (0.5 + camera[11]) / camera[9], 0.0])
        sight /= np.linalg.norm(sight)
        for which in range(2):
            want = naive.lit_cloth(
                flat[g, 3 * which : 3 * which + 3].astype(np.float64),
                colour[which, part[g]].astype(np.float64),
                material[part[g], :2],
                normal[g],
                sight,
                shares[g],
                lights,
            )
            np.testing.assert_allclose(out[0, g, 3 * which : 3 * which + 3], want, rtol=2e-4, atol=1e-5)


def test_developing_matches() -> None:
    """The shoulder and sRGB of every pixel, darker in the corners and away from the lamp, with its grain; and
    cut out."""
    plane = RNG.uniform(0, 2.2, (7, 9, 7)).astype(np.float32)
    noise = RNG.standard_normal((7, 9, 3)).astype(np.float32)
    place = np.array([4, 40, 9])
    for alpha in (-1, 6):
        out = np.zeros((7, 9, 3 if alpha < 0 else 4), np.uint8)
        develop.develop(
            plane, 3, alpha, 0.3, np.array([0.1, 0.02]), place, noise, develop.tone_curve(), 0.02, out
        )
        y, x = np.mgrid[4:11, :9] + 0.5 - np.array([20, 4.5])[:, None, None]
        gain = (1.0 - 0.3 * ((x * x + y * y) / ((40**2 + 9**2) / 4)) ** 2) * (
            1.0 - np.hypot(0.1, 0.02) - (0.1 * x + 0.02 * y) / 4.5
        )
        if alpha >= 0:
            solid = np.clip(plane[..., 6], 0, 1)
            gain = 1.0 / solid
            np.testing.assert_array_equal(out[..., 3], np.rint(solid * 255))
        want = to_srgb(shoulder(plane[..., 3:6] * gain[..., None])) + 0.02 * noise
        assert np.abs(out[..., :3] - np.clip(want, 0, 1) * 255).max() < 0.51


def test_what_is_away_from_the_lamp_is_dark() -> None:
    """A window stands at the left; what comes from everywhere or from right above has no dark side."""
    assert light.towards_dark(light.lamps_of(load_light("window"))) == pytest.approx([1.0, 0.0])
    assert light.towards_dark(light.lamps_of(load_light("soft-studio"))) == pytest.approx(
        [0.5**0.5, 0.5**0.5]
    )
    above = replace(load_light("window"), lamps=(Lamp(0, 90, 10, 1, (1, 1, 1)),))
    assert np.abs(light.towards_dark(light.lamps_of(above))).max() < 1e-6
    none = replace(load_light("window"), lamps=())
    assert not light.towards_dark(light.lamps_of(none)).any()


def test_grain_is_even_and_half_of_it_is_common_to_the_channels() -> None:
    grain = develop.grain_of(np.random.default_rng(3), 200, 300)
    assert grain.std(axis=(0, 1)) == pytest.approx(1.0, abs=0.02)
    shared = np.corrcoef(grain.reshape(-1, 3).T)[np.triu_indices(3, 1)]
    assert shared == pytest.approx(0.5, abs=0.02)


# Aslant the slow fields run straight between other places, from one line of the design to the next.
@pytest.mark.parametrize(("axes", "off"), [([[0, 1], [-1, 0]], 1e-4), ([[0.8, 0.6], [-0.6, 0.8]], 4e-4)])
def test_cloth_at_scattered_places_is_the_cloth_of_a_rectangle(axes: list[list[float]], off: float) -> None:
    rng = np.random.default_rng(4)
    texels = rng.uniform(0, 1, (40, 48, 4)).astype(np.float32)
    # Yarns wander so little that it does not tell how straight that runs between lines.
    streaks, slow = np.array([[0.4, 0.05], [0.6, 0.03]]), np.array([0.05, 0.02, 0.1])
    shifts = laying.piece_shifts((6, 5), (40, 48), 3)
    piece = laying.Piece(texels, (10.0, 11.0), shifts, 2.5, 0.14, streaks, slow, 12)
    x, y, turn = np.arange(-9, 9) * 0.375, np.arange(14) * 0.5, np.array(axes, float)
    laid = laying.lay(piece, packed(texels), x, y, turn)
    places = np.stack(np.meshgrid(x, y), -1).reshape(-1, 2).astype(np.float32)
    planes = np.full((14 * 18, 4), 0.25, np.float32)
    chosen = np.flatnonzero(np.arange(len(planes)) % 3)[::-1].copy()
    add_planes(planes, piece, turn, places, chosen, np.full(len(chosen), 0.5, np.float32))
    want = np.full_like(planes, 0.25)
    want[chosen, :3] += 0.5 * laid.radiance_linear.reshape(-1, 3)[chosen]
    np.testing.assert_allclose(planes[:, :3], want[:, :3], atol=off)


def test_planes_are_mixed_as_matrices_are_multiplied() -> None:
    planes, mix = (
        RNG.uniform(0, 1, (9, 13)).astype(np.float32),
        RNG.uniform(0, 1, (13, 30)).astype(np.float32),
    )
    chosen, out = np.array([1, 4, 8]), np.zeros((9, 30), np.float32)
    cloth.mix_planes(planes, mix, chosen, out)
    np.testing.assert_allclose(out[chosen], planes[chosen] @ mix, rtol=1e-5)
    assert not out[[0, 2, 3, 5, 6, 7]].any()


def test_how_large_cloth_is_seen_is_its_slope_and_distance() -> None:
    """A millimetre across the line of sight is px / depth wide; one that leans away as much as its cosine."""
    seen = see(Camera(85.0, 8.0, 240.0, (3.0, -5.0, 0.0), tilt_deg=38.0, turn_deg=-21.0), 300, 400)
    at = RNG.uniform(-60, 60, (20, 3))
    normal = RNG.standard_normal((20, 3))
    place = seen.project(at)
    top = 100
    pixel = (np.floor(place[:, 1]) - top) * 400 + np.floor(place[:, 0])
    values = np.concatenate([np.zeros((20, 2)), normal, np.zeros((20, 2))], 1).astype(np.float32)
    camera = np.array([*seen.axes.ravel(), seen.px, 200.0, top - 150.0])
    near = (1.0 / place[:, 2]).astype(np.float32)
    ours = cloth.sizes_finer(pixel.astype(np.int64), values, near, camera, 400, 0.5)
    sight = seen.eye_mm - at
    cosine = (sight * normal).sum(1) / np.linalg.norm(sight, axis=1) / np.linalg.norm(normal, axis=1)
    np.testing.assert_allclose(ours, 0.5 * seen.px / place[:, 2] * np.maximum(abs(cosine), 0.1), rtol=0.02)


def test_what_a_wall_hides_is_dark_and_the_rest_is_not() -> None:
    """A tall thin wall on a floor, lit from one side: geometry alone says where its shadow ends."""
    x, y = np.linspace(-100, 100, 201), np.linspace(-40, 40, 41)
    floor = sheet(x, y, np.zeros((41, 201)), Material())
    high = np.linspace(0, 30, 31)
    points = np.stack(np.broadcast_arrays(0.0, y[None], high[:, None]), -1).astype(float)
    wall = Part(points, np.zeros((31, 41, 2)), Material())
    mesh = joined((floor, wall))
    towards = np.array([-1.0, 0.0, 1.0]) / np.sqrt(2)
    seen = visibility._seen_from(mesh, mesh.corners, towards, 0.6)[: 41 * 201].reshape(41, 201)
    row = seen[20]
    assert row[(x < -3)].min() > 0.99
    assert row[(x > 3) & (x < 26)].max() < 0.01
    assert row[(x > 34) & (x < 90)].min() > 0.99
