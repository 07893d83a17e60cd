"""The light that the screen proof moves: the same arithmetic as its shaders, in Python.

A picture is what its main lamp sends back from the thread, and the rest. The rest stays as the
renderer drew it; the lamp's part is made anew for every place of the lamp: from a table of the
fibre lobes (`render.draw.lobes`) by azimuth, tilt and roll, and from planes that say how the thread
of each pixel lies. `page/*.glsl` do this in the browser; this module makes what they start from.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from render.colour import to_linear
from render.compose.encoding import SHOULDER_LINEAR
from render.draw.lobes import (
    ABOVE,
    fresnel,
    lobe_norms,
    lobe_shape,
    norms_towards,
    thread_frame,
)
from render.draw.planes import SIDES
from render.draw.shading import dyes_of
from render.draw.sheen import lamp_direction, sheen_table
from render.materials.fibres import load_fibres
from render.model import freeze

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Colour, Light, Thread, ThreadPlanes

AZIMUTHS, TILTS, ROLLS, BODIES = 128, 48, 24, 16
TILT_LIMIT_DEG, ROLL_LIMIT_DEG = 60.0, 75.0
TOP = 4.0  # the most that a table holds, for irradiance 1
DEPTH_TOP = 16.0  # the deepest that a table holds, as of `lobe_weights`
REST_TOP = 1.5  # the most light that the rest holds
POINTS = 4  # of the lamp's disc
MOST_LOOKS = 255  # of threads that a byte tells apart, besides cloth
LOWEST_DEG, HIGHEST_DEG = 12.0, 84.0  # how low and how high the lamp can stand
# From so high up a lamp reaches past what stands in the way of one at the usual height.
CLEAR_FROM_DEG, CLEAR_AT_DEG = 45.0, 80.0


@dataclass(frozen=True, slots=True, eq=False)
class MovingLamp:
    """The main lamp of a light, what it falls on, and what stands still.

    `look (blocks,)` says which of the threads that look different a colour block has; `dye (looks, 4)` is
    their albedo and gloss, `kind (looks,)` which of the thread kinds; `shape (kinds, 17)` as of
    `lobe_shape`, `scale (kinds, TILTS, ROLLS, 2)` what turns the lobes into reflected light.
    `still_card (3,)` is what the other lights give a white card.
    """

    azimuth_deg: float
    elevation_deg: float
    size_deg: float
    irradiance: float
    colour_linear: Colour
    still_card: NDArray[np.float64]
    white_balance: float
    look: NDArray[np.int64]
    dye: NDArray[np.float64]
    kind: NDArray[np.int64]
    shape: NDArray[np.float64]
    scale: NDArray[np.float32]

    def __post_init__(self) -> None:
        kinds, looks = len(self.shape), len(self.dye)
        freeze(self, look=(-1,), dye=(looks, 4), kind=(looks,), still_card=(3,), shape=(kinds, 17))
        freeze(self, scale=(kinds, TILTS, ROLLS, 2))


@dataclass(frozen=True, slots=True, eq=False)
class Steps:
    """How the thread of each pixel lies, in the steps that the page keeps: uint8 `(rows, cols)` each.

    `block` is the look of its colour block, from 1 on, see `MovingLamp`; 0 is cloth. `sides` is as in
    `ThreadPlanes`.
    """

    block: NDArray[np.uint8]
    azimuth: NDArray[np.uint8]
    tilt: NDArray[np.uint8]
    roll: NDArray[np.uint8]
    body: NDArray[np.uint8]
    sides: NDArray[np.uint8]


def moving_lamp(light: Light, threads: tuple[Thread, ...]) -> MovingLamp:
    """The first lamp of a light, for these threads, one a colour block. A light without lamps moves none."""
    lobes = load_fibres(threads)
    kinds = sorted({thread.shines_as for thread in threads})
    tables = [sheen_table(lobes[kind], light) for kind in kinds]
    # A name sewn letter by letter has hundreds of blocks, and few threads.
    plain = [replace(thread, label="", needle=None) for thread in threads]
    looks = tuple(dict.fromkeys(plain))
    dye = dyes_of(looks, kinds, tables, lobes, light)[:, :4].astype(np.float64)
    still = np.array(light.dome_linear, np.float64)
    for lamp in light.lamps[1:]:
        still = still + lamp.irradiance * np.sin(np.deg2rad(lamp.elevation_deg)) / np.pi * np.array(
            lamp.colour_linear
        )
    first = light.lamps[0] if light.lamps else None
    return MovingLamp(
        azimuth_deg=first.azimuth_deg if first else 225.0,
        elevation_deg=first.elevation_deg if first else 45.0,
        size_deg=first.size_deg if first else 0.0,
        irradiance=first.irradiance if first else 0.0,
        colour_linear=first.colour_linear if first else (1.0, 1.0, 1.0),
        still_card=still,
        white_balance=light.white_balance,
        look=np.array([looks.index(thread) for thread in plain], np.int64),
        dye=dye,
        kind=np.array([kinds.index(thread.shines_as) for thread in looks], np.int64),
        shape=np.array([lobe_shape(lobes[kind]) for kind in kinds]),
        scale=np.array([_scales(lobe_norms(lobes[kind])) for kind in kinds], np.float32),
    )


def _scales(norms: NDArray[np.float64]) -> NDArray[np.float64]:
    """Skin over the surface lobe's integral, and the rest over the volume lobe's, by tilt and roll."""
    out = np.empty((TILTS, ROLLS, 2))
    for i, tilt in enumerate(_middles(TILTS, TILT_LIMIT_DEG)):
        for j, roll in enumerate(_middles(ROLLS, ROLL_LIMIT_DEG)):
            axis, normal = thread_frame(tilt, roll)
            surface, volume, skin = norms_towards(norms, axis, normal, ABOVE)
            out[i, j] = skin / surface, (1.0 - skin) / volume
    return out


def _middles(steps: int, limit_deg: float) -> NDArray[np.float64]:
    """Middles of even steps from -limit to limit, radians."""
    return np.asarray(np.deg2rad(((np.arange(steps) + 0.5) / steps * 2.0 - 1.0) * limit_deg))


def lamp_points(azimuth_deg: float, elevation_deg: float, size_deg: float) -> NDArray[np.float64]:
    """Four unit vectors to points of a round lamp, on the ring that halves its disc."""
    middle = np.array(lamp_direction(azimuth_deg, elevation_deg))
    turn = np.deg2rad(azimuth_deg)
    side = np.array([-np.sin(turn), np.cos(turn), 0.0])
    up = np.cross(middle, side)
    radius = np.tan(np.deg2rad(size_deg) / 2) * 0.5**0.5
    around = np.arange(POINTS) * (2.0 * np.pi / POINTS)
    points = middle + radius * (np.cos(around)[:, None] * up + np.sin(around)[:, None] * side)
    return np.asarray(points / np.linalg.norm(points, axis=1, keepdims=True))


@lru_cache(maxsize=4)
def lamp_table(lamp: MovingLamp, azimuth_deg: float, elevation_deg: float) -> NDArray[np.float64]:
    """Surface and volume light for irradiance 1 and the volume's depth, (kinds, tilt, roll, azimuth, 3),
    in the steps that a texture holds."""
    points = lamp_points(azimuth_deg, elevation_deg, lamp.size_deg)
    lobes = np.array([sum(_lobes(shape, point) for point in points) for shape in lamp.shape])
    value = np.clip(lobes[..., :2] / POINTS * lamp.scale[:, :, :, None, :] / TOP, 0.0, 1.0)
    depth = np.clip(lobes[..., 2] / np.maximum(lobes[..., 1], 1e-12) / DEPTH_TOP, 0.0, 1.0)
    surface = np.floor(np.sqrt(value[..., 0]) * 255.0 + 0.5) / 255.0
    volume = np.floor(value[..., 1] * 65535.0 + 0.5) / 65535.0
    depth = np.floor(depth * 255.0 + 0.5) / 255.0
    return np.stack([surface**2 * TOP, volume * TOP, depth * DEPTH_TOP], -1)


def _lobes(shape: NDArray[np.float64], light: NDArray[np.float64]) -> NDArray[np.float64]:
    """The two lobes of `lobe_weights` for the viewer above, and the second times its depth:
    (tilt, roll, azimuth, 3)."""
    index, skin, dye, (falloff, back, low, even) = shape[0], shape[2:4], shape[4:6], shape[6:10]
    wrap, even_wrap, depth, even_depth, lower, aside_gain, even_low = shape[10:]
    tilt, roll = _middles(TILTS, TILT_LIMIT_DEG)[:, None, None], _middles(ROLLS, ROLL_LIMIT_DEG)[:, None]
    azimuth = (np.arange(AZIMUTHS) + 0.5) * (np.pi / AZIMUTHS)
    ahead = light[0] * np.cos(azimuth) + light[1] * np.sin(azimuth)
    aside = light[1] * np.cos(azimuth) - light[0] * np.sin(azimuth)
    sin_i, sin_r = np.cos(tilt) * ahead + np.sin(tilt) * light[2], np.sin(tilt)
    upright = np.cos(tilt) * light[2] - np.sin(tilt) * ahead
    facing, facing_v = np.cos(roll) * upright + np.sin(roll) * aside, np.cos(roll) * np.cos(tilt)
    cos_i, cos_r = (np.sqrt(np.maximum(1.0 - sine * sine, 1e-6)) for sine in (sin_i, sin_r))
    cos_phi = (light[2] - sin_i * sin_r) / (cos_i * cos_r)
    x, half = sin_i + sin_r, np.sqrt(np.maximum(0.5 * (1.0 + cos_phi), 0.0))
    standing = np.maximum(facing + facing_v, 0.0)
    rise = fresnel(index, float(np.sqrt(0.5 * (1.0 + light[2])))) / fresnel(index, 1.0)
    surface = half * _lit(facing) * _lit(facing_v) * np.sqrt(cos_i / cos_r)
    surface = surface * rise * np.exp(-0.5 * x * x / (skin[0] ** 2 + (skin[1] * standing) ** 2))
    once = (1.0 - even) * (1.0 + x * x / (dye[0] ** 2 + (dye[1] * standing) ** 2)) ** -falloff * half**back
    lying = np.sqrt(np.maximum(1.0 - 0.5 * standing, 0.0))
    once = once * np.exp((low + lower * lying) * lying + aside_gain * x * x / (x * x + 0.25))
    once = once * _wrapped(facing, wrap) * _wrapped(facing_v, wrap)
    deep = even * _wrapped(facing, even_wrap) * _wrapped(facing_v, even_wrap) * np.exp(even_low * lying)
    pace = 2.0 * cos_i / (cos_i + cos_r)
    return np.stack([surface, (once + deep) * pace, (once * depth + deep * even_depth) * pace], -1)


def _wrapped(facing: NDArray[np.float64], reach: float) -> NDArray[np.float64]:
    return np.asarray(np.maximum((facing + reach) / (1.0 + reach), 0.0))


def _lit(facing: NDArray[np.float64]) -> NDArray[np.float64]:
    share = np.clip((facing + 0.1) / 0.4, 0.0, 1.0)
    return np.asarray(share * share * (3.0 - 2.0 * share))


def exposure(lamp: MovingLamp, elevation_deg: float) -> NDArray[np.float64]:
    """What a white card sends back with the lamp so high: divides all light, (3,)."""
    card = lamp.still_card + lamp.irradiance * np.sin(np.deg2rad(elevation_deg)) / np.pi * np.array(
        lamp.colour_linear
    )
    return np.asarray(card.mean() ** (1.0 - lamp.white_balance) * card**lamp.white_balance)


def reached(sides: NDArray[np.uint8], azimuth_deg: float, elevation_deg: float) -> NDArray[np.float64]:
    """Share of the lamp that comes past other threads, from the two sides next to it."""
    place = (azimuth_deg % 360.0) / (360.0 / SIDES)
    first = int(place) % SIDES
    near, far = (sides >> first) & 1, (sides >> (first + 1) % SIDES) & 1
    share = near + (far.astype(np.float64) - near) * (place - int(place))
    clear = np.clip((elevation_deg - CLEAR_FROM_DEG) / (CLEAR_AT_DEG - CLEAR_FROM_DEG), 0.0, 1.0)
    return np.asarray(share + (1.0 - share) * clear)


def from_lamp(
    lamp: MovingLamp, steps: Steps, body: NDArray[np.float64], azimuth_deg: float, elevation_deg: float
) -> NDArray[np.float64]:
    """Linear light that the lamp's place makes thread send to the viewer, (rows, cols, 3)."""
    table = lamp_table(lamp, azimuth_deg, elevation_deg)
    thread = steps.block > 0
    block = steps.block[thread].astype(np.int64) - 1
    surface, volume, depth = np.moveaxis(
        table[lamp.kind[block], steps.tilt[thread], steps.roll[thread], steps.azimuth[thread]], -1, 0
    )
    dye = lamp.dye[block]
    key = lamp.irradiance * np.array(lamp.colour_linear) / exposure(lamp, elevation_deg)
    left = body[thread] * reached(steps.sides[thread], azimuth_deg, elevation_deg)
    out = np.zeros((*steps.block.shape, 3))
    albedo = dye[:, :3]
    dyed = np.where(albedo < 1.0, albedo ** depth[:, None], albedo)
    out[thread] = key * (dyed * volume[:, None] + dye[:, 3:] * surface[:, None]) * left[:, None]
    return out


def to_light(picture: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Linear light of a composed picture: sRGB and the shoulder of highlights undone."""
    shown = to_linear(np.arange(256) / 255.0)
    room = 1.0 - SHOULDER_LINEAR
    bright = SHOULDER_LINEAR - room * np.log(np.maximum(1.0 - (shown - SHOULDER_LINEAR) / room, 0.02))
    return np.asarray(np.where(shown > SHOULDER_LINEAR, bright, shown)[picture])


def steps_of(planes: ThreadPlanes, lamp: MovingLamp, picture: NDArray[np.uint8]) -> Steps:
    """Planes in the steps that the page keeps.

    Where the picture is darker than the lamp alone would make it, less of the lamp is taken to
    arrive there, so that nothing negative is left for the rest.
    """
    thread = planes.block >= 0

    def stepped(values: NDArray[np.float32], limit_deg: float, count: int) -> NDArray[np.uint8]:
        place = np.floor((values / limit_deg + 1.0) / 2.0 * count)
        return np.where(thread, np.clip(place, 0, count - 1), 0).astype(np.uint8)

    # A byte counts so many looks; the light on what is beyond them stays as it is.
    look = np.where(thread, lamp.look[np.maximum(planes.block, 0)] + 1, 0)
    steps = Steps(
        block=np.where(look <= MOST_LOOKS, look, 0).astype(np.uint8),
        azimuth=np.where(thread, np.floor(planes.azimuth_deg / 180.0 * AZIMUTHS) % AZIMUTHS, 0).astype(
            np.uint8
        ),
        tilt=stepped(planes.tilt_deg, TILT_LIMIT_DEG, TILTS),
        roll=stepped(planes.roll_deg, ROLL_LIMIT_DEG, ROLLS),
        body=np.zeros_like(planes.sides),
        sides=np.where(thread, planes.sides, 0).astype(np.uint8),
    )
    whole = from_lamp(lamp, steps, planes.body.astype(np.float64), lamp.azimuth_deg, lamp.elevation_deg)
    most = (to_light(picture) / np.maximum(whole, 1e-6)).min(axis=-1)
    body = np.minimum(planes.body * np.minimum(most, 1.0), 1.0)
    # A step stands for its middle: there it must not be more than the picture has.
    place = np.floor(body * BODIES - np.where(most < 1.0, 0.5, 0.0))
    kept = np.where(thread, np.clip(place, 0, BODIES - 1), 0)
    return replace(steps, body=kept.astype(np.uint8))
