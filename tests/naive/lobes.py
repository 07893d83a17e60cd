"""Slow, plain twins of how thread reflects."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray


def fresnel(index: float, cosine: float) -> float:
    """Unpolarised reflectance, by Fresnel's sine and tangent laws (Born & Wolf, section 1.5.2)."""
    into = math.acos(cosine)
    if into < 1e-9:
        return ((index - 1) / (index + 1)) ** 2
    within = math.asin(math.sin(into) / index)
    across = math.sin(into - within) / math.sin(into + within)
    along = math.tan(into - within) / math.tan(into + within)
    return (across**2 + along**2) / 2


def thread_frame(tilt: float, roll: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Axis and surface normal of a thread along x, tilted up and rolled to the right."""
    axis = np.array([math.cos(tilt), 0.0, math.sin(tilt)])
    beside = np.array([0.0, 1.0, 0.0])
    return axis, math.cos(roll) * np.cross(axis, beside) + math.sin(roll) * beside


def lobes(fibre: Any, axis: Any, normal: Any, light: Any, view: Any) -> tuple[float, float, float, float]:
    """Surface and volume lobes of a thread, the surface without Fresnel's rise, and the volume's depth:
    with vectors and angles."""
    axis, normal, light, view = (np.asarray(v, float) for v in (axis, normal, light, view))
    theta_i, theta_r = math.asin(np.clip(axis @ light, -1, 1)), math.asin(np.clip(axis @ view, -1, 1))
    x = math.sin(theta_i) + math.sin(theta_r)
    flat_light, flat_view = light - (axis @ light) * axis, view - (axis @ view) * axis
    sizes = max(float(np.linalg.norm(flat_light)), 1e-3), max(float(np.linalg.norm(flat_view)), 1e-3)
    phi = math.acos(np.clip(flat_light @ flat_view / (sizes[0] * sizes[1]), -1, 1))
    upright = max(float(normal @ (light + view)), 0.0)
    width = math.hypot(fibre.surface_rad, fibre.surface_tilt * upright)
    plain = math.cos(phi / 2) * math.exp(-((x / width) ** 2) / 2)
    once = (1 - fibre.volume_even) * math.cos(phi / 2) ** fibre.volume_back
    once /= (1 + (x / math.hypot(fibre.volume_rad, fibre.volume_tilt * upright)) ** 2) ** fibre.volume_falloff
    low = math.sqrt(max(1 - upright / 2, 0))
    once *= math.exp(fibre.volume_low * low + fibre.volume_lower * low**2)
    once *= math.exp(fibre.volume_aside * x**2 / (x**2 + 0.25))
    deep = fibre.volume_even * math.exp(fibre.even_low * low)
    for direction in (light, view):
        ramp = np.clip((normal @ direction + 0.1) / 0.4, 0, 1)
        plain *= 3 * ramp**2 - 2 * ramp**3
        once *= max(float(normal @ direction + fibre.wrap), 0.0) / (1 + fibre.wrap)
        deep *= max(float(normal @ direction + fibre.even_wrap), 0.0) / (1 + fibre.even_wrap)
    plain *= math.sqrt(sizes[0] / sizes[1])
    volume = (once + deep) * 2 * sizes[0] / (sizes[0] + sizes[1])
    depth = (fibre.volume_depth * once + fibre.even_depth * deep) / max(once + deep, 1e-12)
    half_angle = math.acos(np.clip(view @ light, -1, 1)) / 2
    rise = fresnel(fibre.index, math.cos(half_angle)) / fresnel(fibre.index, 1.0)
    return plain * rise, volume, plain, depth


def lobe_integrals(
    fibre: Any, axis: Any, normal: Any, directions: NDArray[np.float64], view: Any
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Integrals of the lobes, and of the volume times its depth, over the sphere and its upper half,
    for evenly spread directions."""
    each = np.array([lobes(fibre, axis, normal, d, view) for d in directions])
    each[:, 3] *= each[:, 1]
    each *= 4 * math.pi / len(directions)
    return each.sum(0), each[directions[:, 2] > 0].sum(0)


def reflected(
    fibre: Any, axis: Any, normal: Any, light: Any, view: Any, directions: NDArray[np.float64]
) -> tuple[float, float, float]:
    """Radiance for irradiance 1 off the skin and from within, and its depth; the lobes' integrals taken
    afresh."""
    (rising, within, whole, _), _ = lobe_integrals(fibre, axis, normal, directions, view)
    surface, volume, _, depth = lobes(fibre, axis, normal, light, view)
    skin = min(fibre.surface_share * rising / whole, 1.0)
    return skin * surface / rising, (1 - skin) * volume / within, depth
