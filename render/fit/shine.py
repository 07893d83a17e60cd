"""What the wedges of a photographed angle wheel say of a thread: its colour, and how it shines.

Least squares on the logarithms of the wedges' colours, by Gauss-Newton steps with the wheel lit anew
at each: three numbers of the colour, and three of the shine as multiples of the kind's own. What the
wedges cannot show apart from the rest stays near what the kind has, and that is said.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.colour import SRGB_TO_XYZ
from render.errors import InputError
from render.materials.threads import SHINE
from render.swatch.wheel import WEDGES, spoke_deg

if TYPE_CHECKING:
    from collections.abc import Callable

    from render.model import Floats

    Respond = Callable[[Floats], Floats]

LEAST_CONTRAST = 0.03  # swing of the wedges' luminance with their direction, of its mean (estimate)
MOST_TURN_DEG = 20.0  # by which the lamp may stand elsewhere than said (estimate)
KNOWN_SIGMA = 0.6  # of a logarithm: how near a thread is to its kind before it was seen (estimate)
MOST_SIGMA = 0.85 * KNOWN_SIGMA  # beyond it the wedges have hardly said more
# And of a channel's colour: glossy thread shows the same however dark it is there (estimate).
DARK_SIGMA = 3.0
MOST_SCATTER = 0.04  # of wedges sewn alike (estimate)
MOST_RMS = 0.25  # of what the fitted wheel leaves: beyond it the photo shows something else (estimate)
FURTHEST = 2.5  # of a logarithm: no thread is so far from its kind (estimate)
STEP, LONGEST, FAR = 0.12, 0.7, 0.15  # slopes are taken anew only after a long step
MOST_ROUNDS = 8
LEAST_SCATTER = 0.003  # of wedges, as JPEG's levels and grain leave it (estimate)
SETTLED = 0.02
FLOOR = 0.01  # of the mean: a channel without light has no logarithm


@dataclass(frozen=True, slots=True, eq=False)
class ShineFit:
    """A fitted thread: linear colour, multiples of the kind's shine by `SHINE`, and one standard deviation of
    the logarithm of each (3 and 3); `held` are names that the wedges hardly show. `rms` is of the wedges'
    colours about the fit, relative; `turn_deg` how far off the lamp seems to stand."""

    colour_linear: Floats
    shine: Floats
    colour_sigma: Floats
    shine_sigma: Floats
    held: tuple[str, ...]
    rms: float
    turn_deg: float


def fit_shine(wedges: Floats, respond: Respond) -> ShineFit:
    """Fit colour and shine to the wedges (12, 3), linear, white card = 1.

    `respond` gives the wedges (12, 3) for the logarithms (6,) of the colour and of the multiples in
    `SHINE`. Raises InputError where the wedges cannot say.
    """
    if not wedges.mean() > 0:
        raise InputError("the wedges are black on this photo, which hides all sheen: expose it longer")
    start = np.concatenate([np.log(np.clip(wedges.mean(0), 1e-3, 0.95)), np.zeros(len(SHINE))])
    turn = _check_swing(wedges, respond(start))
    theta, rest, slopes = _least_squares(wedges, respond, start)
    sigma = _sigmas(rest, slopes)
    unseen = sigma[3:] > MOST_SIGMA
    if unseen.all():
        raise InputError(
            "the wedges do not show how this thread shines apart from its colour: take the photo under "
            "one lamp at 30 to 55 degrees, in a dark room"
        )
    rms = float(np.sqrt((rest**2).mean()))
    if rms > MOST_RMS:
        raise InputError(
            f"the wedges are {100 * rms:.0f} % off what any thread of this kind shows: check the corners, "
            "the lamp's place, the kind, and that no shadow falls on the wheel"
        )
    held = tuple(name for name, hidden in zip(SHINE, unseen, strict=True) if hidden)
    return ShineFit(
        colour_linear=np.exp(theta[:3]),
        shine=np.exp(theta[3:]),
        colour_sigma=sigma[:3],
        shine_sigma=sigma[3:],
        held=held,
        rms=rms,
        turn_deg=turn,
    )


def _check_swing(wedges: Floats, expected: Floats) -> float:
    """How far the lamp seems to stand from where it was said to, degrees; refuses wedges that hardly change,
    or that change as under another lamp."""
    seen, wanted = (_swing(colours) for colours in (wedges, expected))
    if abs(seen) < LEAST_CONTRAST:
        raise InputError(
            f"the wedges differ by only {200 * abs(seen):.0f} % with their direction: that shows no sheen to "
            "fit; light them with one lamp, low and from the side"
        )
    turn = float(np.degrees(np.angle(seen / wanted)) / 2)
    if abs(turn) > MOST_TURN_DEG:
        raise InputError(
            f"the wedges are brightest as under a lamp {abs(turn):.0f} degrees further "
            f"{'clockwise' if turn > 0 else 'anticlockwise'} than --light says: correct its azimuth_deg "
            "(0 right, 90 bottom, 180 left, 270 top of the wheel)"
        )
    return turn


def _swing(wedges: Floats) -> complex:
    """Amplitude and phase of luminance over half a turn of the stitches, relative to its mean."""
    light = wedges @ SRGB_TO_XYZ[1]
    turn = np.deg2rad(2.0 * np.array([spoke_deg(number) for number in range(WEDGES)]))
    return complex(2.0 * (light / light.mean() * np.exp(1j * turn)).mean())


def _logs(wedges: Floats, mean: Floats) -> Floats:
    return np.asarray(np.log(wedges + FLOOR * mean).ravel())


def _least_squares(wedges: Floats, respond: Respond, theta: Floats) -> tuple[Floats, Floats, Floats]:
    """Logarithms (6,), what is left (36,) and the slopes (36, 6) there."""
    mean = wedges.mean()
    wanted = _logs(wedges, mean)
    fitted, far = _logs(respond(theta), mean), True
    slopes = np.zeros((len(wanted), len(theta)))
    for _ in range(MOST_ROUNDS):
        for k in range(len(theta)) if far else ():
            step = STEP * (np.arange(len(theta)) == k)
            slopes[:, k] = (_logs(respond(theta + step), mean) - fitted) / STEP
        # What is known of the kind counts as much as the wedges' scatter lets it.
        weight = _scatter(wanted - fitted) / KNOWN_SIGMA
        rows = np.concatenate([slopes, weight * np.eye(len(theta))[3:]])
        move = np.linalg.lstsq(rows, np.concatenate([wanted - fitted, -weight * theta[3:]]), rcond=None)[0]
        move = np.clip(move, -LONGEST, LONGEST)
        theta = theta + move
        theta[:3] = np.minimum(theta[:3], 0.0)
        theta[3:] = np.clip(theta[3:], -FURTHEST, FURTHEST)
        fitted = _logs(respond(theta), mean)
        if np.abs(move).max() < SETTLED:
            break
        far = bool(np.abs(move).max() > FAR)
    return theta, wanted - fitted, slopes


def _sigmas(rest: Floats, slopes: Floats) -> Floats:
    """One standard deviation of each logarithm by the scatter of the wedges and what was known."""
    known = np.diag([DARK_SIGMA**-2] * 3 + [KNOWN_SIGMA**-2] * len(SHINE))
    return np.asarray(np.sqrt(np.diag(np.linalg.inv(slopes.T @ slopes / _scatter(rest) ** 2 + known))))


def _scatter(rest: Floats) -> float:
    """One standard deviation of a wedge about the fit, as if its three channels were known apart: as they
    stray together, they tell no more than one."""
    found = float(np.sqrt((rest**2).sum() / (len(rest) - 3 - len(SHINE))))
    return min(max(found, LEAST_SCATTER), MOST_SCATTER) * 3**0.5
