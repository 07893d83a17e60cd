"""The colour a thread is sold by is the colour its stitching shows."""

from __future__ import annotations

from functools import lru_cache
from unittest.mock import patch

import numpy as np
import pytest
import samples
from numpy.typing import NDArray
from skimage.color import deltaE_ciede2000, rgb2lab

from render.colour import to_srgb
from render.compose.encoding import shoulder
from render.draw import shading
from render.materials.lights import load_light
from render.model import Colour, Light

# What a thread can be: black to white, pale, dark and strong colours. (Pure screen primaries are
# left to the next list: no dyed thread is as strong.)
COLOURS: tuple[Colour, ...] = (
    (0.05, 0.05, 0.06), (0.15, 0.15, 0.15), (0.30, 0.30, 0.30), (0.50, 0.50, 0.50), (0.75, 0.75, 0.75),
    (0.93, 0.92, 0.88), (0.70, 0.12, 0.16), (0.85, 0.08, 0.10), (0.80, 0.10, 0.35), (0.95, 0.60, 0.75),
    (0.60, 0.10, 0.50), (0.40, 0.10, 0.50), (0.02, 0.04, 0.20), (0.05, 0.08, 0.50), (0.10, 0.20, 0.80),
    (0.30, 0.60, 0.95), (0.55, 0.80, 0.95), (0.00, 0.50, 0.50), (0.10, 0.70, 0.70), (0.00, 0.35, 0.15),
    (0.05, 0.50, 0.08), (0.10, 0.80, 0.20), (0.60, 0.80, 0.20), (0.88, 0.66, 0.18), (0.95, 0.80, 0.10),
    (0.93, 0.45, 0.08), (0.80, 0.30, 0.10), (0.40, 0.20, 0.10), (0.25, 0.13, 0.07), (0.55, 0.50, 0.35),
    (0.85, 0.75, 0.60),
)  # fmt: skip
OUT_OF_REACH: tuple[Colour, ...] = ((1.0, 1.0, 1.0), (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (1.0, 0.85, 0.0))


def _shown_srgb(colour: Colour, kind: str, light: Light, directions: int) -> NDArray[np.float64]:
    """Mean colour of the middle of a flat satin over its stitch directions, as it is written."""
    window = samples.Window((0.0, 0.0), 24.0, 30, 30)
    thread = samples.Thread(colour, kind, 26.7, 1.49, 0.65)
    means = []
    for k in range(directions):
        satin = samples.turned(samples.satin(6.0, 5.0), 360 * k / directions + 3)
        drawn = samples.draw_flat(
            samples.sewn_of(samples.Part(satin, "satin")), window, threads=(thread,), light=light
        )
        linear = drawn.thread_linear + drawn.cloth_linear * drawn.cloth_share[..., None]
        means.append(shoulder(linear).mean((0, 1), dtype=float))
    return np.asarray(to_srgb(np.mean(means, axis=0)))


def _difference(shown: NDArray[np.float64], wanted: Colour) -> float:
    """CIEDE2000 (Sharma, Wu & Dalal 2005) of two sRGB colours."""
    one, other = (rgb2lab(np.array(c, float)[None, None]) for c in (shown, wanted))
    return float(deltaE_ciede2000(one, other)[0, 0])


def _differences(colours: tuple[Colour, ...], kind: str, directions: int) -> list[float]:
    light = load_light("soft-studio")
    with patch("render.draw.shading.sheen_table", lru_cache(shading.sheen_table)):
        return [_difference(_shown_srgb(c, kind, light, directions), c) for c in colours]


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["rayon", "trilobal-polyester", "matte-polyester"])
def test_satin_shows_the_colour_of_its_thread(kind: str) -> None:
    differences = _differences(COLOURS, kind, 12)
    assert np.mean(differences) < 1.5
    assert max(differences) < 4, COLOURS[int(np.argmax(differences))]


def test_colours_no_thread_can_have_come_near() -> None:
    assert max(_differences(OUT_OF_REACH, "rayon", 4)) < 8


def test_the_measure_sees_a_wrong_colour() -> None:
    assert _difference(np.array([0.70, 0.12, 0.16]), (0.64, 0.12, 0.16)) > 2
