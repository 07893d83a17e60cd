"""How much thread lies over each place, and what shows through it."""

from __future__ import annotations

import naive
import numpy as np
import pytest
import samples
from scipy.integrate import solve_ivp
from scipy.ndimage import convolve1d

from render.draw import across, laid, stack, strands, thickness
from render.draw.strands import strands_of


def test_thread_is_laid_as_the_twin_lays_it(crossing: strands.Strands) -> None:
    stacked = stack.stack_strands(crossing)
    got = laid.thread_over_mm(crossing, stacked.section_mm, stacked.first)
    want = naive.thread_over_mm(
        crossing, stacked.section_mm, stacked.first, laid.map_shape(crossing), across.CELL_MM, 0.7
    )
    for axis in (0, 1):
        want = convolve1d(want, np.array([1, 2, 1]) / 4, axis)
    # One place, smoothed over its neighbours, lies where rounding decides between two cells.
    assert (np.abs(got - want) > 2e-3 * want.max()).sum() <= 12
    assert got == pytest.approx(want, abs=0.03 * want.max())
    assert got.sum(dtype=float) == pytest.approx(want.sum(), rel=1e-3)
    assert (got == stacked.thread_mm).all()


def test_no_thread_is_lost_and_layers_add_up() -> None:
    """All cells together hold the volume of the stitches: the area of their ellipses times their length."""
    fill = samples.sewn_of(samples.Part(samples.fill(6.0, 5.0), "fill"))
    lying = strands_of(fill, (samples.RED,), samples.JOB)
    stacked = stack.stack_strands(lying)
    volume = 0.0
    for i, length in enumerate(np.hypot(*(lying.end_mm - lying.start_mm).T)):
        left, right, high = stacked.section_mm[stacked.first[i] : stacked.first[i + 1]].T.astype(float)
        volume += length * float((np.pi / 2 * (left + right) * high).mean())
    total = float(stacked.thread_mm.sum(dtype=float)) * across.CELL_MM**2
    assert total == pytest.approx(volume, rel=0.03)


def test_thickness_between_cells_is_a_spline_that_keeps_the_mean() -> None:
    thread = np.zeros((21, 25), np.float32)
    thread[5:16, 6:19] = np.random.default_rng(3).random((11, 13), np.float32)
    out = np.empty((21, 25), np.float32)
    thickness.thickness_at(thread, np.array([-12.0, -10.0, 1.0]), out)
    weights = np.array([1, 6, 1]) / 8  # the quadratic B-spline at its knots
    want = convolve1d(convolve1d(thread.astype(float), weights, 0), weights, 1)
    assert out == pytest.approx(want, abs=1e-6)
    fine = np.empty((84, 100), np.float32)
    thickness.thickness_at(thread, np.array([-12.375, -10.375, 0.25]), fine)
    assert fine.sum(dtype=float) / 16 == pytest.approx(thread.sum(dtype=float), rel=1e-6)
    turned = np.empty((100, 84), np.float32)
    thickness.thickness_at(np.rot90(thread).copy(), np.array([-10.375, -12.375, 0.25]), turned)
    assert (turned == np.rot90(fine)).all()


@pytest.mark.parametrize(("deep", "below"), [(0.8, 0.02), (0.55, 0.9), (0.08, 0.18), (0.02, 0.8)])
def test_what_shows_follows_the_equation_of_a_scattering_layer(deep: float, below: float) -> None:
    """Kubelka & Munk, Zeitschrift fuer technische Physik 12 (1931): dR/dx = S (1 + R^2) - 2 (S + K) R, with
    K/S = (1 - R)^2 / 2R of the layer that is deep enough; integrated step by step."""
    scatter = 12.0
    absorb = scatter * (1 - deep) ** 2 / (2 * deep)
    at_mm = np.arange(thickness.STEPS) / thickness.PER_MM
    path = solve_ivp(
        lambda _, r: scatter * (1 + r**2) - 2 * (scatter + absorb) * r,
        (0.0, at_mm[-1]),
        [below],
        t_eval=at_mm,
        rtol=1e-8,
        atol=1e-10,
        method="LSODA",
    )
    got = thickness.shown_shares(np.full((1, 3), deep), np.full(3, below), np.array([scatter]))
    assert got[0, :, 1] * deep == pytest.approx(path.y[0], rel=1e-4)


def test_thread_on_cloth_of_its_own_colour_and_foil_show_themselves() -> None:
    own = np.array([0.7, 0.3, 0.05])
    assert thickness.shown_shares(own[None], own, np.array([10.0])) == pytest.approx(1.0, abs=1e-5)
    foil = thickness.shown_shares(own[None], np.zeros(3), np.array([1000.0]))
    assert foil[0, 5:] == pytest.approx(1.0, abs=1e-3)
