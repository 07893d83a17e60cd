"""How thread shines: fibre lobes summed over all lights once, into a table per kind.

A thread seen from one direction reflects by its azimuth, its tilt out of the picture plane
and the roll of its surface about its own axis, whatever the lights. The lobes are those of
`render.draw.lobes`.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from render.compiled import njit
from render.disk_cache import code_of, kept
from render.draw import exposure, lobes
from render.draw.exposure import white_card_linear
from render.draw.lobes import (
    ABOVE,
    SPHERE_POINTS,
    fibonacci_sphere,
    lobe_norms,
    lobe_shape,
    lobe_weights,
    norms_towards,
    thread_frame,
    upward_shares,
)
from render.model import freeze

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.disk_cache import Arrays
    from render.draw.lobes import Vector
    from render.model import FibreLobes, Light

AZIMUTH_STEPS = 72  # 5 degrees each
COLUMNS = 14
TILT_LIMIT_DEG, TILT_STEPS = 60.0, 31
ROLL_LIMIT_DEG, ROLL_STEPS = 75.0, 13
LAMP_POINTS = 24
# Radiance of cloth and table seen from the thread's underside, relative to a white card (estimate).
BELOW_LINEAR = 0.2
# How a flat satin's thread lies: tilts and rolls that are equally frequent (measured on the rendered patch of
# tests/physics/test_colour.py).
FLAT_TILTS_DEG = np.array([-2.0, 2.0])
FLAT_ROLLS_DEG = np.array([-21.8, -10.5, -3.5, 3.5, 10.5, 21.8])


@dataclass(frozen=True, slots=True, eq=False)
class SheenTable:
    """Reflected radiance by (azimuth, tilt, roll, lobe), white card = 1.

    `values (72, 31, 13, 14)` float32; the last axis holds RGB of: surface by the key lamp,
    surface by all else, volume (dye albedo 1) by the key lamp, volume by all else; and the depth of the
    volume's light by the key lamp and by all else: a dye of albedo C leaves C ** depth of it.
    `skin_share (31, 13)` is what the surface lobe reflects of an even white surrounding.
    `most_albedo` is that of thread that shows an even white dome as white, lying flat among its
    like: above 1, as it then has its own light beneath it and not only `BELOW_LINEAR`.
    """

    values: NDArray[np.float32]
    skin_share: NDArray[np.float64]
    most_albedo: float

    def __post_init__(self) -> None:
        freeze(self, values=(AZIMUTH_STEPS, TILT_STEPS, ROLL_STEPS, COLUMNS))
        freeze(self, skin_share=(TILT_STEPS, ROLL_STEPS))


def lamp_direction(azimuth_deg: float, elevation_deg: float) -> tuple[float, float, float]:
    """Unit vector towards a lamp; quarter turns of azimuth are exact."""
    quarter, rest = divmod(azimuth_deg % 360.0, 90.0)
    x, y = np.cos(np.deg2rad(rest)), np.sin(np.deg2rad(rest))
    for _ in range(int(quarter)):
        x, y = -y, x
    flat = np.cos(np.deg2rad(elevation_deg))
    return float(x * flat), float(y * flat), float(np.sin(np.deg2rad(elevation_deg)))


@lru_cache(maxsize=8)
def sheen_table(fibre: FibreLobes, light: Light) -> SheenTable:
    """The lobes summed over the lights, the first lamp being the key; from disk if it was made before.

    The last few are at hand: several pictures of one piece share them.
    """

    def make() -> Arrays:
        table = make_sheen_table(fibre, light)
        return {
            "values": table.values,
            "skin_share": table.skin_share,
            "most_albedo": np.array(table.most_albedo),
        }

    made_from = [asdict(fibre), asdict(light)]
    code = code_of(__file__, exposure.__file__, lobes.__file__)
    arrays = kept("sheen", made_from, made_by=code, make=make, fits=_fits)
    return SheenTable(arrays["values"], arrays["skin_share"], float(arrays["most_albedo"]))


def _fits(arrays: Arrays) -> bool:
    """Whether shapes and types are those of a table: the kernels trust them."""
    shape = (AZIMUTH_STEPS, TILT_STEPS, ROLL_STEPS, COLUMNS)
    wanted = {"values": (shape, "f4"), "skin_share": (shape[1:3], "f8"), "most_albedo": ((), "f8")}
    return set(arrays) == set(wanted) and all(
        arrays[name].shape == size and arrays[name].dtype == kind for name, (size, kind) in wanted.items()
    )


def make_sheen_table(fibre: FibreLobes, light: Light, view: Vector = ABOVE) -> SheenTable:
    """Sum the lobes over the lights; the first lamp is the key. `view` points from the thread to the viewer,
    a unit vector of design space, z off the cloth."""
    shape, norms = lobe_shape(fibre), lobe_norms(fibre)
    tilts = np.deg2rad(np.linspace(-TILT_LIMIT_DEG, TILT_LIMIT_DEG, TILT_STEPS))
    rolls = np.deg2rad(np.linspace(-ROLL_LIMIT_DEG, ROLL_LIMIT_DEG, ROLL_STEPS))
    # The thread stays along x and lamps and viewer turn, so turned set-ups share every bit.
    turns = np.arange(AZIMUTH_STEPS) * (360.0 / AZIMUTH_STEPS)
    views = np.array([_turned(view, -turn) for turn in turns])
    skin = _skin_shares(norms, tilts, rolls, views)
    values = np.zeros((AZIMUTH_STEPS, TILT_STEPS, ROLL_STEPS, COLUMNS))
    depths = np.zeros((*values.shape[:3], 2))
    card = white_card_linear(light)
    for index, lamp in enumerate(light.lamps):
        colour = np.array(lamp.colour_linear) * lamp.irradiance / card
        towards = [lamp_direction(lamp.azimuth_deg - turn, lamp.elevation_deg) for turn in turns]
        points = np.array([_disc(direction, lamp.size_deg) for direction in towards])
        gain = _lamp_light(shape, norms, tilts, rolls, points, views)
        at = 0 if index == 0 else 3
        values[..., at : at + 3] += gain[..., :1] * colour
        values[..., at + 6 : at + 9] += gain[..., 1:2] * colour
        depths[..., at // 3] += gain[..., 2] * colour.mean()
    around = np.array(light.dome_linear) / card
    upward = _upward_shares(shape, tilts, rolls, views)
    for lobe in range(2):
        share = upward[..., lobe, None]
        at = 6 * lobe + 3
        values[..., at : at + 3] += share * around + (1.0 - share) * BELOW_LINEAR
    depths[..., 1] += upward[..., 2] * around.mean() + upward[..., 3] * BELOW_LINEAR
    for which in range(2):
        light_there = values[..., 6 + 3 * which : 9 + 3 * which].mean(-1)
        values[..., 12 + which] = np.where(
            light_there > 0.0, depths[..., which] / np.maximum(light_there, 1e-9), 1.0
        )
    values[..., :6] *= skin[..., None]
    values[..., 6:12] *= 1.0 - skin[..., None]
    flat = float(flat_tops(upward[..., 1:2]).mean())
    most_albedo = 1.0 / (flat + (1.0 - flat) * BELOW_LINEAR)
    return SheenTable(values.astype(np.float32), skin.mean(0), most_albedo)


def flat_tops(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Of values by azimuth, tilt and roll, those of the tilts and rolls of a flat satin."""
    tilts = (FLAT_TILTS_DEG / TILT_LIMIT_DEG + 1.0) * ((TILT_STEPS - 1) / 2)
    rolls = (FLAT_ROLLS_DEG / ROLL_LIMIT_DEG + 1.0) * ((ROLL_STEPS - 1) / 2)
    return between(between(values, 1, tilts), 2, rolls)


def between(values: NDArray[np.float64], axis: int, places: NDArray[np.float64]) -> NDArray[np.float64]:
    """Values at places between the samples along an axis, the last of which comes before the first."""
    before = np.floor(places).astype(np.int64)
    part = (places - before).reshape([-1 if k == axis else 1 for k in range(values.ndim)])
    low, high = (np.take(values, at, axis, mode="wrap") for at in (before, before + 1))
    return np.asarray(low * (1.0 - part) + high * part)


def _turned(direction: Vector, degrees: float) -> Vector:
    """A direction turned about z; quarter turns are exact, and straight up stays straight up."""
    x, y, _ = lamp_direction(degrees, 0.0)
    return direction[0] * x - direction[1] * y, direction[0] * y + direction[1] * x, direction[2]


def _upward_shares(
    shape: NDArray[np.float64],
    tilts: NDArray[np.float64],
    rolls: NDArray[np.float64],
    views: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Share of each lobe that reaches up, to the dome, and the volume's depth times its share above and
    below: (azimuths, tilts, rolls, 4); azimuths are 1 for a viewer straight above."""
    overhead = bool((views == views[0]).all())
    # Many views share the work that one gets alone.
    sphere = fibonacci_sphere(SPHERE_POINTS if overhead else SPHERE_POINTS // 5)
    shares = []
    for x, y, z in views[:1] if overhead else views:
        shares.append(upward_shares(shape, tilts, rolls, sphere, (float(x), float(y), float(z))))
    return np.array(shares)


def _disc(direction: tuple[float, float, float], size_deg: float) -> NDArray[np.float64]:
    """Points spread evenly over a round lamp `size_deg` wide, mirror-symmetric about its azimuth."""
    middle = np.array(direction)
    flat = max(float(np.hypot(middle[0], middle[1])), 1e-9)
    side = np.array([-middle[1] / flat, middle[0] / flat, 0.0])
    up = np.cross(middle, side)
    k = np.arange(LAMP_POINTS // 2) + 0.5
    radius = np.tan(np.deg2rad(size_deg) / 2) * np.sqrt(k / len(k))
    turn = np.pi * (3.0 - 5.0**0.5) * k
    x, y = radius * np.cos(turn), radius * np.sin(turn)
    offset = np.concatenate([np.stack([x, y], 1), np.stack([x, -y], 1)])
    points = middle + offset[:, :1] * up + offset[:, 1:] * side
    return np.asarray(points / np.linalg.norm(points, axis=1, keepdims=True))


@njit(cache=True, nogil=True)
def _skin_shares(
    norms: NDArray[np.float64],
    tilts: NDArray[np.float64],
    rolls: NDArray[np.float64],
    views: NDArray[np.float64],
) -> NDArray[np.float64]:
    """What the skin reflects of an even white surrounding, for every azimuth, tilt and roll."""
    out = np.zeros((len(views), len(tilts), len(rolls)))
    for a in range(len(views)):
        view = (views[a, 0], views[a, 1], views[a, 2])
        for i in range(len(tilts)):
            for j in range(len(rolls)):
                axis, normal = thread_frame(tilts[i], rolls[j])
                out[a, i, j] = norms_towards(norms, axis, normal, view)[2]
    return out


@njit(cache=True, nogil=True)
def _lamp_light(
    shape: NDArray[np.float64],
    norms: NDArray[np.float64],
    tilts: NDArray[np.float64],
    rolls: NDArray[np.float64],
    points: NDArray[np.float64],
    views: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Mean of both lobes, their integrals 1, over the points of one lamp, and of the volume times its
    depth, for every azimuth, tilt and roll."""
    out = np.zeros((points.shape[0], len(tilts), len(rolls), 3))
    for a in range(points.shape[0]):
        view = (views[a, 0], views[a, 1], views[a, 2])
        for i in range(len(tilts)):
            for j in range(len(rolls)):
                axis, normal = thread_frame(tilts[i], rolls[j])
                whole, within, _ = norms_towards(norms, axis, normal, view)
                for k in range(points.shape[1]):
                    light = (points[a, k, 0], points[a, k, 1], points[a, k, 2])
                    s, v, _, depth = lobe_weights(shape, axis, normal, light, view)
                    out[a, i, j, 0] += s / (whole * points.shape[1])
                    out[a, i, j, 1] += v / (within * points.shape[1])
                    out[a, i, j, 2] += v * depth / (within * points.shape[1])
    return out
