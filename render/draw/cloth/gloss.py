"""How much more the light on a cloth changes where it slopes than that on matt card: shiny fibres glint."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.colour import SRGB_TO_XYZ, to_linear
from render.draw.cloth.lit import SPECULAR_SHARE, add_lamp, fibre_numbers
from render.draw.cloth.turns import lamp_towards

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Colour, Light

    Floats = NDArray[np.floating[Any]]

SLOPE = 0.25  # over which the change is measured: what ripples have
LEAST = 1.0  # wrapped light would make matt cloth softer than card: there it is card


def slope_gain(finish: dict[str, Any], light: Light, colour_srgb: Colour) -> float:
    """By how many times more a slope towards the key lamp brightens cloth of this finish and colour than
    Lambert's law has it; of level fibres that lie both ways, without what they shade."""
    if not light.lamps:
        return 1.0
    towards = lamp_towards(light.lamps[0], turn_deg=0.0, mirrored=False)
    level = float(SRGB_TO_XYZ[1] @ to_linear(np.array(colour_srgb)))
    numbers = fibre_numbers(finish)
    low, flat, high = (_light(numbers, towards, slope) for slope in (-SLOPE, 0.0, SLOPE))
    gloss = min(SPECULAR_SHARE, flat[1] / max(level, 1e-6))
    rise = [(h - b) / (2.0 * SLOPE * max(f, 1e-9)) for b, f, h in zip(low, flat, high, strict=True)]
    lambert = float(np.hypot(*towards[:2]) / towards[2])
    if lambert < 1e-6:
        return 1.0
    return max(((1.0 - gloss) * rise[0] + gloss * rise[1]) / lambert, LEAST)


def _light(numbers: Floats, towards: Floats, slope: float) -> tuple[float, float]:
    """Dyed and uncoloured light of a unit lamp on level fibres along x and y, once turned to the lamp."""
    azimuth = np.arctan2(towards[1], towards[0])
    tip = np.arctan(slope)
    lean, up = np.sin(tip), np.cos(tip)
    to = np.array([np.cos(azimuth), np.sin(azimuth), 0.0])
    normal = lean * to + np.array([0.0, 0.0, up])
    rows = []
    for tangent in np.eye(3)[:2]:
        along = float(tangent @ to)
        turned = tangent + along * ((up - 1.0) * to - np.array([0.0, 0.0, lean]))
        rows.append([*(127 * turned), *(127 * normal), 64.0, 0.0])
    fields = np.rint(np.array(rows)).astype(np.int8)[None]
    body, gloss = np.zeros((1, 2, 3), np.float32), np.zeros((1, 2, 3), np.float32)
    hairs, shown = np.zeros((1, 2, 4), np.int8), np.ones((1, 2), np.float32)
    add_lamp(body, gloss, fields, hairs, shown, towards, np.ones(3), numbers)
    return float(body.mean()), float(gloss.mean())
