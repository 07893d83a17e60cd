"""Fluorescent thread: light of one colour that its dye takes in comes back in another, longer one.

Three bands of light, those of sRGB's primaries. Of the photons a dye takes in, the thread's
`emission_yield` comes back in a band of longer waves, without a direction; none does in blue, as
ultraviolet is not part of the lights. What a thread reflects never exceeds what an ordinary one can.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.colour import from_oklab, to_oklab

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Dominant wavelengths of sRGB's primaries against D65 (CIE 15; primaries of IEC 61966-2-1), nm.
BAND_NM = np.array([611.0, 549.0, 464.0])
MOST_TIMES = 4.0
# Where colours beyond the screen are drawn to: low, so that they keep their strength (by eye).
TOWARDS_LIGHTNESS = 0.3
HALVINGS = 40


def total_linear(
    colour_linear: NDArray[np.float64],
    reflected_most: NDArray[np.float64],
    emission_yield: float,
    light_linear: NDArray[np.float64],
) -> NDArray[np.float64]:
    """What a fluorescent thread of this colour sends back, as multiples of a white card: the colour
    itself, as many times brighter as reflection and emission together can make it.

    All linear RGB (3,): `reflected_most` is what an ordinary thread can reflect, `light_linear` what
    falls on a card, before any white balance.
    """
    low, high = 0.0, MOST_TIMES
    for _ in range(HALVINGS):
        times = 0.5 * (low + high)
        if _can(times * colour_linear, reflected_most, emission_yield, light_linear):
            low = times
        else:
            high = times
    return low * colour_linear


def _can(
    total: NDArray[np.float64],
    reflected_most: NDArray[np.float64],
    emission_yield: float,
    light_linear: NDArray[np.float64],
) -> bool:
    """Whether the dye takes in enough photons in shorter bands for all that must be emitted."""
    reflected = np.minimum(total, reflected_most)
    emitted = (total - reflected) * light_linear * BAND_NM
    taken = emission_yield * (1.0 - np.minimum(reflected, 1.0)) * light_linear * BAND_NM
    return bool(
        emitted[2] <= 0.0
        and emitted[1] <= taken[2]
        # Photons that are taken in once come back once, in green or in red.
        and emitted[0] + emitted[1] <= taken[2] + (taken[1] if emitted[0] > 0.0 else 0.0)
    )


def on_screen(linear: NDArray[np.float64]) -> NDArray[np.float64]:
    """The nearest colour (3,) that sRGB can show, in Oklab: of the same hue, and the lighter the
    brighter the colour was, so that two of one hue never swap places."""
    lab = to_oklab(linear)
    middle = np.array([min(TOWARDS_LIGHTNESS, float(lab[0])), 0.0, 0.0])

    def at(share: float) -> NDArray[np.float64]:
        return from_oklab(middle + share * (lab - middle))

    low, high = 0.0, 1.0
    if _shown(at(high)):
        return linear
    for _ in range(HALVINGS):
        share = 0.5 * (low + high)
        low, high = (share, high) if _shown(at(share)) else (low, share)
    return at(low)


def _shown(linear: NDArray[np.float64]) -> bool:
    return bool(linear.max() <= 1.0 and linear.min() >= -1e-6)
