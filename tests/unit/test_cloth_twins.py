"""Every kernel of cloth against its slow, plain twin, on small pieces."""

from __future__ import annotations

from typing import Any

import naive
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from render.draw.aside import Aside
from render.draw.cloth import fibres, laying, lit, pile, relief, yarns
from render.draw.cloth.packed import packed
from render.draw.seen_move import SeenMove

RNG_SEED = 4
YARN = {
    "radius_mm": 0.12,
    "flat": 0.8,
    "twist_pitch_mm": 1.1,
    "fibres": 9,
    "spread": 0.3,
    "migration": 0.15,
    "contrast": 0.3,
    "slub": 0.1,
    "between": 0.1,
    "spacing_mm": 0.4,
    "crimp_mm": 0.08,
    "wander": 0.1,
}
# flatness, pitch, spread, migration, contrast, undyed, faded, worn, tangle
NUMBERS = np.array([0.8, 1.1, 0.3, 0.15, 0.3, 0.1, 0.4, 0.1, 0.2, 0.3])


def hills(rows: int = 24, cols: int = 30) -> NDArray[np.float32]:
    rng = np.random.default_rng(RNG_SEED)
    return np.asarray(0.2 * rng.standard_normal((rows, cols)), np.float32)


@pytest.fixture(scope="module")
def path() -> NDArray[np.float64]:
    """One warp of a small plain weave, as the kernels take it."""
    cloth = yarns.weave(
        {"raised": ["10", "01"], "warp": YARN, "weft": YARN}, 1.5, 0.05, np.random.default_rng(RNG_SEED)
    )
    yarn = cloth.yarns[1]
    return np.column_stack([yarn.xyz_mm, yarn.across, yarn.radius_mm, yarn.wide, yarn.tone])


def test_sky_matches() -> None:
    taps = np.array([[0, 1], [1, 3], [-2, 0], [-5, 1], [7, -8], [0, -31]])
    reach = np.array([0.1, 0.4, 0.2, 0.5, 1.1, 3.1])
    got = relief.sky_share(hills(), taps, reach, 2)
    np.testing.assert_allclose(got, naive.sky_share(hills().astype(float), taps, reach, 2), atol=1e-5)


def test_shadow_matches() -> None:
    taps, climb, soft = (
        np.array([[0, 1], [1, 2], [2, 5]]),
        np.array([0.1, 0.2, 0.4]),
        np.array([0.1, 0.1, 0.2]),
    )
    got = relief.shadow_share(hills(), taps, climb, soft)
    want = naive.shadow_share(hills().astype(float), taps, climb, soft)
    assert 0.05 < got.mean() < 0.95
    np.testing.assert_allclose(got, want, atol=1e-5)


@pytest.mark.parametrize("kernel", ["core", "fibres"])
def test_yarn_matches(path: NDArray[np.float64], kernel: str) -> None:
    per_mm = np.array([19.0, 21.0])
    got, want = fibres.bare_surface(32, 31, -0.3, 0.6), fibres.bare_surface(32, 31, -0.3, 0.6)
    if kernel == "core":
        fibres.lay_core(got.height_mm, got.fields, path, per_mm, NUMBERS)
        naive.lay_core(want.height_mm, want.fields, path, per_mm, NUMBERS, fibres.CORE)
    else:
        fibres.lay_fibres(got.height_mm, got.fields, path, per_mm, NUMBERS, 9, 77)
        naive.lay_fibres(want.height_mm, want.fields, path, per_mm, NUMBERS, 9, 77)
    covered = got.height_mm > -0.29
    assert covered.sum() > 60
    same = np.abs(got.height_mm - want.height_mm) < 1e-6
    # A sample on a pixel's edge may fall either way in the last bit.
    assert same[covered].mean() > 0.99
    assert same[~covered].all()
    # Two samples mirrored about a level crown are equally high: either may stay.
    alike = np.abs(got.fields - want.fields).max(axis=2) < 2e-5
    assert alike[covered].mean() > 0.93


def test_hairs_match() -> None:
    starts = np.array([[0.1, 0.2], [0.5, 0.02]])
    shape = np.array([[0.3, 0.6, 1.0, 0.5], [2.0, 0.8, -2.0, 0.6]])
    got, want = np.zeros((20, 24, 4), np.float32), np.zeros((20, 24, 4))
    fibres.lay_hairs(got, starts, shape, np.array([24.0, 20.0]))
    naive.lay_hairs(want, starts, shape, np.array([24.0, 20.0]))
    assert got[..., 0].max() > 0.1
    np.testing.assert_allclose(got, want, atol=1e-5)


def test_locks_match() -> None:
    rng = np.random.default_rng(RNG_SEED)
    locks = np.column_stack(
        [
            rng.uniform(0, 1, (6, 2)),
            rng.uniform(0, 6, 6),
            np.full(6, 0.5),
            np.linspace(0, 1, 6),
            rng.uniform(-1, 1, 6),
        ]
    )
    numbers = np.array([2, 4.0, 0.7, 0.1, 0.8, 0.2, 0.3])
    got = np.zeros((20, 20), np.float32), np.zeros((20, 20, 7), np.float32)
    want = np.zeros((20, 20)), np.zeros((20, 20, 7))
    pile.lay_locks(*got, locks, np.array([20.0, 20.0]), numbers, 9)
    naive.lay_locks(*want, locks, np.array([20.0, 20.0]), numbers, 9)
    assert got[0].max() > 0.3
    for a, b in zip(got, want, strict=True):
        np.testing.assert_allclose(a, b, atol=1e-5)


LAMP = np.array([-0.5, -0.4, 0.7681145747868608])
FINISH = np.array([0.3, 0.28, 0.65, 0.45, 0.5, 0.02, 0.3, 0.5, 0.6, 0.1])


def random_fields(rng: np.random.Generator, count: int) -> NDArray[np.int8]:
    directions = rng.standard_normal((count, 2, 3))
    directions /= np.linalg.norm(directions, axis=2)[..., None]
    rest = rng.uniform(20, 90, (count, 2))
    return np.asarray(np.hstack([127 * directions.reshape(count, 6), rest]), np.int8)


def test_lamp_on_yarn_matches() -> None:
    rng = np.random.default_rng(RNG_SEED)
    fields = random_fields(rng, 40).reshape(5, 8, 8)
    hairs = np.zeros((5, 8, 4), np.int8)
    hairs[::2] = [60, 40, 20, 20]
    shadow = rng.uniform(0, 1, (5, 8)).astype(np.float32)
    strength = np.array([0.5, 0.6, 0.7])
    body, gloss = np.zeros((5, 8, 3), np.float32), np.zeros((5, 8, 3), np.float32)
    lit.add_lamp(body, gloss, fields, hairs, shadow, LAMP, strength, FINISH)
    for place in np.ndindex(5, 8):
        want = naive.yarn_light(
            fields[place].tolist(), hairs[place].tolist(), float(shadow[place]), LAMP, FINISH
        )
        np.testing.assert_allclose(body[place], want[0] * strength, rtol=1e-5, atol=1e-6)
        np.testing.assert_allclose(gloss[place], want[1] * strength, rtol=1e-5, atol=1e-6)


def test_lamp_on_pile_matches() -> None:
    rng = np.random.default_rng(RNG_SEED)
    height, shadow = hills(7, 8), rng.uniform(0, 1, (7, 8)).astype(np.float32)
    moments = rng.integers(0, 8192, (7, 8, 7)).astype(np.int16)
    body = np.zeros((7, 8, 3), np.float32)
    lit.add_pile_lamp(body, moments, height, 0.5, shadow, LAMP, np.ones(3), 0.2)
    slope_x = (np.roll(height, -3, 1) - np.roll(height, 3, 1)) / 3.0
    slope_y = (np.roll(height, -3, 0) - np.roll(height, 3, 0)) / 3.0
    for place in np.ndindex(7, 8):
        want = naive.pile_light(
            moments[place], (slope_x[place], slope_y[place]), float(shadow[place]), LAMP, 0.2, lit.TUFT_FACING
        )
        np.testing.assert_allclose(body[place], want, rtol=1e-4, atol=1e-5)


def test_dome_matches() -> None:
    rng = np.random.default_rng(RNG_SEED)
    fields = random_fields(rng, 12).reshape(3, 4, 8)
    sky = rng.integers(0, 255, (3, 4)).astype(np.uint8)
    moments = rng.integers(0, 8192, (3, 4, 7)).astype(np.int16)
    dome = np.array([0.2, 0.3, 0.4])
    for given, lightness in ((moments[:0, :0], fields[..., 6] / 64), (moments, moments[..., 0] / 8192)):
        body = np.zeros((3, 4, 3), np.float32)
        lit.add_dome(body, fields, sky, given, dome)
        np.testing.assert_allclose(body, (lightness * (sky / 255) ** 2)[..., None] * dome, rtol=1e-5)


def small_piece(**changes: Any) -> laying.Piece:
    rng = np.random.default_rng(RNG_SEED)
    facts: dict[str, Any] = {
        "texels": rng.uniform(0, 1, (40, 48, 4)).astype(np.float32),
        "per_mm": (10.0, 11.0),
        "shifts": laying.piece_shifts((6, 5), (40, 48), 3),
        "cell_mm": 2.5,
        "blend": 0.14,
        "streaks": np.array([[0.4, 0.05], [0.6, 0.03]]),
        "slow": np.array([0.05, 0.02, 0.3]),
        "seed": 12,
    }
    return laying.Piece(**(facts | changes))


@pytest.mark.parametrize("moved", [False, True])
def test_laying_matches(moved: bool) -> None:
    piece = small_piece()
    x, y = np.arange(-9, 9) * 0.37 - 40.0, np.arange(14) * 0.41 + 3.0
    axes = np.array([[0.8, 0.6], [-0.6, 0.8]])
    # Known at places 1.3 mm apart, some of x and y beyond them.
    back = np.random.default_rng(1).uniform(-3, 3, (4, 5, 2)) * moved
    # And yarns lie aside in a part of that.
    lines_x, lines_y = np.arange(-43.5, -36.9, 0.25), np.arange(3.0, 9.1, 0.25)
    way = np.zeros((len(lines_y), len(lines_x), 2), np.float32)
    way[4:15, 6:] = np.random.default_rng(2).uniform(-0.3, 0.3, way[4:15, 6:].shape) * moved
    aside = Aside(way[4:15, 6:], (-174 + 6, 12 + 4))
    known = SeenMove(back, (-42.6, 3.5), 1.3, (5, 4), (0, 0), (aside,)) if moved else None
    got = laying.lay(piece, packed(piece.texels), x, y, axes, known)

    def fields_at(u: float, v: float) -> Any:
        return naive.slow_fields(u, v, piece.slow, laying.DRAPE, laying.MOTTLE, laying.WANDER, piece.seed)

    # Lines a quarter of a millimetre apart; between them what is known runs straight.
    at = np.meshgrid((lines_y - 3.5) / 1.3, (lines_x + 42.6) / 1.3, indexing="ij")
    shift = np.dstack([map_coordinates(part, at, order=1, mode="nearest") for part in back.T.swapaxes(1, 2)])
    shift += way
    places = np.dstack(np.meshgrid(lines_x, lines_y))
    known_at = [
        [naive.lattice_at(place, axes, gone, fields_at) for place, gone in zip(*row, strict=True)]
        for row in zip(places, shift, strict=True)
    ]
    lattice = np.array(known_at)
    at = np.meshgrid((y - lines_y[0]) / 0.25, (x - lines_x[0]) / 0.25, indexing="ij")
    right, down, gain = (map_coordinates(lattice[..., k], at, order=1) for k in range(3))
    for r, c in np.ndindex(14, 18):
        place = axes @ np.array([x[c], y[r]]) + np.array([right[r, c], down[r, c]])
        want = naive.cloth_at(piece, place, gain[r, c])
        np.testing.assert_allclose([*got.radiance_linear[r, c], got.height_mm[r, c]], want, atol=3e-4)


def test_packed_texels_are_the_texels() -> None:
    texels = np.random.default_rng(2).normal(size=(7, 9, 4)).astype(np.float32)
    found = packed(texels)
    low, high = found.texels << 16 >> 16, found.texels >> 16
    light, mm = found.step
    planes = [low[..., 0] * light, high[..., 0] * light, low[..., 1] * light, high[..., 1] * mm]
    got = np.stack(planes, -1)
    assert np.abs(got[:-1, :-1] - texels).max(axis=(0, 1)) == pytest.approx(
        0, abs=0.6 * float(max(light, mm))
    )
    assert (got[-1] == got[0]).all()
    assert (got[:, -1] == got[:, 0]).all()


def test_tones_and_slow_fields_match() -> None:
    assert laying.yarn_tones(30, -7, 5).tolist() == pytest.approx(
        [naive.yarn_tone(k - 7, 5) for k in range(30)]
    )
    slow = np.array([0.05, 0.02, 0.3])
    nodes, (u0, v0) = laying.slow_nodes(np.array([[-3.2, 1.0], [5.0, 6.5]]), slow, 8)
    for j, i in np.ndindex(nodes.shape[:2]):
        want = naive.slow_fields(u0 + i, v0 + j, slow, laying.DRAPE, laying.MOTTLE, laying.WANDER, 8)
        np.testing.assert_allclose(nodes[j, i], want, atol=1e-6)
