"""Loose fibres of the cloth lie over the edges of stitching, and belong to places of the cloth."""

from __future__ import annotations

import numpy as np
import pytest
from naive import cover as naive

from render.draw.fibre_notes import LIGHTS, SHARES, lie_on_cloth, lie_on_thread
from render.draw.stray import Stray, lay_stray, near_thread, stray_of, stray_over
from render.materials.fabrics import load_fabric
from render.model import Window

WOOL = Stray(per_mm2=30.0, length_mm=0.5, fibre_mm=0.03)
EDGE = 20
WINDOW = Window((0.3, -0.2), 12.0, 60, 80)


def stitched(supersample: int) -> np.ndarray:
    """A column of stitching down the middle of the window, with cloth at both sides."""
    strand = np.full(((60 + 2 * EDGE) * supersample, (80 + 2 * EDGE) * supersample), -1, np.int32)
    strand[:, (EDGE + 30) * supersample : (EDGE + 50) * supersample] = 7
    return strand


def over(window: Window, part: tuple[int, int, int, int], strand: np.ndarray, edge: int = EDGE) -> np.ndarray:
    """Share that fibres hide of each pixel."""
    noted = noted_over(window, part, strand, edge)
    return np.where(noted % (LIGHTS + 1) > 0, noted // (LIGHTS + 1) / SHARES, 0.0)


def noted_over(
    window: Window, part: tuple[int, int, int, int], strand: np.ndarray, edge: int = EDGE, share: float = 0.0
) -> np.ndarray:
    where = window, part, strand, 2, edge, 5
    towards = np.array([-0.5, -0.5, 0.7])
    return stray_over(WOOL, np.eye(2), *where, towards_key=towards, key_share=share)[0]


def test_fibres_cross_edges_and_leave_the_middle_of_a_column_bare() -> None:
    share = over(WINDOW, (0, 0, 60, 80), stitched(2))
    by_column = share.mean(0)
    assert by_column[[30, 49]].min() > 0.01
    # None reaches farther than its length.
    assert share[:, 39:41].max() < 0.5 * share[:, [30, 49]].max() or not share[:, 39:41].any()
    assert share.max() <= 0.03 * 12.0 + 1e-3


def test_cloth_without_stitching_shows_no_fibre_over_it() -> None:
    bare = np.full_like(stitched(2), -1)
    assert not over(WINDOW, (0, 0, 60, 80), bare).any()
    closed = np.full_like(bare, 7)
    assert not over(WINDOW, (0, 0, 60, 80), closed).any()


def test_a_part_has_the_fibres_of_the_whole() -> None:
    strand = stitched(2)
    whole = over(WINDOW, (0, 0, 60, 80), strand)
    part = strand[2 * 10 : 2 * (10 + 30 + 2 * EDGE), 2 * 20 : 2 * (20 + 25 + 2 * EDGE)]
    some = over(WINDOW, (10, 20, 30, 25), np.ascontiguousarray(part))
    np.testing.assert_array_equal(some, whole[10:40, 20:45])


def test_finer_pictures_hide_as_much_thread() -> None:
    """A fibre hides its own thickness, whatever the pixels; its root is on cloth or not, to a pixel."""
    shares = []
    for finer in (1, 2):
        window = Window(WINDOW.centre_mm, 12.0 * finer, 60 * finer, 80 * finer)
        strand = stitched(2).repeat(finer, 0).repeat(finer, 1)
        found = over(window, (0, 0, 60 * finer, 80 * finer), strand, EDGE * finer)
        shares.append(found[:, 30 * finer : 50 * finer].mean())
    assert shares[1] == pytest.approx(shares[0], rel=0.1)


def test_fibres_shade_what_lies_beside_them_away_from_the_lamp() -> None:
    plain, shaded = (noted_over(WINDOW, (0, 0, 60, 80), stitched(2), share=share) for share in (0.0, 0.7))
    dark = (shaded > 0) & (shaded % (LIGHTS + 1) == 0)
    assert dark.sum() > 0.3 * (plain > 0).sum()
    # Where a fibre hides more than a shadow takes it is as before.
    assert (shaded[~dark] == plain[~dark]).all()
    # The lamp stands at the upper left: a fibre's shadow lies half a pixel lower and to the right.
    lit = (plain > 0).astype(float)
    beside = {way: (dark * np.roll(lit, way, (0, 1))).sum() for way in ((1, 1), (-1, -1))}
    assert beside[1, 1] > 1.3 * beside[-1, -1]


def test_felt_has_many_fibres_and_a_smooth_cloth_none() -> None:
    felt, twill, shell = (stray_of(load_fabric(name)) for name in ("felt", "twill", "nylon-shell"))
    assert felt is not None
    assert twill is not None
    assert felt.per_mm2 > 5 * twill.per_mm2
    assert shell is None


@pytest.mark.twin
@pytest.mark.parametrize("turned", [False, True])
def test_stray_fibres_match_their_twin(turned: bool) -> None:
    axes = np.array([[0.0, 1.0], [-1.0, 0.0]]) if turned else np.eye(2)
    rng = np.random.default_rng(3)
    strand = np.where(rng.random((36, 40)) < 0.5, 2, -1).astype(np.int32)
    got, want = np.zeros((10, 12), np.int32), np.zeros((10, 12), np.int32)
    cells, numbers = np.array([-2, -2, 3, 3]), np.array([6.5, 0.4, 0.05, 14.0, -0.4, -0.3, 0.9, 0.6, 0.4])
    side = int(0.75 * 14 * 2) + 1
    found = lay_stray(got, strand, near_thread(strand, side), side, 2, 4, axes, cells, numbers, 11)
    naive.lay_stray(want, strand, 2, 4, axes, cells, numbers, 11)
    assert want.any()
    assert sorted(found) == np.flatnonzero(got).tolist()
    np.testing.assert_allclose(got // 256, want // 256, atol=1)
    np.testing.assert_array_equal(got[got // 256 == want // 256], want[got // 256 == want // 256])


@pytest.mark.twin
def test_fibres_lie_on_thread_and_cloth_by_their_share() -> None:
    rng = np.random.default_rng(4)
    noted = np.where(rng.random((5, 6)) < 0.5, rng.integers(1, SHARES * 256, (5, 6)), 0).astype(np.int32)
    noted[:, 2] -= noted[:, 2] % 256  # shadows
    thread, cloth = (rng.random((5, 6, 2, 3)).astype(np.float32), rng.random((5, 6, 3)).astype(np.float32))
    shown, covered = (rng.random((5, 6)).astype(np.float32) for _ in range(2))
    covered[:2] = 1.0
    before, mean = (
        [plane.astype(float) for plane in (thread, cloth, shown, covered)],
        np.array([0.2, 0.3, 0.5]),
    )
    found = np.flatnonzero(noted).astype(np.int32)
    lie_on_cloth(noted, found, covered, mean, cloth)
    lie_on_thread(noted, found, thread, shown, covered)
    share = noted // 256 / SHARES
    dark = (noted % 256 == 0) & (noted > 0)
    light = np.where(dark, 0.0, 0.75 + 0.75 * (noted % 256) / 255)
    mixed = before[1] + share[..., None] * (light[..., None] * mean - before[1])
    closed = ((before[3] == 1.0) & (noted > 0))[..., None]
    np.testing.assert_allclose(cloth, np.where(closed, mean, mixed), atol=1e-6)
    np.testing.assert_allclose(shown, before[2] + before[3] * share * light, atol=1e-6)
    np.testing.assert_allclose(covered, np.where(dark, before[3], before[3] * (1 - share)), atol=1e-6)
    np.testing.assert_allclose(thread, before[0] * (1 - share)[..., None, None], atol=1e-6)
