"""Moved, turned or mirrored sewing gives the moved, turned or mirrored picture; nothing else changes it."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import flip_evaluator
import numpy as np
import pytest
import samples
from numpy.typing import NDArray
from scipy.ndimage import rotate

from render.model import Layers, Light, Sewn, Window

PX_MM = 25.4 / 300
WINDOW = Window((0.0, 0.0), 1 / PX_MM, 120, 120)
FINE = dataclasses.replace(WINDOW, px_per_mm=4 / PX_MM, rows=480, cols=480)
LAYERS = ("thread_linear", "cloth_share", "covered")
Points = NDArray[np.float64]


def scene(cut: str = "no") -> Sewn:
    """A fill, a bent satin and a run over both; the thread between them dragged, or cut with tails."""
    down = np.array([0.0, 1.6])
    return samples.sewn_of(
        samples.Part(samples.turned(samples.fill(5, 4), 20) - [0.0, 1.0], "fill"),
        samples.Part(samples.turned(samples.satin(6, 1.8, bend=0.5), 20) + down, "satin", 1),
        samples.Part(samples.running((-3, -3.5), (3, 2)), "running", 2),
        cut=cut,
    )


def turned_light(degrees: float) -> Light:
    lamps = samples.LIGHT.lamps
    return dataclasses.replace(
        samples.LIGHT,
        lamps=tuple(dataclasses.replace(p, azimuth_deg=p.azimuth_deg + degrees) for p in lamps),
    )


def assert_same(
    got: Layers, expected: Layers, change: Callable[[NDArray[np.float32]], NDArray[np.float32]]
) -> None:
    for name in LAYERS:
        assert (getattr(got, name) == change(getattr(expected, name))).all(), name


def flip_mean(one: NDArray[np.uint8], other: NDArray[np.uint8]) -> float:
    floats = (np.ascontiguousarray(p, np.float32) / 255 for p in (one, other))
    return float(flip_evaluator.evaluate(*floats, "LDR")[1])


@pytest.fixture(scope="module", params=["no", "yes"])
def sewn(request: pytest.FixtureRequest) -> Sewn:
    return scene(request.param)


@pytest.fixture(scope="module")
def drawn(sewn: Sewn) -> Layers:
    return samples.draw_flat(sewn, WINDOW)


@pytest.mark.parametrize("quarters", [1, 2, 3])
def test_quarter_turns_are_exact(sewn: Sewn, drawn: Layers, quarters: int) -> None:
    again = samples.draw_flat(
        samples.moved_sewn(sewn, lambda p: samples.turned(p, 90 * quarters)),
        WINDOW,
        light=turned_light(90 * quarters),
    )
    assert_same(again, drawn, lambda layer: np.rot90(layer, -quarters))


@pytest.mark.parametrize(("right", "down"), [(3, 5), (17, -9), (-1000, 400)])
def test_whole_pixel_moves_are_exact(sewn: Sewn, drawn: Layers, right: int, down: int) -> None:
    step = np.array([right, down]) * PX_MM
    moved = samples.moved_sewn(sewn, lambda p: p + step)
    together = dataclasses.replace(WINDOW, centre_mm=tuple(step.tolist()))
    assert_same(samples.draw_flat(moved, together), drawn, lambda layer: layer)
    if max(abs(right), abs(down)) < 30:
        # Within the window: compare what both pictures show, away from their edges.
        inner, back = slice(30, 90), (slice(30 + down, 90 + down), slice(30 + right, 90 + right))
        again = samples.draw_flat(moved, WINDOW)
        for name in LAYERS:
            assert (getattr(again, name)[back] == getattr(drawn, name)[inner, inner]).all(), name


def test_a_crop_is_that_part_of_the_picture(sewn: Sewn, drawn: Layers) -> None:
    crop = Window((7 * PX_MM, -12 * PX_MM), 1 / PX_MM, 60, 70)
    part = samples.draw_flat(sewn, crop)
    assert_same(part, drawn, lambda layer: layer[60 - 30 - 12 : 60 + 30 - 12, 60 - 35 + 7 : 60 + 35 + 7])


def test_a_mirror_swaps_the_hand_of_twist(sewn: Sewn) -> None:
    """Drawn fine and averaged: where a pixel looks for thread has a hand of its own."""
    mirrored = samples.moved_sewn(sewn, lambda p: p * [-1, 1])
    lamps = tuple(dataclasses.replace(p, azimuth_deg=180 - p.azimuth_deg) for p in samples.LIGHT.lamps)
    light = dataclasses.replace(samples.LIGHT, lamps=lamps)
    expected = _averaged(_light_of(samples.draw_flat(sewn, FINE))[:, ::-1])
    in_a_mirror = samples.draw_flat(mirrored, FINE, light=light, twist=-1.0)
    assert flip_mean(_averaged(_light_of(in_a_mirror)), expected) < 0.004
    # Sewn mirrored, with the same thread, it is another picture: its twist runs on as it was.
    sewn_mirrored = samples.draw_flat(mirrored, FINE, light=light)
    assert flip_mean(_averaged(_light_of(sewn_mirrored)), expected) > 0.02


@pytest.mark.parametrize("degrees", [17, 45])
def test_other_turns_look_the_same(sewn: Sewn, degrees: float) -> None:
    """Drawn four times as fine, turned back and averaged: else the comparison would measure how
    pixels lie and not how thread is drawn."""
    turned = samples.draw_flat(
        samples.moved_sewn(sewn, lambda p: samples.turned(p, degrees)), FINE, light=turned_light(degrees)
    )
    back = rotate(_light_of(turned), degrees, reshape=False, order=1, mode="nearest")
    straight = _light_of(samples.draw_flat(sewn, FINE))
    assert flip_mean(_averaged(back), _averaged(straight)) < 0.015


def _light_of(drawn: Layers) -> NDArray[np.float32]:
    return np.asarray(drawn.thread_linear + drawn.cloth_linear * drawn.cloth_share[..., None])


def _averaged(linear: NDArray[np.float32]) -> NDArray[np.uint8]:
    from render.compose.encoding import encode

    rows, cols = linear.shape[0] // 4, linear.shape[1] // 4
    return encode(linear.reshape(rows, 4, cols, 4, 3).mean((1, 3)))


@pytest.mark.parametrize(
    ("high_px", "wide_px", "workers"), [(64, (64, 64), 1), (64, (50, 200), 2), (256, (50, 50), 1)]
)
def test_parts_and_workers_change_no_byte(
    sewn: Sewn, drawn: Layers, high_px: int, wide_px: tuple[int, int], workers: int
) -> None:
    again = samples.draw_flat(sewn, WINDOW, high_px=high_px, wide_px=wide_px, workers=workers)
    assert_same(again, drawn, lambda layer: layer)
    assert (again.cloth_linear == drawn.cloth_linear).all()


def test_the_seed_decides(sewn: Sewn, drawn: Layers) -> None:
    assert_same(samples.draw_flat(sewn, WINDOW), drawn, lambda layer: layer)
    other = samples.draw_flat(sewn, WINDOW, job=dataclasses.replace(samples.JOB, seed=1))
    assert (other.thread_linear != drawn.thread_linear).any()
    # Another sewing of the same design: as large, as bright, but no thread quite alike.
    assert other.covered.mean() == pytest.approx(drawn.covered.mean(), rel=0.03)
