"""Which dye shows a colour: that with which a flat satin, in the mean over all directions, returns it."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from render.draw.dye import AGAIN
from render.draw.emission import on_screen, total_linear
from render.draw.exposure import unbalanced_card, white_card_linear
from render.draw.sheen import AZIMUTH_STEPS, COLUMNS, between, flat_tops

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.sheen import SheenTable
    from render.model import Colour, Light

# Albedos that a dye is looked for among: down to exp(-46), as some light passes it but a few times.
ALBEDO_STEPS, DARKEST = 65, 46.0
# Azimuths of a flat satin: between those of the table, two of each (Gauss-Legendre).
FLAT_AZIMUTHS = (np.arange(AZIMUTH_STEPS)[:, None] + 0.5 + np.array([-0.5, 0.5]) / 3**0.5).ravel()
# Mean share of skin's light that leaves the patch of tests/physics/test_colour.py past its own threads and
# grooves, and what of the light reaches the dye past threads, into grooves and on turned sides (measured
# there).
SHINE_OUT, REACHED = 0.889, 0.906
# White light off the skin makes up so much of a colour's darkest channel, and of its luminance (by eye, on
# navy and red).
WHITE_LEAST, WHITE_LIGHT = 0.6, 0.04


def dye_albedo(
    target_linear: Colour, table: SheenTable, light: Light | None = None, emission_yield: float = 0.0
) -> tuple[NDArray[np.float64], float]:
    """Dye albedo per channel, and the share of surface gloss kept, with which a flat satin
    patch averaged over stitch directions shows `target_linear` once the light's own colour is taken out:
    what `light` keeps of it tints thread as it tints a white card.

    Dark and saturated colours keep less gloss: otherwise the uncoloured lobe alone would be
    lighter than their darkest channel, and no dye would be found that sends any of it: navy would be
    grey where it shines and turquoise beside that. Where the dye is fluorescent under `light`, what it emits
    is part of its albedo, which then goes as far as a screen can show.
    """
    target = np.array(target_linear)
    kept = np.ones(3) if light is None else unbalanced_card(light) / white_card_linear(light)
    steps, shown, shine = flat_satin(table)
    shown, shine = shown / kept, shine / kept
    luminance = float(target @ (0.2126, 0.7152, 0.0722))
    gloss = min(1.0, float(WHITE_LEAST * target.min() + WHITE_LIGHT * luminance) / float(shine.mean()))
    most = shown[-1] * table.most_albedo + gloss * shine
    if light is not None and emission_yield > 0.0:
        total = total_linear(target, np.minimum(most, 1.0), emission_yield, unbalanced_card(light))
        target = most = on_screen(total)
    # A colour lighter than thread can be is dimmed as a whole, so that it keeps its hue.
    target = target / max(float((target / most).max()), 1.0)
    wanted = target - gloss * shine
    albedo = np.array([np.interp(wanted[c], shown[:, c], steps) for c in range(3)])
    beyond = wanted > shown[-1]
    albedo[beyond] = (wanted / shown[-1])[beyond]
    return np.minimum(albedo, np.maximum((most - gloss * shine) / shown[-1], table.most_albedo)), gloss


def flat_linear(albedo: NDArray[np.float32], table: SheenTable) -> NDArray[np.float64]:
    """What a dye of that albedo (3,) shows of itself, in the mean over a flat satin in all directions that
    lies deep among its like."""
    steps, shown, _ = flat_satin(table)
    inside = np.array([np.interp(albedo[c], steps, shown[:, c]) for c in range(3)])
    return np.asarray(inside * np.maximum(albedo, 1.0) * table.most_albedo)


@lru_cache(maxsize=8)
def flat_satin(
    table: SheenTable,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Albedos from black to white, what the dye shows for each of them in the mean over a flat satin in all
    directions (what deep light loses to it has no closed form), and what its skin shows."""
    tops = flat_tops(table.values.astype(np.float64))
    flat = between(tops, 0, FLAT_AZIMUTHS).reshape(-1, COLUMNS)
    steps = np.exp(-DARKEST * np.linspace(1.0, 0.0, ALBEDO_STEPS) ** 3)
    shown = np.array(
        [_mean(flat[:, 6:9] * a ** flat[:, 12:13] + flat[:, 9:12] * a ** flat[:, 13:]) for a in steps]
    )
    # What is blocked reaches the dye by way of neighbours, see `tinted`.
    shown *= (REACHED / (1.0 - AGAIN * steps * (1.0 - REACHED)))[:, None]
    return steps, shown, SHINE_OUT * _mean(flat[:, :3] + flat[:, 3:6])


def _mean(rows: NDArray[np.float64]) -> NDArray[np.float64]:
    """The mean of rows, freed from the order of summing, so that turned lights give the same dye."""
    return np.asarray(np.round(rows.mean(0) * 2.0**24) / 2.0**24)
