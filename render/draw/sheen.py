"""How thread shines: fibre lobes summed over all lights once, into a table per kind.

A thread seen from above reflects by its azimuth, its tilt out of the picture plane and
the roll of its surface about its own axis, whatever the lights. Two lobes: `surface`,
light thrown back uncoloured by the filaments' skin on the mirror cone of Marschner et
al. (2003), and `volume`, light that went through them and carries the dye. Each lobe is
divided by its integral over all directions, so an even white surrounding gives back
exactly F + (1 - F) C with F the share that the skin reflects there and C the dye's albedo:
never over 1.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

import numpy as np
from numba import njit

from render.draw import exposure
from render.draw.disk_cache import code_of, kept
from render.draw.exposure import white_card_linear
from render.model import freeze

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.disk_cache import Arrays
    from render.model import Colour, FibreLobes, Light

AZIMUTH_STEPS = 72  # 5 degrees each
TILT_LIMIT_DEG, TILT_STEPS = 60.0, 31
ROLL_LIMIT_DEG, ROLL_STEPS = 75.0, 13
SPHERE_POINTS = 2000
LAMP_POINTS = 24
# Radiance of cloth and table seen from the thread's underside, relative to a white card (estimate).
BELOW_LINEAR = 0.2
# Mean share of the two lobes that leaves a flat satin past its own threads and grooves
# (measured on the rendered patch of tests/physics/test_colour.py).
SHINE_OUT, DYE_OUT = 0.985, 0.915
# The part of the table that a flat satin shows: hardly tilted, seen but for its edges.
FLAT = (slice(TILT_STEPS // 2 - 1, TILT_STEPS // 2 + 2), slice(2, -2))


@dataclass(frozen=True, slots=True, eq=False)
class SheenTable:
    """Reflected radiance by (azimuth, tilt, roll, lobe), white card = 1.

    `values (72, 31, 13, 12)` float32; the last axis holds RGB of: surface by the key lamp,
    surface by all else, volume (dye albedo 1) by the key lamp, volume by all else.
    `skin_share (31, 13)` is what the surface lobe reflects of an even white surrounding.
    `most_albedo` is that of thread that shows an even white dome as white, lying flat among its
    like: above 1, as it then has its own light beneath it and not only `BELOW_LINEAR`.
    """

    values: NDArray[np.float32]
    skin_share: NDArray[np.float64]
    most_albedo: float

    def __post_init__(self) -> None:
        freeze(self, values=(AZIMUTH_STEPS, TILT_STEPS, ROLL_STEPS, 12), skin_share=(TILT_STEPS, ROLL_STEPS))


_SHAPE = (
    "index",
    "surface_share",
    "surface_rad",
    "surface_spread",
    "volume_rad",
    "volume_falloff",
    "volume_even",
    "wrap",
)


def lamp_direction(azimuth_deg: float, elevation_deg: float) -> tuple[float, float, float]:
    """Unit vector towards a lamp; quarter turns of azimuth are exact."""
    quarter, rest = divmod(azimuth_deg % 360.0, 90.0)
    x, y = np.cos(np.deg2rad(rest)), np.sin(np.deg2rad(rest))
    for _ in range(int(quarter)):
        x, y = -y, x
    flat = np.cos(np.deg2rad(elevation_deg))
    return float(x * flat), float(y * flat), float(np.sin(np.deg2rad(elevation_deg)))


def sheen_table(lobes: FibreLobes, light: Light) -> SheenTable:
    """The lobes summed over the lights, the first lamp being the key; from disk if it was made before."""

    def make() -> Arrays:
        table = make_sheen_table(lobes, light)
        return {
            "values": table.values,
            "skin_share": table.skin_share,
            "most_albedo": np.array(table.most_albedo),
        }

    made_from = [asdict(lobes), asdict(light)]
    code = code_of(__file__, exposure.__file__)
    arrays = kept("sheen", made_from, made_by=code, make=make, fits=_fits)
    return SheenTable(arrays["values"], arrays["skin_share"], float(arrays["most_albedo"]))


def _fits(arrays: Arrays) -> bool:
    """Whether shapes and types are those of a table: the kernels trust them."""
    shape = (AZIMUTH_STEPS, TILT_STEPS, ROLL_STEPS, 12)
    wanted = {"values": (shape, "f4"), "skin_share": (shape[1:3], "f8"), "most_albedo": ((), "f8")}
    return set(arrays) == set(wanted) and all(
        arrays[name].shape == size and arrays[name].dtype == kind for name, (size, kind) in wanted.items()
    )


def make_sheen_table(lobes: FibreLobes, light: Light) -> SheenTable:
    """Sum the lobes over the lights; the first lamp is the key."""
    sphere = _fibonacci_sphere(SPHERE_POINTS)
    shape = np.array([getattr(lobes, name) for name in _SHAPE])
    tilts = np.deg2rad(np.linspace(-TILT_LIMIT_DEG, TILT_LIMIT_DEG, TILT_STEPS))
    rolls = np.deg2rad(np.linspace(-ROLL_LIMIT_DEG, ROLL_LIMIT_DEG, ROLL_STEPS))
    whole, above = _even_light(shape, tilts, rolls, sphere)
    # Without Fresnel's rise (last column) a lobe's integral is 1; with it the skin's share.
    skin = np.minimum(lobes.surface_share * whole[..., 0] / whole[..., 2], 1.0)
    norms, dome = whole[..., :2], above[..., :2]
    values = np.zeros((AZIMUTH_STEPS, TILT_STEPS, ROLL_STEPS, 12))
    card = white_card_linear(light)
    for index, lamp in enumerate(light.lamps):
        colour = np.array(lamp.colour_linear) * lamp.irradiance / card
        points = np.empty((AZIMUTH_STEPS, LAMP_POINTS, 3))
        for step in range(AZIMUTH_STEPS):
            # The thread stays along x and the lamp turns, so turned set-ups share every bit.
            turn = lamp.azimuth_deg - step * (360.0 / AZIMUTH_STEPS)
            points[step] = _disc(lamp_direction(turn, lamp.elevation_deg), lamp.size_deg)
        gain = _lamp_light(shape, tilts, rolls, points) / norms
        at = 0 if index == 0 else 3
        values[..., at : at + 3] += gain[..., :1] * colour
        values[..., at + 6 : at + 9] += gain[..., 1:] * colour
    around = np.array(light.dome_linear) / card
    for lobe in range(2):
        share = (dome[..., lobe] / norms[..., lobe])[None, ..., None]
        at = 6 * lobe + 3
        values[..., at : at + 3] += share * around + (1.0 - share) * BELOW_LINEAR
    values[..., :6] *= skin[None, ..., None]
    values[..., 6:] *= 1.0 - skin[None, ..., None]
    upward = (dome[..., 1] / norms[..., 1])[FLAT]
    most_albedo = 1.0 / float((upward + (1.0 - upward) * BELOW_LINEAR).mean())
    return SheenTable(values.astype(np.float32), skin, most_albedo)


def dye_albedo(target_linear: Colour, table: SheenTable) -> tuple[NDArray[np.float64], float]:
    """Dye albedo per channel, and the share of surface gloss kept, with which a flat satin
    patch averaged over stitch directions shows `target_linear`.

    Dark and saturated colours keep less gloss: otherwise the uncoloured lobe alone would be
    lighter than their darkest channel.
    """
    target = np.array(target_linear)
    flat = table.values[:, *FLAT].mean(axis=(0, 1, 2), dtype=np.float64)
    # Freed from the order of summing, so that turned lights give the same dye.
    flat = np.round(flat * 2.0**24) / 2.0**24
    surface, volume = flat[:3] + flat[3:6], flat[6:9] + flat[9:]
    shine = SHINE_OUT * surface
    luminance = float(target @ (0.2126, 0.7152, 0.0722))
    gloss = min(1.0, float(target.min() + 0.07 * luminance + 0.0005) / float(shine.mean()))
    most = volume * DYE_OUT * table.most_albedo + gloss * shine
    # A colour lighter than thread can be is dimmed as a whole, so that it keeps its hue.
    target = target / max(float((target / most).max()), 1.0)
    albedo = np.clip((target - gloss * shine) / (volume * DYE_OUT), 0.002, table.most_albedo)
    return albedo, gloss


def _fibonacci_sphere(count: int) -> NDArray[np.float64]:
    k = np.arange(count) + 0.5
    z = 1.0 - 2.0 * k / count
    turn = np.pi * (1.0 + 5.0**0.5) * k
    flat = np.sqrt(1.0 - z * z)
    return np.stack([flat * np.cos(turn), flat * np.sin(turn), z], 1)


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
def lobe_weights(
    shape: NDArray[np.float64], tilt: float, roll: float, lx: float, ly: float, lz: float
) -> tuple[float, float, float]:
    """Unnormalised lobes for light from l (unit), view from above (+z), on a thread along x
    tilted up by `tilt`, where its surface has rolled by `roll` to the right.

    Returns surface with Fresnel's rise, volume, and surface without it.
    """
    beta, spread = shape[2], shape[3]
    sigma, falloff, even, wrap = shape[4], shape[5], shape[6], shape[7]
    ct, st = np.cos(tilt), np.sin(tilt)
    # Axis t, sideways b = (0, 1, 0), upright n0; the surface normal is n.
    sin_i = ct * lx + st * lz
    sin_r = st
    up_l, up_v = -st * lx + ct * lz, ct
    n_dot_l = np.cos(roll) * up_l + np.sin(roll) * ly
    x = sin_i + sin_r
    cos_i = np.sqrt(max(1.0 - sin_i * sin_i, 1e-6))
    cos_r = max(ct, 1e-3)
    cos_phi = up_l * up_v / (cos_i * cos_r)
    half = np.sqrt(max(0.5 * (1.0 + cos_phi), 0.0))
    s2 = beta * beta + (spread * ly) ** 2
    lit = min(max((n_dot_l + 0.1) / 0.4, 0.0), 1.0)
    lit = lit * lit * (3.0 - 2.0 * lit)
    surface = half * lit * np.exp(-0.5 * x * x / s2) / np.sqrt(s2)
    wrapped = max((n_dot_l + wrap) / (1.0 + wrap), 0.0)
    peak = (1.0 + x * x / (sigma * sigma)) ** -falloff
    volume = wrapped * (2.0 * cos_i / (cos_i + cos_r)) * (even + (1.0 - even) * peak)
    rise = fresnel(shape[0], np.sqrt(max(0.5 * (1.0 + lz), 0.0))) / fresnel(shape[0], 1.0)
    return surface * rise, volume, surface


@njit(cache=True, nogil=True)
def fresnel(index: float, cosine: float) -> float:
    """Unpolarised reflectance of a dielectric from air, for the cosine of incidence (Born &
    Wolf, Principles of Optics)."""
    inside = np.sqrt(1.0 - (1.0 - cosine * cosine) / (index * index))
    across = (cosine - index * inside) / (cosine + index * inside)
    along = (index * cosine - inside) / (index * cosine + inside)
    return float(0.5 * (across * across + along * along))


@njit(cache=True, nogil=True)
def _even_light(
    shape: NDArray[np.float64],
    tilts: NDArray[np.float64],
    rolls: NDArray[np.float64],
    sphere: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Integrals of both lobes over the whole sphere, and over its upper half."""
    whole = np.zeros((len(tilts), len(rolls), 3))
    above = np.zeros((len(tilts), len(rolls), 3))
    area = 4.0 * np.pi / len(sphere)
    for i in range(len(tilts)):
        for j in range(len(rolls)):
            for k in range(len(sphere)):
                parts = lobe_weights(shape, tilts[i], rolls[j], sphere[k, 0], sphere[k, 1], sphere[k, 2])
                for lobe in range(3):
                    whole[i, j, lobe] += parts[lobe] * area
                    if sphere[k, 2] > 0.0:
                        above[i, j, lobe] += parts[lobe] * area
    return whole, above


@njit(cache=True, nogil=True)
def _lamp_light(
    shape: NDArray[np.float64],
    tilts: NDArray[np.float64],
    rolls: NDArray[np.float64],
    points: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Mean of both lobes over the points of one lamp, for every azimuth, tilt and roll."""
    out = np.zeros((points.shape[0], len(tilts), len(rolls), 2))
    for a in range(points.shape[0]):
        for i in range(len(tilts)):
            for j in range(len(rolls)):
                for k in range(points.shape[1]):
                    p = points[a, k]
                    s, v, _ = lobe_weights(shape, tilts[i], rolls[j], p[0], p[1], p[2])
                    out[a, i, j, 0] += s / points.shape[1]
                    out[a, i, j, 1] += v / points.shape[1]
    return out
