"""Fluorescent thread: how much it can give, and how what no screen can show is drawn."""

from __future__ import annotations

import numpy as np
import pytest
import samples

from render.colour import SRGB_TO_XYZ, from_oklab, parse_colour, to_lab, to_linear, to_oklab, to_srgb
from render.compose.encoding import encode
from render.draw.emission import BAND_NM, on_screen, total_linear
from render.materials.fibres import load_fibres
from render.materials.lights import load_light

WHITE = np.ones(3)
YIELD = load_fibres()["neon"].emission_yield
MOST = np.full(3, 0.9)
NEONS = ("#ff2d95", "#b8ff1a", "#ff5f1f", "#39ff14", "#ff073a", "#ffee00", "#04d9ff")


# XYZ and Oklab as published with the colour space (B. Ottosson 2020), to three decimals.
@pytest.mark.parametrize(
    ("xyz", "lab"),
    [
        ((0.950, 1.000, 1.089), (1.000, 0.000, 0.000)),
        ((1.000, 0.000, 0.000), (0.450, 1.236, -0.019)),
        ((0.000, 1.000, 0.000), (0.922, -0.671, 0.263)),
        ((0.000, 0.000, 1.000), (0.153, -1.415, -0.449)),
    ],
)
def test_oklab_as_published(xyz: tuple[float, ...], lab: tuple[float, ...]) -> None:
    linear = np.linalg.solve(SRGB_TO_XYZ, np.array(xyz))
    assert to_oklab(linear) == pytest.approx(np.array(lab), abs=2e-3)
    assert from_oklab(to_oklab(linear)) == pytest.approx(linear, abs=1e-9)


def test_photons_of_each_band_come_back_at_longer_waves() -> None:
    """Of a pure band a dye reflects what it can; the rest is all that it takes in of shorter ones, photon
    for photon times the yield. Under a light without green and blue nothing comes on top."""
    red, green, blue = np.eye(3)
    r, g, b = BAND_NM
    assert total_linear(red, MOST, 0.5, WHITE)[0] == pytest.approx(0.9 + 0.5 * (g + b) / r, abs=1e-6)
    assert total_linear(green, MOST, 0.5, WHITE)[1] == pytest.approx(0.9 + 0.5 * b / g, abs=1e-6)
    assert total_linear(blue, MOST, 0.5, WHITE)[2] == pytest.approx(0.9, abs=1e-6)
    warm = np.array([1.6, 1.0, 0.4])
    assert total_linear(green, MOST, 0.5, warm)[1] == pytest.approx(0.9 + 0.5 * 0.4 * b / g, abs=1e-6)
    assert total_linear(red, MOST, 0.5, np.array([1.0, 1e-9, 1e-9]))[0] == pytest.approx(0.9, abs=1e-6)


def test_no_more_energy_than_was_taken_in() -> None:
    """In one band more may come back than fell on it; in all of them together never."""
    rng, over = np.random.default_rng(3), 0
    for _ in range(300):
        colour, light = rng.uniform(0, 1, 3) ** 3, rng.uniform(0.3, 1.7, 3)
        total = total_linear(colour / colour.max(), MOST, 1.0, light)
        assert (total * light).sum() <= light.sum() + 1e-6
        over += bool((total > 1.0).any())
    assert over > 100


# Least luminance factors of fluorescent cloth, EN ISO 20471 table 2, from memory: a dye that such
# cloth is made with gives at least as much, and none is known to give twice that of a white card.
@pytest.mark.parametrize(("colour", "least"), [("#ccff00", 0.70), ("#ff5f1f", 0.40), ("#ff073a", 0.25)])
def test_as_bright_as_fluorescent_cloth(colour: str, least: float) -> None:
    total = total_linear(to_linear(np.array(parse_colour(colour))), MOST, YIELD, WHITE)
    assert least < total @ SRGB_TO_XYZ[1] < 1.3


@pytest.mark.parametrize("colour", NEONS)
def test_what_no_screen_shows_keeps_hue_and_order(colour: str) -> None:
    linear = to_linear(np.array(parse_colour(colour)))
    lightness = []
    for times in np.linspace(1.05, 2.5, 12):
        shown, wanted = on_screen(times * linear), to_oklab(linear)
        assert -1e-6 <= shown.min() <= shown.max() <= 1.0
        lab = to_oklab(shown)
        turn = np.arctan2(lab[1] * wanted[2] - lab[2] * wanted[1], lab[1:] @ wanted[1:])
        assert abs(np.degrees(turn)) < 0.05
        lightness.append(lab[0])
    assert (np.diff(lightness) > 0).all()
    assert (on_screen(0.4 * linear) == 0.4 * linear).all()


def _lab_of_satin(kind: str, colour: str) -> np.ndarray:
    thread = samples.Thread(parse_colour(colour), kind, 26.7, 1.49, 0.65)
    window = samples.Window((0.0, 0.0), 24.0, 60, 60)
    satin = samples.sewn_of(samples.Part(samples.satin(6.0, 5.0), "satin"))
    drawn = samples.draw_flat(satin, window, threads=(thread,), light=load_light("soft-studio"))
    return to_lab(encode(drawn.thread_linear[drawn.covered > 0.999]) / 255.0)


@pytest.mark.parametrize("colour", ["#ff2d95", "#39ff14"])
def test_neon_satin_is_brighter_and_yet_has_shape(colour: str) -> None:
    """It shows its colour, lighter than dyed thread of it, and light and shade on it stay apart."""
    neon, dyed = _lab_of_satin("neon", colour), _lab_of_satin("trilobal-polyester", colour)
    asked = to_lab(np.array(parse_colour(colour)))
    assert neon[:, 0].mean() > dyed[:, 0].mean() + 3
    hue = np.arctan2(*(neon.mean(0)[[2, 1]])) - np.arctan2(*asked[[2, 1]])
    assert abs(np.degrees(hue)) < 8
    assert np.ptp(np.percentile(neon[:, 0], [5, 95])) > 5
    assert len(np.unique(np.round(neon[:, 0], 1))) > 60, "no flat patch of one lightness"


def test_a_white_card_outshines_no_neon_in_its_own_band() -> None:
    """Reported apart from the white furnace, which holds for what thread reflects: under daylight neon of
    a full hue sends back 1.3 to 1.8 times what falls on it in its band, before the screen limits it."""
    for colour, band in (("#ff2d95", 0), ("#39ff14", 1), ("#ff5f1f", 0)):
        total = total_linear(to_linear(np.array(parse_colour(colour))), MOST, YIELD, WHITE)
        assert 1.25 < total[band] < 1.8
        assert to_srgb(on_screen(total)).max() == pytest.approx(1.0, abs=1e-3)
