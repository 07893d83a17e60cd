"""How thread reflects, against its slow, plain twins."""

from __future__ import annotations

from functools import cache

import naive
import numpy as np
import pytest
from numpy.typing import NDArray

from render.draw import lobes, sheen
from render.materials.fibres import load_fibres
from render.model import FibreLobes

FIBRES = load_fibres()


def _directions(rng: np.random.Generator, count: int) -> NDArray[np.float64]:
    points = rng.normal(size=(count, 3))
    return np.asarray(points / np.linalg.norm(points, axis=1, keepdims=True))


@cache
def coarse_norms(kind: str) -> NDArray[np.float64]:
    """The table of a kind over fewer directions than a picture's, which uncompiled takes minutes."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(lobes, "SPHERE_POINTS", 400)
        return lobes.lobe_norms(FIBRES[kind])


@pytest.mark.parametrize("kind", sorted(FIBRES))
def test_lobes_match(kind: str) -> None:
    """For any thread, light and viewer."""
    fibre, rng = FIBRES[kind], np.random.default_rng(7)
    shape = lobes.lobe_shape(fibre)
    for axis, other, light, view in _directions(rng, 800).reshape(-1, 4, 3):
        normal = np.cross(axis, other) / np.linalg.norm(np.cross(axis, other))
        got = lobes.lobe_weights(shape, *(tuple(v) for v in (axis, normal, light, view)))
        assert got == pytest.approx(naive.lobes(fibre, axis, normal, light, view), rel=1e-6, abs=1e-6)


def test_thread_frames_match() -> None:
    for tilt, roll in np.random.default_rng(11).uniform(-1.4, 1.4, (20, 2)):
        got, expected = lobes.thread_frame(tilt, roll), naive.thread_frame(tilt, roll)
        assert np.array(got) == pytest.approx(np.array(expected), abs=1e-12)


@pytest.mark.parametrize("kind", ["rayon", pytest.param("matte-polyester", marks=pytest.mark.compiled)])
def test_reflected_light_matches(kind: str) -> None:
    """For viewers from any side, with the integrals looked up between those of the table."""
    fibre, rng = FIBRES[kind], np.random.default_rng(12)
    shape, norms, sphere = lobes.lobe_shape(fibre), coarse_norms(kind), lobes.fibonacci_sphere(1000)
    found = 0
    for axis, other, light, view in _directions(rng, 160).reshape(-1, 4, 3):
        normal = np.cross(axis, other) / np.linalg.norm(np.cross(axis, other))
        if normal @ view < 0.25 or abs(axis @ view) > 0.9:
            continue
        got = lobes.reflected(shape, norms, *(tuple(v) for v in (axis, normal, light, view)))
        expected = naive.reflected(fibre, axis, normal, light, view, sphere)
        assert got == pytest.approx(expected, rel=0.06, abs=2e-3)
        found += 1
    assert found > 5


def test_lamps_and_even_light_match() -> None:
    fibre: FibreLobes = FIBRES["rayon"]
    shape, norms = lobes.lobe_shape(fibre), coarse_norms("rayon")
    sphere = lobes.fibonacci_sphere(300)
    assert np.linalg.norm(sphere, axis=1) == pytest.approx(1)
    assert sphere.mean(0) == pytest.approx(0, abs=0.01)
    tilts, rolls = np.array([-0.5, 0.1]), np.array([-0.9, 0.0, 0.4])
    views = np.array([[0.0, 0.0, 1.0], [0.28, 0.0, 0.96]])
    points = sphere[:40].reshape(2, 20, 3)
    lamps = sheen._lamp_light(shape, norms, tilts, rolls, points, views)
    skin = sheen._skin_shares(norms, tilts, rolls, views)
    upward = sheen._upward_shares(shape, tilts, rolls, views)
    many = lobes.fibonacci_sphere(400)
    for i, tilt in enumerate(tilts):
        for j, roll in enumerate(rolls):
            axis, normal = naive.thread_frame(tilt, roll)
            for a, view in enumerate(views):
                expected = naive.lobe_integrals(fibre, axis, normal, sphere, view)
                got = lobes.integrals(shape, tilts, rolls, sphere, tuple(view))
                assert got[0][i, j] == pytest.approx(expected[0], rel=1e-6)
                assert got[1][i, j] == pytest.approx(expected[1], rel=1e-6)
                whole, above = naive.lobe_integrals(fibre, axis, normal, many, view)
                assert upward[a, i, j, :2] == pytest.approx((above / whole)[:2], rel=1e-6)
                depths = np.array([above[3], whole[3] - above[3]]) / whole[1]
                assert upward[a, i, j, 2:] == pytest.approx(depths, rel=1e-6)
                assert skin[a, i, j] == pytest.approx(fibre.surface_share * whole[0] / whole[2], rel=0.01)
                each = np.array([naive.lobes(fibre, axis, normal, p, view) for p in points[a]])
                each[:, 2] = each[:, 1] * each[:, 3]
                expected = each[:, :3].mean(0) / whole[[0, 1, 1]]
                assert lamps[a, i, j] == pytest.approx(expected, rel=0.02)


def test_a_lamp_is_a_round_disc() -> None:
    middle = np.array(sheen.lamp_direction(200.0, 40.0))
    assert middle == pytest.approx(
        [
            np.cos(np.deg2rad(40)) * np.cos(np.deg2rad(200)),
            np.cos(np.deg2rad(40)) * np.sin(np.deg2rad(200)),
            np.sin(np.deg2rad(40)),
        ]
    )
    points = sheen._disc(tuple(middle), 20.0)
    assert np.linalg.norm(points, axis=1) == pytest.approx(1)
    off = np.rad2deg(np.arccos(points @ middle))
    assert 9 < off.max() < 10
    # Evenly spread over a disc, half of the points lie within 1/sqrt(2) of its radius.
    assert np.median(off) == pytest.approx(10 / 2**0.5, abs=0.5)
    mean = points.mean(0) / np.linalg.norm(points.mean(0))
    assert np.rad2deg(np.arccos(mean @ middle)) < 0.5
