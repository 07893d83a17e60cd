"""Lights: our own studio set-ups, and the user's as a TOML of the same form."""

from __future__ import annotations

import numpy as np

from render.colour import SRGB_TO_XYZ
from render.errors import InputError
from render.materials.own_file import check_keys, named_or_own, number, text
from render.materials.presets import preset, preset_names
from render.model import Colour, Lamp, Light

_LAMP = ("azimuth_deg", "elevation_deg", "size_deg", "irradiance", "temperature_k")


def light_names() -> dict[str, str]:
    """Names of the set-ups that ship, and what they are."""
    return {name: preset(f"lights/{name}.toml")["title"] for name in preset_names("lights")}


def load_light(name_or_path: str) -> Light:
    """A set-up by name, or from the user's own .toml file. Raises InputError."""
    name, values = named_or_own("lights", name_or_path, "light")
    place = f"light {name_or_path}"
    check_keys(values, ("title", "white_balance", "source", "lamp", "dome"), place)
    rows, dome = values.get("lamp", []), values.get("dome", {"radiance": 0.0})
    if not (rows and isinstance(rows, list) and all(isinstance(row, dict) for row in [*rows, dome])):
        raise InputError(f"{place}: give at least one [[lamp]] table, and a [dome] table if wished")
    lamps = []
    for i, row in enumerate(rows, 1):
        where = f"{place}, lamp {i}"
        check_keys(row, (*_LAMP, "source"), where)
        lamps.append(
            Lamp(
                azimuth_deg=number(row, "azimuth_deg", where, -360, 360) % 360.0,
                elevation_deg=number(row, "elevation_deg", where, 1, 90),
                size_deg=number(row, "size_deg", where, 0, 120),
                irradiance=number(row, "irradiance", where, 0, 1000),
                colour_linear=light_colour_linear(
                    number({"temperature_k": 5500, **row}, "temperature_k", where, 1667, 25000)
                ),
            )
        )
    check_keys(dome, ("radiance", "temperature_k", "source"), f"{place}, dome")
    radiance = number(dome, "radiance", f"{place}, dome", 0, 1000)
    colour = light_colour_linear(
        number({"temperature_k": 6500, **dome}, "temperature_k", f"{place}, dome", 1667, 25000)
    )
    if radiance + sum(lamp.irradiance for lamp in lamps) <= 0:
        raise InputError(f"{place} is dark: give a lamp some irradiance or the dome some radiance")
    return Light(
        name=name,
        title=text(values, "title", place) or name,
        lamps=tuple(lamps),
        dome_linear=(colour[0] * radiance, colour[1] * radiance, colour[2] * radiance),
        white_balance=number({"white_balance": 1.0, **values}, "white_balance", place, 0, 1),
    )


def light_colour_linear(temperature_k: float) -> Colour:
    """Linear sRGB of a light of this colour temperature, luminance 1, white for D65.

    Below 4000 K Planck's locus by the cubic fit of Kim et al. (US patent 7024034), above
    it the CIE daylight locus (CIE 15:2004); both hold from 1667 to 25000 K.
    Channels outside sRGB are clipped at 0.
    """
    t = temperature_k
    if t < 4000:
        x = -0.2661239e9 / t**3 - 0.2343589e6 / t**2 + 0.8776956e3 / t + 0.179910
        if t < 2222:
            y = -1.1063814 * x**3 - 1.34811020 * x**2 + 2.18555832 * x - 0.20219683
        else:
            y = -0.9549476 * x**3 - 1.37418593 * x**2 + 2.09137015 * x - 0.16748867
    else:
        if t <= 7000:
            x = -4.6070e9 / t**3 + 2.9678e6 / t**2 + 0.09911e3 / t + 0.244063
        else:
            x = -2.0064e9 / t**3 + 1.9018e6 / t**2 + 0.24748e3 / t + 0.237040
        y = -3.000 * x * x + 2.870 * x - 0.275
    red, green, blue = np.maximum(np.linalg.solve(SRGB_TO_XYZ, np.array([x / y, 1.0, (1 - x - y) / y])), 0.0)
    return float(red), float(green), float(blue)
