"""What the lobes of thread need to know of lamps, dome and dyes where the cloth is turned from the viewer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.draw.exposure import white_card_linear
from render.draw.lobes import fibonacci_sphere, lobe_norms, lobe_shape, upward_shares
from render.draw.shading import dyes_of
from render.draw.sheen import BELOW_LINEAR, lamp_direction, sheen_table
from render.draw.turned_kernel import UP_AZIMUTHS, UP_ROLLS, UP_TILTS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from render.draw.turned import Turned
    from render.model import FibreLobes, Light, Thread

LAMP_RING = 3  # points on a ring that has a lamp disc's own second moments
UP_POINTS = 400


@dataclass(frozen=True, slots=True, eq=False)
class Shine:
    """What the lobes need: dyes (K, T, 6), kind of each thread, shapes, norms, shares of the dome,
    lamp points (P, 7): direction, colour, whether of the key."""

    dyes: NDArray[np.float32]
    kind: NDArray[np.int64]
    shapes: NDArray[np.float64]
    norms: NDArray[np.float64]
    upward: NDArray[np.float64]
    lamps: NDArray[np.float64]
    dome: NDArray[np.float64]


def shine_of(
    thread_sets: Sequence[tuple[Thread, ...]], lobes: dict[str, FibreLobes], light: Light, surface: Turned
) -> Shine:
    """Of the first set's kinds of thread, and the dyes of each set."""
    kinds = sorted({thread.shines_as for thread in thread_sets[0]})
    tables = [sheen_table(lobes[kind], light) for kind in kinds]
    card = white_card_linear(light)
    rows = []
    for index, lamp in enumerate(light.lamps):
        colour = np.array(lamp.colour_linear) * lamp.irradiance / card / LAMP_RING
        for point in lamp_ring(lamp_direction(lamp.azimuth_deg, lamp.elevation_deg), lamp.size_deg):
            rows.append([*point, *colour, 1.0 if index == 0 else 0.0])
    view = _mean_view(surface)
    return Shine(
        np.stack([dyes_of(threads, kinds, tables, lobes, light) for threads in thread_sets]),
        np.array([kinds.index(thread.shines_as) for thread in thread_sets[0]], np.int64),
        np.stack([lobe_shape(lobes[kind]) for kind in kinds]),
        np.stack([lobe_norms(lobes[kind]) for kind in kinds]),
        np.stack([_upward(lobe_shape(lobes[kind]), view) for kind in kinds]),
        np.array(rows).reshape(-1, 7),
        np.concatenate([np.array(light.dome_linear) / card, [BELOW_LINEAR]]),
    )


def _mean_view(surface: Turned) -> NDArray[np.float64]:
    """Towards the viewer in the cloth's own axes, in the mean over the surface."""
    axes = surface.frame[..., :9].reshape(-1, 3, 3).astype(np.float64)
    view = np.einsum("nij,nj->ni", axes, surface.frame[..., 9:12].reshape(-1, 3)).mean(0)
    return np.asarray(view / np.linalg.norm(view))


def _upward(shape: NDArray[np.float64], view: NDArray[np.float64]) -> NDArray[np.float64]:
    """Share of each lobe that reaches the dome over the cloth, by the thread's azimuth, tilt and roll."""
    tilts, rolls = np.deg2rad(UP_TILTS), np.deg2rad(UP_ROLLS)
    sphere = fibonacci_sphere(UP_POINTS)
    shares = []
    for step in range(UP_AZIMUTHS):
        x, y, _ = lamp_direction(-step * 360.0 / UP_AZIMUTHS, 0.0)
        seen = (float(view[0] * x - view[1] * y), float(view[0] * y + view[1] * x), float(view[2]))
        shares.append(upward_shares(shape, tilts, rolls, sphere, seen))
    return np.array(shares)


def lamp_ring(direction: tuple[float, float, float], size_deg: float) -> NDArray[np.float64]:
    """Points (3, 3) that stand for a round lamp: a ring at radius / sqrt 2 spreads as the disc does."""
    middle = np.array(direction)
    side = np.array([-middle[1], middle[0], 0.0]) / max(float(np.hypot(middle[0], middle[1])), 1e-9)
    if not side.any():
        side = np.array([1.0, 0.0, 0.0])
    up = np.cross(middle, side)
    turn = (np.arange(LAMP_RING) + 0.5) * (2 * np.pi / LAMP_RING)
    radius = np.tan(np.deg2rad(size_deg) / 2) * np.sqrt(0.5)
    points = middle + radius * (np.cos(turn)[:, None] * side + np.sin(turn)[:, None] * up)
    return np.asarray(points / np.linalg.norm(points, axis=1, keepdims=True))
