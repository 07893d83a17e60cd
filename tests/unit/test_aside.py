"""Yarns beside stitching are drawn towards it, unevenly, and by no more than they can be."""

from __future__ import annotations

import dataclasses

import naive
import numpy as np
import pytest
import samples
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from render.draw import aside as asides
from render.draw.aside import MOST_MM, Aside, aside_of, dragged_mm, share_drag, strew
from render.draw.blur import blurred
from render.draw.cloth.lattice import STEP_MM


def along(aside: Aside, y_mm: float) -> NDArray[np.float32]:
    """Ways (cols, 2) of the yarns along a line."""
    return aside.way_mm[round(y_mm / STEP_MM) - aside.first[1]]


def test_yarns_at_either_edge_of_a_satin_lie_nearer_to_its_middle() -> None:
    aside = aside_of(samples.sewn_of(samples.Part(samples.satin(12.0, 3.0), "satin")), 3)
    inside = slice(round(-4.0 / STEP_MM) - aside.first[0], round(4.0 / STEP_MM) - aside.first[0])
    upper, lower = along(aside, -1.75)[inside, 1], along(aside, 1.75)[inside, 1]
    assert upper.mean() > 0.03
    assert lower.mean() == pytest.approx(-upper.mean(), rel=0.5)
    # No two alike.
    assert upper.std() > 0.1 * upper.mean()
    assert np.abs(along(aside, -3.4)[inside]).max() < 0.1 * upper.mean()


def test_the_passes_of_a_line_pull_against_each_other() -> None:
    column, line = (
        aside_of(samples.sewn_of(samples.Part(points, kind)), 3)
        for points, kind in (
            (samples.satin(12.0, 3.0), "satin"),
            (samples.running((-6.0, 0.0), (6.0, 0.0)), "running"),
        )
    )
    inside = slice(round(-4.0 / STEP_MM) - line.first[0], round(4.0 / STEP_MM) - line.first[0])
    assert np.abs(along(line, 0.0)[inside]).mean() < 0.5 * np.abs(along(column, 1.5)[inside]).mean()


def test_no_yarn_is_drawn_over_another_however_much_holes_give_way() -> None:
    sewn = samples.sewn_of(samples.Part(samples.satin(12.0, 3.0), "satin"))
    run = sewn.end_mm - sewn.start_mm
    give = np.stack([run, -run], 1)  # as far as their other ends
    torn = aside_of(dataclasses.replace(sewn, give_mm=give), 3).way_mm
    assert np.hypot(torn[..., 0], torn[..., 1]).max() <= MOST_MM
    for axis in (0, 1):
        assert np.abs(np.diff(torn, axis=axis)).max() < STEP_MM


def test_it_is_added_where_places_overlap() -> None:
    way = np.arange(24, dtype=np.float32).reshape(3, 4, 2)
    back = np.ones((4, 4, 2))
    Aside(way, (2, -1)).add_to(back, (3, 0))
    want = np.ones((4, 4, 2))
    want[:2, :3] += way[1:, 1:]
    np.testing.assert_array_equal(back, want)
    Aside(way, (2, -1)).add_to(back, (60, 0))
    np.testing.assert_array_equal(back, want)


@pytest.mark.twin
@pytest.mark.parametrize("mirrored", [False, True])
def test_spreading_is_a_gaussian_as_another_library_has_it(mirrored: bool) -> None:
    values = np.random.default_rng(3).normal(size=(40, 52)).astype(np.float32)
    want = gaussian_filter(values.astype(float), 2.2, mode="reflect" if mirrored else "constant", truncate=8)
    np.testing.assert_allclose(blurred(values, 2.2, mirrored=mirrored), want, atol=1e-4)


@pytest.mark.twin
def test_many_holes_drag_yarns_by_their_mean_and_one_by_all_it_does() -> None:
    rng = np.random.default_rng(5)
    drag, holes = rng.normal(size=(2, 5, 7)).astype(np.float32), rng.uniform(0, 3, (5, 7)).astype(np.float32)
    got = np.empty((5, 7, 2), np.float32)
    share_drag(drag[0], drag[1], holes, 30.0, got)
    for axis in (0, 1):
        np.testing.assert_allclose(got[..., axis], 30.0 * drag[axis] / np.hypot(30.0 * holes, 1.0), rtol=1e-5)


@pytest.mark.twin
def test_what_is_strewn_lies_where_it_was_put() -> None:
    """All of it is there, and its middle is where it belongs."""
    rng = np.random.default_rng(4)
    row, col = np.mgrid[0:9, 0:12]
    for at, drag in zip(rng.uniform(0, (11, 8), (20, 2)), rng.normal(size=(20, 2)), strict=True):
        out = np.zeros((3, 9, 12), np.float32)
        strew(np.array([at, [-3.0, 4.0], [5.0, 8.5]]), np.array([drag, drag, drag]), out)
        np.testing.assert_allclose(out.sum((1, 2)), [*drag, 1.0], rtol=1e-5)
        np.testing.assert_allclose([(out[2] * col).sum(), (out[2] * row).sum()], at, rtol=1e-5)
        assert (out > 0).any(0).sum() <= 4


@pytest.mark.twin
@pytest.mark.parametrize("gives", [False, True])
def test_what_holes_drag_along_matches(gives: bool) -> None:
    sewn = samples.sewn_of(samples.Part(samples.satin(2.0, 3.0), "satin"))
    give = np.random.default_rng(6).normal(0.0, 0.2, (len(sewn.start_mm), 2, 2))
    got = dragged_mm(dataclasses.replace(sewn, give_mm=give if gives else None), 3)
    for i, run in enumerate(sewn.end_mm - sewn.start_mm):
        for side in (0, 1):
            want = naive.hole_drag(asides, run, give[i, side] * gives, i, side, 3)
            drag = got[i + side * len(give)]
            assert complex(*drag) == pytest.approx(want, abs=1e-6)
