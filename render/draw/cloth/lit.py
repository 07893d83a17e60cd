"""Light on an unlit tile, and the dye that brings its mean to the asked colour."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.colour import SRGB_TO_XYZ, to_linear
from render.compiled import njit
from render.draw.cloth.relief import lamp_shadow
from render.draw.cloth.turns import lamp_towards
from render.draw.exposure import white_card_linear

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.cloth.tile import Tile
    from render.model import Colour, Light

    Plane = NDArray[np.floating[Any]]

BRIGHTEST = 0.93  # of a white card that a mean may reach: the crests need room above it
SPECULAR_SHARE = 0.30  # of the asked colour, in each channel, that undyed reflection may make up
UNDYED_SHARE = 0.70  # likewise, of its lightness, for undyed yarn
MOST_UNDYED = 0.66  # and in any one channel
TUFT_FACING = 0.3  # how much a tuft's slope counts, its edge being soft (calibrated by eye)
SAMPLE_EVERY = 31  # pixels of the tile that the search for a dye looks at
BOUNCE = 0.60  # of the light a hollow returns that meets cloth again (reference recipe: estimate)


def light_tile(
    tile: Tile,
    finish: dict[str, Any],
    light: Light,
    colour_srgb: Colour,
    *,
    undyed_srgb: Colour,
    turn_deg: float,
    mirrored: bool,
) -> Plane:
    """Radiance (R, C, 3) of the tile under the light, a flat white card being 1.

    The mean comes to `colour_srgb` under the light's strengths; the light's own colour,
    as far as its white balance leaves it, is kept.
    """
    body, gloss, closed, pale = gathered(tile, finish, light, turn_deg=turn_deg, mirrored=mirrored)
    target = np.minimum(to_linear(np.array(colour_srgb)), BRIGHTEST)
    shine = float(gloss.mean(dtype=np.float64))
    grey = body.mean(axis=2)
    out = np.empty_like(body)
    undyed = to_linear(np.array(undyed_srgb))
    natural = _undyed_albedo(undyed, target, grey, closed, pale) if pale is not None else None
    for k in range(3):
        cap = min(1.0, SPECULAR_SHARE * target[k] / max(shine, 1e-9))
        rest = float(target[k]) - cap * shine
        if natural is None or pale is None:
            out[..., k] = reflected(_albedo_of(rest, grey, closed), body[..., k], closed)
        else:
            rest -= _mean(natural[k], grey, closed, pale)
            dye = _albedo_of(rest, grey, closed, 1.0 - pale)
            out[..., k] = reflected(dye, body[..., k], closed) * (1.0 - pale)
            out[..., k] += reflected(natural[k], body[..., k], closed) * pale
        out[..., k] += cap * gloss[..., k]
    return out


def gathered(
    tile: Tile, finish: dict[str, Any], light: Light, *, turn_deg: float, mirrored: bool
) -> tuple[Plane, Plane, Plane, Plane | None]:
    """What no dye changes: light that dyed fibres meet and uncoloured reflection (R, C, 3), how closed in
    each place lies (R, C), and its share of undyed yarn, None where there is none."""
    body, gloss = _gather(tile, finish, light, turn_deg=turn_deg, mirrored=mirrored)
    closed = 1.0 - tile.sky.astype(np.float32) / 255
    if tile.pile.size:
        # Deep fibres see little but other fibres.
        return (
            body,
            gloss,
            1.0 - (1.0 - closed) * np.clip(tile.pile[..., 0] / np.float32(8192), 0.0, 1.0),
            None,
        )
    pale = tile.fields[..., 7] / np.float32(64)
    return body, gloss, closed, pale if pale.any() else None


def _undyed_albedo(
    undyed: NDArray[np.float64], target: NDArray[np.float64], body: Plane, closed: Plane, pale: Plane
) -> list[float]:
    """Albedo of undyed yarn in each channel, dimmed on cloth so dark that it would outshine it.

    Dimmed by lightness, so that it stays grey, and in no channel beyond what the colour holds.
    """
    raw = [_albedo_of(float(undyed[k]), body, closed) for k in range(3)]
    return dimmed(raw, np.array([_mean(albedo, body, closed, pale) for albedo in raw]), target)


def dimmed(raw: list[float], share: NDArray[np.float64], target: NDArray[np.float64]) -> list[float]:
    """Albedos that show `share` (3,) of a cloth's light, so that they stay within its colour."""
    lightness = SRGB_TO_XYZ[1]
    dim = min(1.0, UNDYED_SHARE * float(lightness @ target) / max(float(lightness @ share), 1e-9))
    return [raw[k] * min(dim, MOST_UNDYED * target[k] / max(share[k], 1e-9)) for k in range(3)]


def _mean(albedo: float, body: Plane, closed: Plane, share: Plane | None) -> float:
    light = reflected(albedo, body, closed)
    return float((light if share is None else light * share).mean(dtype=np.float64))


def reflected(albedo: float, body: Plane, closed: Plane) -> Plane:
    """What dyed fibres give back; hollows are filled by light that met the cloth around before.

    Of a place's sky, `closed` is cloth, as bright as cloth is on the whole.
    """
    again = min(BOUNCE * albedo, 0.97) * closed
    around = np.float32(body.mean(dtype=np.float64))
    return np.asarray(albedo * (body + around * again / (1.0 - again)), np.float32)


def _albedo_of(mean: float, body: Plane, closed: Plane, share: Plane | None = None) -> float:
    """Albedo whose reflected mean, over the `share` of each pixel, is `mean`."""
    few = slice(None, None, SAMPLE_EVERY)
    b, c = (np.ascontiguousarray(plane.ravel()[few]) for plane in (body, closed))
    s = None if share is None else np.ascontiguousarray(share.ravel()[few])
    low, high = 0.0, 4.0
    for _ in range(24):
        middle = 0.5 * (low + high)
        if _mean(middle, b, c, s) < mean:
            low = middle
        else:
            high = middle
    albedo = 0.5 * (low + high)
    whole = _mean(albedo, body, closed, share)
    return albedo * (mean / whole if whole > 0 else 1.0)


def fibre_numbers(finish: dict[str, Any]) -> NDArray[np.float64]:
    """A finish as `add_lamp` wants it."""
    return np.array(
        [
            finish["wrap"],
            finish["along"],
            finish["across"],
            np.deg2rad(finish["sheen_deg"]),
            finish["sheen"],
            finish["f0"],
            np.deg2rad(finish["beta1_deg"]),
            np.deg2rad(finish["beta2_deg"]),
            finish["second"],
            finish["shadow_floor"],
        ]
    )


def _gather(
    tile: Tile, finish: dict[str, Any], light: Light, *, turn_deg: float, mirrored: bool
) -> tuple[Plane, Plane]:
    """Light that dyed fibres meet, and uncoloured reflection, (R, C, 3) each."""
    card = white_card_linear(light)
    rows, cols = tile.height_mm.shape
    body, gloss = np.zeros((rows, cols, 3), np.float32), np.zeros((rows, cols, 3), np.float32)
    numbers = fibre_numbers(finish)
    dome = (np.array(light.dome_linear) / card).astype(np.float64)
    add_dome(body, tile.fields, tile.sky, tile.pile, dome)
    for lamp in light.lamps:
        towards = lamp_towards(lamp, turn_deg=turn_deg, mirrored=mirrored)
        shadow = lamp_shadow(tile.height_mm, tile.per_mm, towards, lamp.size_deg)
        # Crevices finer than the march's first step are as dark as their sky is small.
        shadow = shadow * (tile.sky.astype(np.float32) / 255)
        strength = lamp.irradiance / np.pi * np.array(lamp.colour_linear) / card
        if tile.pile.size:
            add_pile_lamp(
                body,
                tile.pile,
                tile.height_mm,
                1.0 / tile.per_mm[0],
                shadow,
                towards,
                strength,
                finish["shadow_floor"],
            )
        else:
            add_lamp(body, gloss, tile.fields, tile.hairs, shadow, towards, strength, numbers)
    return body, gloss


@njit(cache=True, nogil=True)
def add_dome(
    body: Plane, fields: NDArray[np.int8], sky: NDArray[np.uint8], pile: NDArray[np.int16], dome: Plane
) -> None:
    """Even light from all sides, times the fibre's lightness.

    The power stands for what the horizon of few taps misses (calibrated by eye).
    """
    rows, cols = sky.shape
    for r in range(rows):
        for c in range(cols):
            lightness = pile[r, c, 0] / 8192.0 if pile.size else fields[r, c, 6] / 64.0
            for k in range(3):
                body[r, c, k] += dome[k] * lightness * (sky[r, c] / 255.0) ** 2


@njit(cache=True, nogil=True)
def add_pile_lamp(
    body: Plane,
    pile: NDArray[np.int16],
    height: Plane,
    pixel_mm: float,
    shadow: Plane,
    towards: Plane,
    strength: Plane,
    floor: float,
) -> None:
    """A lamp on pile: fibres shine by the sine of their angle to the light, from moments."""
    rows, cols = shadow.shape
    x, y, z = towards[0], towards[1], towards[2]
    for r in range(rows):
        for c in range(cols):
            m = pile[r, c]
            along = (
                x * x * m[1]
                + y * y * m[2]
                + z * z * m[3]
                + 2 * x * y * m[4]
                + 2 * x * z * m[5]
                + 2 * y * z * m[6]
            )
            lit = (0.15 * m[0] + 0.85 * (m[0] - along)) / 8192.0
            # Tufts are lit on the side that faces the lamp.
            slope_x = (height[r, (c + 3) % cols] - height[r, c - 3]) / (6.0 * pixel_mm)
            slope_y = (height[(r + 3) % rows, c] - height[r - 3, c]) / (6.0 * pixel_mm)
            lit *= max(1.0 - TUFT_FACING * (slope_x * x + slope_y * y) / z, 0.2)
            lit *= floor + (1.0 - floor) * shadow[r, c]
            for k in range(3):
                body[r, c, k] += strength[k] * lit


@njit(cache=True, nogil=True)
def add_lamp(
    body: Plane,
    gloss: Plane,
    fields: NDArray[np.int8],
    hairs: NDArray[np.int8],
    shadow: Plane,
    towards: Plane,
    strength: Plane,
    numbers: Plane,
) -> None:
    """A lamp on yarn: wrapped Lambert, light across the fibre, a broad dyed sheen, and two
    uncoloured Gaussian lobes of the half-angle about the fibre."""
    rows, cols = shadow.shape
    wrap, along, across, sheen_width, sheen = numbers[0], numbers[1], numbers[2], numbers[3], numbers[4]
    f0, beta1, beta2, second, floor = numbers[5], numbers[6], numbers[7], numbers[8], numbers[9]
    x, y, z = towards[0], towards[1], towards[2]
    for r in range(rows):
        for c in range(cols):
            tx, ty, tz = fields[r, c, 0] / 127.0, fields[r, c, 1] / 127.0, fields[r, c, 2] / 127.0
            facing = (fields[r, c, 3] * x + fields[r, c, 4] * y + fields[r, c, 5] * z) / 127.0
            wrapped = max((facing + wrap) / (1.0 + wrap), 0.0)
            sine_in = tx * x + ty * y + tz * z
            cosine_in = np.sqrt(max(1.0 - sine_in * sine_in, 0.0))
            # The view is straight down: its sine against the fibre is the tangent's z.
            half = 0.5 * (sine_in + tz)
            visible = floor + (1.0 - floor) * shadow[r, c]
            broad = np.exp(-0.5 * (half / sheen_width) ** 2)
            light = across * wrapped + along * cosine_in + sheen * 0.35 * broad * wrapped
            light *= visible * fields[r, c, 6] / 64.0
            skin = (
                np.exp(-0.5 * (half / beta1) ** 2) / beta1
                + second * np.exp(-0.5 * (half / beta2) ** 2) / beta2
            )
            shine = f0 * 0.25 * skin * visible * wrapped
            cover = hairs[r, c, 0] / 127.0
            if cover > 0.0:
                dot = (hairs[r, c, 1] * x + hairs[r, c, 2] * y + hairs[r, c, 3] * z) / 127.0 / cover
                fine = 0.35 + 0.85 * np.sqrt(max(1.0 - dot * dot, 0.0)) * z
                light += cover * (fine - light)
                shine *= 1.0 - cover
            for k in range(3):
                body[r, c, k] += strength[k] * light
                gloss[r, c, k] += strength[k] * shine
