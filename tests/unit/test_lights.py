"""Lights: the set-ups that ship, the user's own, their colour and their turning."""

from __future__ import annotations

import itertools
from pathlib import Path

import colour as colour_science
import flip_evaluator
import numpy as np
import pytest
import samples
from hypothesis import given
from hypothesis import strategies as st

from render.colour import SRGB_TO_XYZ
from render.draw import draw
from render.errors import InputError
from render.materials.fabrics import load_fabric
from render.materials.fibres import load_fibres
from render.materials.job import make_job
from render.materials.lights import light_colour_linear, light_names, load_light
from render.model import Window

OWN = """
title = "Bench"
white_balance = 0.5
[[lamp]]
azimuth_deg = -90
elevation_deg = 40
size_deg = 12
irradiance = 2
temperature_k = 3000
"""


def test_the_set_ups_that_ship() -> None:
    assert set(light_names()) == {
        "soft-studio", "window", "overcast", "shop-lamp", "raking", "neutral-proof",
    }  # fmt: skip
    for name, title in light_names().items():
        light = load_light(name)
        assert (light.name, light.title) == (name, title)
        assert light.lamps
        assert min(light.dome_linear) >= 0


def test_the_standard_light_comes_from_the_upper_left() -> None:
    key = max(load_light("soft-studio").lamps, key=lambda lamp: lamp.irradiance)
    assert key.azimuth_deg == 225  # screen angles: 180 is left, 270 top
    assert 40 <= key.elevation_deg <= 55


def test_what_the_set_ups_are_for() -> None:
    """Raking light is the lowest, an overcast sky the most even, the shop's lamp the warmest."""
    lights = {name: load_light(name) for name in light_names()}
    keys = {n: max(light.lamps, key=lambda lamp: lamp.irradiance) for n, light in lights.items()}
    assert min(keys, key=lambda n: keys[n].elevation_deg) == "raking"
    even = {n: light.dome_linear[1] / sum(v.irradiance for v in light.lamps) for n, light in lights.items()}
    assert max(even, key=lambda n: even[n]) == "overcast"
    warmth = {n: key.colour_linear[0] / key.colour_linear[2] for n, key in keys.items()}
    assert max(warmth, key=lambda n: warmth[n]) == "shop-lamp"


def test_proofs_are_judged_under_d50() -> None:
    """ISO 3664 asks for D50, about 5000 K."""
    light = load_light("neutral-proof")
    assert {lamp.colour_linear for lamp in light.lamps} == {light_colour_linear(5000)}


@pytest.mark.parametrize("kelvin", [2000, 2700, 3200, 3900])
def test_warm_lamps_lie_on_the_locus_of_planck(kelvin: float) -> None:
    """Planck's law with the CIE 1931 observer, as colour-science works it out; the fit is of its own
    size of error, 0.001 in x and y."""
    uv = colour_science.temperature.CCT_to_uv_Planck1900(kelvin)
    assert _xy(kelvin) == pytest.approx(colour_science.UCS_uv_to_xy(uv), abs=2e-3)


@pytest.mark.parametrize("kelvin", [4000, 5000, 5500, 6500, 7500, 12000, 25000])
def test_daylight_lies_on_the_cie_locus(kelvin: float) -> None:
    assert _xy(kelvin) == pytest.approx(colour_science.temperature.CCT_to_xy_CIE_D(kelvin), abs=1e-6)


def _xy(kelvin: float) -> tuple[float, float]:
    x, y, z = SRGB_TO_XYZ @ np.array(light_colour_linear(kelvin))
    return float(x / (x + y + z)), float(y / (x + y + z))


def test_daylight_of_6504_kelvin_is_white() -> None:
    """D65 has a colour temperature of 6504 K (CIE 15:2004)."""
    assert light_colour_linear(6504) == pytest.approx((1.0, 1.0, 1.0), abs=2e-3)


@given(st.floats(1950, 25000))
def test_a_light_has_the_luminance_one_whatever_its_colour(kelvin: float) -> None:
    """From 1950 K on, below which sRGB cannot hold its colour and blue is clipped at 0."""
    assert SRGB_TO_XYZ[1] @ np.array(light_colour_linear(kelvin)) == pytest.approx(1.0, abs=1e-6)


def test_a_light_of_ones_own(tmp_path: Path) -> None:
    (tmp_path / "bench.toml").write_text(OWN)
    light = load_light(str(tmp_path / "bench.toml"))
    assert (light.name, light.title, light.white_balance) == ("bench", "Bench", 0.5)
    assert light.dome_linear == (0.0, 0.0, 0.0)
    (lamp,) = light.lamps
    assert (lamp.azimuth_deg, lamp.elevation_deg, lamp.size_deg, lamp.irradiance) == (270, 40, 12, 2)
    assert lamp.colour_linear == light_colour_linear(3000)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "at least one [[lamp]] table"),
        ("lamp = 1", "at least one [[lamp]] table"),
        ("lamp = [1]", "at least one [[lamp]] table"),
        (OWN + "dome = 1", "'dome' is not known here"),
        ("dome = 1\n" + OWN, "at least one [[lamp]] table"),
        (OWN.replace("irradiance = 2", ""), "lamp 1: irradiance must be a number from 0 to 1000, not None"),
        (OWN.replace("irradiance = 2", "irradiance = 0"), "is dark"),
        (OWN.replace("irradiance = 2", "irradiance = nan"), "irradiance must be a number"),
        (OWN.replace("irradiance = 2", "irradiance = true"), "irradiance must be a number"),
        (OWN.replace("irradiance = 2", "irradiance = 0x" + "f" * 5000), "not a huge number"),
        (OWN.replace("azimuth", "azimut"), "'azimut_deg' is not known here; did you mean 'azimuth_deg'"),
        (OWN.replace("= 40", "= 0"), "elevation_deg must be a number from 1 to 90"),
        (OWN.replace("3000", "900"), "temperature_k must be a number from 1667 to 25000"),
        (OWN.replace("0.5", "2"), "white_balance must be a number from 0 to 1"),
        ("colour = 1" + OWN, "'colour' is not known here"),
        ("lamp = [", "not valid TOML"),
    ],
    ids=lambda value: value[-40:],
)
def test_lights_that_cannot_be_used(tmp_path: Path, text: str, message: str) -> None:
    (tmp_path / "own.toml").write_text(text)
    with pytest.raises(InputError) as error:
        load_light(str(tmp_path / "own.toml"))
    assert message in str(error.value)
    assert "own.toml" in str(error.value)
    assert "\n" not in str(error.value)
    assert len(str(error.value)) < 300 + len(str(tmp_path))


def test_a_name_that_is_not_known() -> None:
    with pytest.raises(
        InputError, match=r"there is no light 'windo' \(did you mean window\?\): choose neutral"
    ):
        load_light("windo")
    with pytest.raises(InputError, match=r"cannot read the light file none\.toml"):
        load_light("none.toml")


def test_every_set_up_makes_another_picture() -> None:
    """Mean FLIP between any two of them on a satin curve on twill; the least, 0.04, between the two that
    are as even as can be, the sky and the light to judge proofs by."""
    sewn = samples.sewn_of(samples.Part(samples.satin(5, 2.5, bend=1.2), "satin"))
    window = Window((0.0, 0.0), 10.0, 80, 80)
    pictures = []
    for name in light_names():
        (layers,) = draw(
            sewn,
            threads=(samples.RED,),
            lobes=load_fibres(),
            load_fabric=load_fabric,
            job=make_job(fabric="twill", light=name, finish="cleaned"),
            windows=[window],
        )
        pictures.append(samples.picture_of(layers, window).astype(np.float32) / 255)
    for one, other in itertools.combinations(pictures, 2):
        assert flip_evaluator.evaluate(one, other, "LDR")[1] > 0.03
