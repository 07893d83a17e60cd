"""Exposure by white card: how bright a flat white card is under a light."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Light


def white_card_linear(light: Light) -> NDArray[np.float64]:
    """RGB to divide every radiance by, so that a flat matt white card comes out as white.

    Lambert: radiance = sum of irradiance x sin(elevation) / pi, plus the even dome. With
    `white_balance` 1 each channel is divided by its own; with 0 all by their mean.
    """
    card = unbalanced_card(light)
    return np.asarray(card.mean() ** (1.0 - light.white_balance) * card**light.white_balance)


def unbalanced_card(light: Light) -> NDArray[np.float64]:
    """RGB radiance of that card, the light's own colour in it."""
    card = np.array(light.dome_linear, dtype=np.float64)
    for lamp in light.lamps:
        share = lamp.irradiance * np.sin(np.deg2rad(lamp.elevation_deg)) / np.pi
        card = card + share * np.array(lamp.colour_linear)
    return card
