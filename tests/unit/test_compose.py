"""Layers into pictures: framing, highlights, cut-outs."""

from __future__ import annotations

import numpy as np
import pytest
import samples
from numpy.typing import NDArray

from render.colour import to_srgb
from render.compose import compose, window_for
from render.compose.encoding import SHOULDER_LINEAR, encode, shoulder
from render.errors import UsageError
from render.model import Layers, View, Window

BOX = (-10.0, -4.0, 14.0, 6.0)


def test_the_window_holds_the_box_and_its_margin() -> None:
    window = window_for(BOX, View(dpi=254.0, margin_mm=5.0))
    assert (window.cols, window.rows, window.px_per_mm) == (340, 200, 10.0)
    assert window.centre_mm == (2.0, 1.0)


def test_a_width_in_pixels_sets_the_resolution() -> None:
    window = window_for(BOX, View(width_px=680, margin_mm=5.0))
    assert (window.cols, window.rows, window.px_per_mm) == (680, 400, 20.0)


@pytest.mark.parametrize("view", [View(dpi=0.001), View(hoop_mm=(0.01, 0.01))])
def test_less_than_a_pixel_is_no_picture(view: View) -> None:
    """Small scales are drawn from ever more parts of a pixel: one of metres would take for ever."""
    with pytest.raises(UsageError, match="smaller than a pixel: raise --dpi"):
        window_for(BOX, view)


@pytest.mark.parametrize(
    ("view", "said"),
    [
        (View(dpi=1e308), "more than 100,000 pixels an inch"),
        (View(width_px=5, hoop_mm=(1e-320, 10.0)), "more than 100,000 pixels an inch"),
        (View(hoop_mm=(1e308, 1.0)), "more than 200 million"),
        (View(hoop_mm=(1e9, 1e-5)), "more than 200 million"),
        (View(margin_mm=1e308), "more than 200 million"),
        (View(width_px=10**400, hoop_mm=(1e9, 1.0)), "more than 200 million"),
    ],
)
def test_no_size_is_too_large_to_be_refused(view: View, said: str) -> None:
    with pytest.raises(UsageError, match=said):
        window_for(BOX, view)


def test_a_hoop_crops() -> None:
    window = window_for(BOX, View(dpi=254.0, hoop_mm=(100.0, 80.0)))
    assert (window.cols, window.rows) == (1000, 800)
    assert window.centre_mm == (2.0, 1.0)


def test_the_shoulder_keeps_order_and_never_clips() -> None:
    light = np.linspace(-0.1, 6.0, 3000).astype(np.float32)
    shown = shoulder(light)
    below = (light >= 0) & (light <= SHOULDER_LINEAR)
    assert (shown[below] == light[below]).all()
    assert shown.min() == 0.0
    assert shown.max() <= 1.0
    rising = np.diff(shown[light >= 0])
    assert (rising >= 0).all()
    # Smooth where it sets in: the slope there is 1 on both sides.
    step = 1e-3
    bend = shoulder(np.array([SHOULDER_LINEAR, SHOULDER_LINEAR + step], np.float32))
    assert (bend[1] - bend[0]) / step == pytest.approx(1, abs=0.01)


def _layers(thread: float, cloth: float, share: float, covered: float) -> Layers:
    def plane(value: float, *depth: int) -> NDArray[np.float32]:
        return np.full((3, 5, *depth), value, np.float32)

    return Layers(plane(thread, 3), plane(cloth, 3), plane(share), plane(covered))


def test_light_is_added_in_linear_light() -> None:
    """Half thread of white, half cloth of black: sRGB code 188 and not 128 (IEC 61966-2-1)."""
    window = Window((0, 0), 10.0, 3, 5)
    picture = compose(_layers(0.5, 0.0, 0.5, 0.5), window, transparent=False)
    assert (picture.pixels == 188).all()
    assert picture.pixels.shape == (3, 5, 3)
    assert picture.dpi == pytest.approx(254.0)


@pytest.mark.parametrize("background", [0.0, 0.02, 0.5])
def test_a_cut_out_over_a_cloth_is_the_picture_on_it(background: float) -> None:
    """Straight alpha, blended in linear light, gives back what the opaque picture shows."""
    window = Window((0.0, 0.0), 300 / 25.4, 90, 110)
    sewn = samples.sewn_of(samples.Part(samples.satin(6, 3, bend=0.6), "satin"))
    drawn = samples.draw_flat(sewn, window, cloth_linear=(background,) * 3)
    cut_out = samples.picture_of(drawn, window, transparent=True).astype(float) / 255
    opaque = samples.picture_of(drawn, window).astype(float) / 255
    alpha = cut_out[..., 3:]
    assert alpha.min() == 0.0
    assert alpha.max() == 1.0
    soft = (alpha > 0.02) & (alpha < 0.98)
    assert soft.mean() > 0.02, "edges and shadow are soft"
    # Over that very cloth, as it is lit where the stitching presses it down.
    blended = _linear(cut_out[..., :3]) * alpha + drawn.cloth_linear * (1 - alpha)
    # Eight bits of colour and of alpha; highlights pass the shoulder before they are blended.
    calm = _linear(opaque).max(-1) < 0.7
    assert _linear(opaque)[calm] == pytest.approx(blended[calm], abs=0.012)


def test_a_shadow_is_part_of_the_cut_out() -> None:
    window = Window((0.0, 0.0), 300 / 25.4, 90, 110)
    sewn = samples.sewn_of(samples.Part(samples.satin(6, 3), "satin"))
    drawn = samples.draw_flat(sewn, window)
    cut_out = samples.picture_of(drawn, window, transparent=True)
    beside = (drawn.covered == 0) & (cut_out[..., 3] > 40)
    assert beside.sum() > 50
    assert cut_out[beside][:, :3].max() == 0, "a shadow is black that lets light through"


def _linear(srgb: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)


def test_levels_are_the_nearest() -> None:
    """Against the formulas, over dark, bright and beyond white."""
    rng = np.random.default_rng(4)
    light = np.concatenate(
        [rng.uniform(-0.1, 0.01, 50_000), rng.uniform(0, 1, 200_000), rng.uniform(1, 3, 50_000)]
    )
    light = light.astype(np.float32)
    expected = to_srgb(shoulder(light.astype(float))) * 255
    assert np.abs(encode(light) - expected).max() < 0.501
    assert encode(light.reshape(-1, 4)).shape == (len(light) // 4, 4)
    assert set(np.unique(encode(light))) == set(range(256))
