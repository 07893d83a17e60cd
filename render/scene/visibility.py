"""What light gets past the garment itself: folds, collars and brims keep it from each other.

Depth maps are drawn as the light sees the scene, from many points of the lamp and from all over
the dome; a point is lit from those that see it.
"""

from __future__ import annotations

import hashlib
import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, replace
from typing import TYPE_CHECKING

import numpy as np

from render.compiled import njit
from render.scene.mesh import joined
from render.scene.raster import fill_depth

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Light
    from render.scene.mesh import Mesh, Part

KEY_POINTS = 56
DOME_POINTS = 96
MAP_PX = 360
MOST_POINTS = 20000  # of a part: finer grids take the light of the points between which theirs lie
OFFSET_MM = 0.9  # along the normal, so that a surface does not shade itself


def light_reaching(parts: tuple[Part, ...], light: Light) -> NDArray[np.float32]:
    """Shares of the key lamp and of the dome (N, 2) that each point of the parts sees, in [0, 1].

    The dome's share counts its light by the cosine to the point's own normal, against a point that
    faces the viewer freely. Kept on disk between runs.
    """
    from render import disk_cache

    def make() -> dict[str, NDArray[np.float32]]:
        return {"reaching": _made(parts, light)}

    size = sum(part.points_mm[..., 0].size for part in parts)
    form = hashlib.blake2b(digest_size=16)
    for part in parts:
        form.update(np.ascontiguousarray(part.points_mm).tobytes())
        form.update(bytes([part.casts]))
    arrays = disk_cache.kept(
        "reaching",
        [form.hexdigest(), [asdict(lamp) for lamp in light.lamps]],
        made_by=disk_cache.code_of(__file__),
        make=make,
        fits=lambda kept: set(kept) == {"reaching"} and kept["reaching"].shape == (size, 2),
    )
    return arrays["reaching"]


def _made(parts: tuple[Part, ...], light: Light) -> NDArray[np.float32]:
    coarse = [_thinned(part) for part in parts]
    mesh = joined(tuple(coarse))
    shares = _shares(mesh, light)
    out, at = [], 0
    for part, thin in zip(parts, coarse, strict=True):
        rows, cols = thin.points_mm.shape[:2]
        own = shares[at : at + rows * cols].reshape(rows, cols, 2)
        at += rows * cols
        if part.ground:
            own = _softened(own)
        out.append(_between(own, part.points_mm.shape[:2]).reshape(-1, 2))
    return np.concatenate(out).astype(np.float32)


def _steps(length: int, every: int) -> NDArray[np.int64]:
    """Every so many of a row of points, and the last."""
    return np.unique(np.append(np.arange(0, length, every), length - 1))


def _every(shape: tuple[int, ...]) -> int:
    return max(1, int(np.sqrt(shape[0] * shape[1] / MOST_POINTS)))


def _thinned(part: Part) -> Part:
    rows, cols = (_steps(side, _every(part.points_mm.shape)) for side in part.points_mm.shape[:2])
    at = np.ix_(rows, cols)
    return replace(part, points_mm=part.points_mm[at].copy(), uv_mm=part.uv_mm[at].copy())


def _between(values: NDArray[np.float64], shape: tuple[int, ...]) -> NDArray[np.float64]:
    """Values of a thinned grid at all its points, linear in between."""
    for axis in (0, 1):
        steps = _steps(shape[axis], _every(shape))
        at = np.interp(np.arange(shape[axis]), steps, np.arange(len(steps)))
        low = np.minimum(at.astype(int), len(steps) - 2)
        share = (at - low).reshape(-1, 1, 1) if axis == 0 else (at - low).reshape(1, -1, 1)
        values = values.take(low, axis) * (1 - share) + values.take(low + 1, axis) * share
    return values


def _softened(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Shares over a grid (rows, cols, 2), each the mean of those around it: ground has long even cells, along
    which the edge of a shadow would be a saw."""
    for axis in (0, 1):
        count = values.shape[axis]
        before, after = np.maximum(np.arange(count) - 1, 0), np.minimum(np.arange(count) + 1, count - 1)
        values = 0.25 * (values.take(before, axis) + 2.0 * values + values.take(after, axis))
    return values


def _shares(mesh: Mesh, light: Light) -> NDArray[np.float64]:
    from render.draw.sheen import lamp_direction

    jobs: list[tuple[NDArray[np.float64], int]] = []
    if light.lamps:
        key = light.lamps[0]
        middle = lamp_direction(key.azimuth_deg, key.elevation_deg)
        jobs += [(point, 0) for point in disc_points(middle, key.size_deg, KEY_POINTS)]
    jobs += [(point, 1) for point in dome_points(DOME_POINTS)]
    shown = mesh.corners[mesh.casts]
    low, high = mesh.points_mm[shown].min((0, 1)), mesh.points_mm[shown].max((0, 1))
    cell = float(np.linalg.norm(high - low)) / MAP_PX

    def seen_from(job: tuple[NDArray[np.float64], int]) -> NDArray[np.float32]:
        return _seen_from(mesh, shown, job[0], cell)

    out = np.zeros((len(mesh.points_mm), 2))
    weight = 0.0
    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        for (towards, which), seen in zip(jobs, pool.map(seen_from, jobs), strict=True):
            if which == 0:
                out[:, 0] += seen / KEY_POINTS
            else:
                out[:, 1] += seen * np.maximum(mesh.normal @ towards, 0.0)
                weight += towards[2]
    if not light.lamps:
        out[:, 0] = 1.0
    out[:, 1] /= weight
    return out.astype(np.float32)


def disc_points(middle: tuple[float, float, float], size_deg: float, count: int) -> NDArray[np.float64]:
    """Points spread evenly over a round lamp, unit vectors."""
    centre = np.array(middle)
    side = np.cross(centre, [0.0, 0.0, 1.0] if abs(centre[2]) < 0.99 else [1.0, 0.0, 0.0])
    side /= np.linalg.norm(side)
    up = np.cross(centre, side)
    k = np.arange(count) + 0.5
    radius = np.tan(np.deg2rad(size_deg) / 2) * np.sqrt(k / count)
    turn = np.pi * (3.0 - 5.0**0.5) * k
    points = centre + radius[:, None] * (np.cos(turn)[:, None] * side + np.sin(turn)[:, None] * up)
    return np.asarray(points / np.linalg.norm(points, axis=1, keepdims=True))


def dome_points(count: int) -> NDArray[np.float64]:
    """Unit vectors spread evenly over the half of space that the viewer is in."""
    k = np.arange(count) + 0.5
    z = 1.0 - k / count
    turn = np.pi * (3.0 - 5.0**0.5) * k
    flat = np.sqrt(1.0 - z * z)
    return np.stack([flat * np.cos(turn), flat * np.sin(turn), z], 1)


def _seen_from(
    mesh: Mesh, shown: NDArray[np.int64], towards: NDArray[np.float64], cell_mm: float
) -> NDArray[np.float32]:
    """Whether each point sees the direction, softly, (N,)."""
    side = np.cross(towards, [0.0, 1.0, 0.0] if abs(towards[1]) < 0.9 else [1.0, 0.0, 0.0])
    side /= np.linalg.norm(side)
    axes = np.stack([side, np.cross(towards, side), towards])
    place = mesh.points_mm @ axes.T
    low = place[shown, :2].min((0, 1))
    place[:, :2] = (place[:, :2] - low) / cell_mm + 2.0
    cols, rows = (int(side) + 4 for side in place[shown, :2].max((0, 1)))
    depth = np.full((rows, cols), -1e9, np.float32)
    fill_depth(place, shown, depth)
    own = (mesh.points_mm + OFFSET_MM * mesh.normal) @ axes.T
    own[:, :2] = (own[:, :2] - low) / cell_mm + 2.0
    seen: NDArray[np.float32] = unhidden(own, depth, 1.2 * cell_mm, mesh.normal @ towards)
    return seen


@njit(cache=True, nogil=True)
def unhidden(
    place: NDArray[np.float64], depth: NDArray[np.float32], soft_mm: float, facing: NDArray[np.float64]
) -> NDArray[np.float32]:
    """Share of four neighbouring cells of the depth map that do not lie before each point."""
    out = np.zeros(len(place), np.float32)
    rows, cols = depth.shape
    for i in range(len(place)):
        if facing[i] <= 0.0:
            continue
        x, y = place[i, 0] - 0.5, place[i, 1] - 0.5
        c, r = min(max(int(np.floor(x)), 0), cols - 2), min(max(int(np.floor(y)), 0), rows - 2)
        u, w = min(max(x - c, 0.0), 1.0), min(max(y - r, 0.0), 1.0)
        # A surface seen at a slant climbs within a cell by itself.
        room = soft_mm * (1.0 + min(1.0 / max(facing[i], 0.2), 5.0) * 0.5)
        total = 0.0
        for j in range(2):
            for k in range(2):
                over = depth[r + j, c + k] - place[i, 2]
                open_share = 1.0 - min(max(over / room, 0.0), 1.0)
                total += (u if k else 1.0 - u) * (w if j else 1.0 - w) * open_share
        out[i] = total
    return out
