"""How a point of thread reflects light from any direction towards any viewer.

Two lobes about the mirror cone of Marschner et al. (2003): `surface`, thrown back uncoloured
by the filaments' skin, and `volume`, light that went through them and carries the dye. Each is
divided by its integral over all directions as seen by that viewer, so that an even white
surrounding gives back exactly F + (1 - F) C, with F the share that the skin reflects there and
C the mean of the dye's albedo to the power of how deep the light went: never over 1.

The whole formula, as a moving light or a tilted camera needs it, is `reflected`; its only data
are the `lobe_shape` of a kind and its `lobe_norms`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.compiled import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import FibreLobes

    Vector = tuple[float, float, float]

ABOVE = (0.0, 0.0, 1.0)  # the viewer of a flat picture
SPHERE_POINTS = 2000
# The norms are kept by how a viewer stands to the thread: degrees out of the plane across it, and
# around it from where its surface faces. The last viewers are a hair short of looking along it.
NORM_TILT_LIMIT_DEG, NORM_TILT_STEPS = 88.0, 45
NORM_ROLL_LIMIT_DEG, NORM_ROLL_STEPS = 87.5, 29
_SHAPE = (
    "index",
    "surface_share",
    "surface_rad",
    "surface_tilt",
    "volume_rad",
    "volume_tilt",
    "volume_falloff",
    "volume_back",
    "volume_low",
    "volume_even",
    "wrap",
    "even_wrap",
    "volume_depth",
    "even_depth",
    "volume_lower",
    "volume_aside",
    "even_low",
)


def lobe_shape(lobes: FibreLobes) -> NDArray[np.float64]:
    """The fields that shape the lobes, as one row for the kernels."""
    return np.array([getattr(lobes, name) for name in _SHAPE])


@njit(cache=True, nogil=True)
def lobe_weights(
    shape: NDArray[np.float64], axis: Vector, normal: Vector, light: Vector, view: Vector
) -> tuple[float, float, float, float]:
    """Lobes before they are divided by their integrals: radiance towards `view` for light from
    `light`, of thread along `axis` whose surface faces `normal` (unit vectors; the normal stands
    square on the axis).

    Returns surface with Fresnel's rise, volume, surface without it, and how often the volume's light
    passes the dye. Each lobe is a scattering function, the same with light and view exchanged, times
    the cosine of the light's inclination to the plane across the thread.
    """
    sin_i, sin_r = _dot(axis, light), _dot(axis, view)
    cos_i = np.sqrt(max(1.0 - sin_i * sin_i, 1e-6))
    cos_r = np.sqrt(max(1.0 - sin_r * sin_r, 1e-6))
    between = _dot(light, view)
    cos_phi = (between - sin_i * sin_r) / (cos_i * cos_r)
    half = np.sqrt(max(0.5 * (1.0 + cos_phi), 0.0))
    n_dot_l, n_dot_v = _dot(normal, light), _dot(normal, view)
    x = sin_i + sin_r
    # Filaments rise and fall in the thread: that spreads the cone by as much as light and view are upright.
    upright = max(n_dot_l + n_dot_v, 0.0)
    s2 = shape[2] ** 2 + (shape[3] * upright) ** 2
    surface = half * _lit(n_dot_l) * _lit(n_dot_v) * np.exp(-0.5 * x * x / s2)
    surface *= np.sqrt(cos_i / cos_r)
    rise = fresnel(shape[0], np.sqrt(max(0.5 * (1.0 + between), 0.0))) / fresnel(shape[0], 1.0)
    # Once through a filament, about the cone; and deep in the thread, where directions are lost.
    s2 = shape[4] ** 2 + (shape[5] * upright) ** 2
    once = (1.0 - shape[9]) * (1.0 + x * x / s2) ** -shape[6] * half ** shape[7]
    # Low light shines through rows of filaments, one behind the other; and it loses its cone there.
    low = np.sqrt(max(1.0 - 0.5 * upright, 0.0))
    aside = x * x / (x * x + 0.25)
    once *= np.exp((shape[8] + shape[14] * low) * low + shape[15] * aside)
    once *= _wrapped(n_dot_l, shape[10]) * _wrapped(n_dot_v, shape[10])
    deep = shape[9] * _wrapped(n_dot_l, shape[11]) * _wrapped(n_dot_v, shape[11]) * np.exp(shape[16] * low)
    depth = (once * shape[12] + deep * shape[13]) / max(once + deep, 1e-12)
    return surface * rise, (once + deep) * (2.0 * cos_i / (cos_i + cos_r)), surface, depth


@njit(cache=True, nogil=True)
def reflected(
    shape: NDArray[np.float64],
    norms: NDArray[np.float64],
    axis: Vector,
    normal: Vector,
    light: Vector,
    view: Vector,
) -> tuple[float, float, float]:
    """Radiance towards `view` for irradiance 1 from `light` on a card that faces it: off the skin,
    and from within for a dye of albedo 1; and the depth from which this comes: with a dye of albedo C
    it is C ** depth of that. `norms` are those of `lobe_norms`.

    Whole thread and light only: what else stands in the way is the caller's. Nothing where the
    surface faces away from the viewer.
    """
    surface, volume, _, depth = lobe_weights(shape, axis, normal, light, view)
    whole, within, skin = norms_towards(norms, axis, normal, view)
    return skin * surface / whole, (1.0 - skin) * volume / within, depth


@njit(cache=True, nogil=True)
def norms_towards(
    norms: NDArray[np.float64], axis: Vector, normal: Vector, view: Vector
) -> tuple[float, float, float]:
    """Integrals of surface and volume lobe and the skin's share for a viewer, interpolated.

    The lobes know a viewer by two angles only: `tilt` out of the plane across the thread, and
    `roll` around the thread from the viewer to where its surface faces.
    """
    sin_r = _dot(axis, view)
    tilt = np.arcsin(min(max(sin_r, -1.0), 1.0))
    cos_r = np.sqrt(max(1.0 - sin_r * sin_r, 1e-6))
    roll = np.arccos(min(max(_dot(normal, view) / cos_r, -1.0), 1.0))
    u = np.rad2deg(tilt) / NORM_TILT_LIMIT_DEG
    u = min(max(0.5 * (u + 1.0), 0.0), 1.0) * (NORM_TILT_STEPS - 1)
    w = np.rad2deg(roll) / NORM_ROLL_LIMIT_DEG
    w = min(max(0.5 * (w + 1.0), 0.0), 1.0) * (NORM_ROLL_STEPS - 1)
    i, j = min(int(u), NORM_TILT_STEPS - 2), min(int(w), NORM_ROLL_STEPS - 2)
    u, w = u - i, w - j
    a, b, c, d = (1.0 - u) * (1.0 - w), (1.0 - u) * w, u * (1.0 - w), u * w
    n, m = norms[i], norms[i + 1]
    return (
        a * n[j, 0] + b * n[j + 1, 0] + c * m[j, 0] + d * m[j + 1, 0],
        a * n[j, 1] + b * n[j + 1, 1] + c * m[j, 1] + d * m[j + 1, 1],
        a * n[j, 2] + b * n[j + 1, 2] + c * m[j, 2] + d * m[j + 1, 2],
    )


def lobe_norms(lobes: FibreLobes) -> NDArray[np.float64]:
    """Integrals of surface and volume lobe over all directions, and the skin's share of an even
    white surrounding, by (tilt, roll) of the viewer: (45, 29, 3)."""
    tilts = np.deg2rad(np.linspace(-NORM_TILT_LIMIT_DEG, NORM_TILT_LIMIT_DEG, NORM_TILT_STEPS))
    rolls = np.deg2rad(np.linspace(-NORM_ROLL_LIMIT_DEG, NORM_ROLL_LIMIT_DEG, NORM_ROLL_STEPS))
    whole, _ = integrals(lobe_shape(lobes), tilts, rolls, fibonacci_sphere(SPHERE_POINTS), ABOVE)
    # Without Fresnel's rise (third column) a lobe's integral is 1; with it the skin's share.
    skin = np.minimum(lobes.surface_share * whole[..., 0] / whole[..., 2], 1.0)
    return np.concatenate([whole[..., :2], skin[..., None]], axis=-1)


def fibonacci_sphere(count: int) -> NDArray[np.float64]:
    """Unit vectors (count, 3) spread evenly over all directions."""
    k = np.arange(count) + 0.5
    z = 1.0 - 2.0 * k / count
    turn = np.pi * (1.0 + 5.0**0.5) * k
    flat = np.sqrt(1.0 - z * z)
    return np.stack([flat * np.cos(turn), flat * np.sin(turn), z], 1)


@njit(cache=True, nogil=True)
def thread_frame(tilt: float, roll: float) -> tuple[Vector, Vector]:
    """Axis and normal of a thread along x, tilted up by `tilt`, whose surface has rolled by `roll`
    to the right (radians)."""
    ct, st, cr, sr = np.cos(tilt), np.sin(tilt), np.cos(roll), np.sin(roll)
    return (ct, 0.0, st), (-st * cr, sr, ct * cr)


@njit(cache=True, nogil=True)
def integrals(
    shape: NDArray[np.float64],
    tilts: NDArray[np.float64],
    rolls: NDArray[np.float64],
    directions: NDArray[np.float64],
    view: Vector,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Integrals of the lobes over light from everywhere, and over its upper half alone, by sums
    over evenly spread `directions`: (tilts, rolls, 4) each, for threads as `thread_frame` lays them.
    The last column is that of the volume times its depth."""
    whole = np.zeros((len(tilts), len(rolls), 4))
    above = np.zeros((len(tilts), len(rolls), 4))
    area = 4.0 * np.pi / len(directions)
    for i in range(len(tilts)):
        for j in range(len(rolls)):
            axis, normal = thread_frame(tilts[i], rolls[j])
            for k in range(len(directions)):
                light = (directions[k, 0], directions[k, 1], directions[k, 2])
                surface, volume, plain, depth = lobe_weights(shape, axis, normal, light, view)
                parts = (surface, volume, plain, volume * depth)
                for lobe in range(4):
                    whole[i, j, lobe] += parts[lobe] * area
                    if light[2] > 0.0:
                        above[i, j, lobe] += parts[lobe] * area
    return whole, above


def upward_shares(
    shape: NDArray[np.float64],
    tilts: NDArray[np.float64],
    rolls: NDArray[np.float64],
    directions: NDArray[np.float64],
    view: Vector,
) -> NDArray[np.float64]:
    """Share of surface and volume lobe that reaches up, and the volume's depth times its share above
    and below: (tilts, rolls, 4)."""
    whole, above = integrals(shape, tilts, rolls, directions, view)
    depths = np.stack([above[..., 3], whole[..., 3] - above[..., 3]], -1) / np.maximum(whole[..., 1:2], 1e-12)
    return np.concatenate([above[..., :2] / np.maximum(whole[..., :2], 1e-12), depths], -1)


@njit(cache=True, nogil=True)
def fresnel(index: float, cosine: float) -> float:
    """Unpolarised reflectance of a dielectric from air, for the cosine of incidence (Born &
    Wolf, Principles of Optics)."""
    inside = np.sqrt(1.0 - (1.0 - cosine * cosine) / (index * index))
    across = (cosine - index * inside) / (cosine + index * inside)
    along = (index * cosine - inside) / (index * cosine + inside)
    return float(0.5 * (across * across + along * along))


@njit(cache=True, nogil=True, inline="always")
def _dot(a: Vector, b: Vector) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@njit(cache=True, nogil=True, inline="always")
def _lit(facing: float) -> float:
    """How much of the surface's filaments faces a direction: a soft step, as they are round."""
    lit = min(max((facing + 0.1) / 0.4, 0.0), 1.0)
    return lit * lit * (3.0 - 2.0 * lit)


@njit(cache=True, nogil=True, inline="always")
def _wrapped(facing: float, reach: float) -> float:
    """Light on a surface that lets it through sideways: some comes round its edge."""
    return max((facing + reach) / (1.0 + reach), 0.0)


@njit(cache=True, nogil=True, inline="always")
def dyed(albedo: float, depth: float) -> float:
    """What a dye leaves of light that passes it `depth` times as often as where thread shines most.

    Above 1 the albedo stands for light that neighbours send on, once.
    """
    return albedo**depth if albedo < 1.0 else albedo
