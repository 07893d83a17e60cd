"""Shapes that garments share: unevenness, folds, seams with their stitches, cords, buttons, a backdrop."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.ndimage import map_coordinates

from render.scene.mesh import Material, Part, normals_of, unrolled

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats

AROUND = 9  # points around a cord


def waves(
    x_mm: Floats, y_mm: Floats, *, length_mm: float, height_mm: float, seed: int
) -> NDArray[np.float64]:
    """Soft hollows and crests of this wavelength and height, of no direction, at places of any shape."""
    rng = np.random.default_rng([seed, 11])
    out = np.zeros(np.broadcast(x_mm, y_mm).shape)
    for _ in range(7):
        angle, phase = rng.uniform(0, np.pi), rng.uniform(0, 2 * np.pi)
        length = length_mm * rng.uniform(0.7, 1.6)
        out += np.sin((x_mm * np.cos(angle) + y_mm * np.sin(angle)) * 2 * np.pi / length + phase)
    return out * height_mm / 3.5


def eased(low: float, high: float, at: Floats) -> NDArray[np.float64]:
    """0 below `low`, 1 above `high`, smooth between."""
    t = np.clip((np.asarray(at, float) - low) / (high - low), 0.0, 1.0)
    return np.asarray(t * t * (3.0 - 2.0 * t))


def crease(
    x_mm: Floats,
    y_mm: Floats,
    *,
    start_mm: tuple[float, float],
    end_mm: tuple[float, float],
    width_mm: float,
    height_mm: float,
    bow_mm: float = 0.0,
) -> NDArray[np.float64]:
    """One fold of cloth from start to end: a rounded crest with a shallow hollow beside it, strongest
    in its first third and running out; `bow_mm` bends it to the side."""
    sx, sy = start_mm
    run = np.array([end_mm[0] - sx, end_mm[1] - sy])
    length = float(np.hypot(*run))
    tx, ty = run / length
    along = ((x_mm - sx) * tx + (y_mm - sy) * ty) / length
    across = -(x_mm - sx) * ty + (y_mm - sy) * tx - bow_mm * np.sin(np.pi * np.clip(along, 0, 1))
    q = across / width_mm
    profile = np.exp(-q * q) - 0.45 * np.exp(-((q - 1.35) ** 2) * 0.8)
    strength = eased(-0.15, 0.30, along) * (1.0 - eased(0.35, 1.05, along))
    return np.asarray(height_mm * profile * strength)


def on_sheet(part: Part, row: Floats, col: Floats) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Points and normals (N, 3) of a sheet at fractional rows and columns of its grid."""
    at = np.stack([np.asarray(row, float), np.asarray(col, float)])
    normals = normals_of(part.points_mm)

    def taken(grid: Floats) -> NDArray[np.float64]:
        return np.stack([map_coordinates(grid[..., k], at, order=1, mode="nearest") for k in range(3)], -1)

    return taken(part.points_mm), taken(normals)


def even_path(points_mm: Floats, step_mm: float, *others: Floats) -> list[NDArray[np.float64]]:
    """A path (and what belongs to its points) at even steps along it."""
    far = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points_mm, axis=0), axis=1))])
    at = np.linspace(0.0, far[-1], max(int(far[-1] / step_mm), 2) + 1)
    return [
        np.stack([np.interp(at, far, one[:, k]) for k in range(one.shape[1])], 1)
        for one in (points_mm, *others)
    ]


def cord(
    path_mm: Floats, radius_mm: NDArray[np.floating[Any]] | float, material: Material, *, ends: bool = True
) -> Part:
    """A round cord along a path (N, 3), pinched shut at its ends."""
    run = np.gradient(path_mm, axis=0)
    run /= np.maximum(np.linalg.norm(run, axis=1, keepdims=True), 1e-9)
    side = np.cross(run, [0.0, 0.0, 1.0])
    flat = np.linalg.norm(side, axis=1) < 0.2
    side[flat] = np.cross(run[flat], [1.0, 0.0, 0.0])
    side /= np.linalg.norm(side, axis=1, keepdims=True)
    up = np.cross(side, run)
    radius = np.broadcast_to(np.asarray(radius_mm, float), (len(path_mm),)).copy()
    if ends:
        radius[[0, -1]] = 0.02
    turn = np.linspace(0, -2 * np.pi, AROUND)
    ring = np.cos(turn)[None, :, None] * side[:, None] + np.sin(turn)[None, :, None] * up[:, None]
    points = path_mm[:, None] + radius[:, None, None] * ring
    return Part(points, _lengths(points), material)


def topstitch(
    path_mm: Floats,
    normal: Floats,
    material: Material,
    *,
    stitch_mm: float = 2.6,
    gap_mm: float = 0.7,
    radius_mm: float = 0.28,
) -> Part:
    """A row of stitches that lie on a surface and dive into it between: one cord that sinks."""
    points, up = even_path(path_mm, (stitch_mm + gap_mm) / 8, normal)
    up /= np.maximum(np.linalg.norm(up, axis=1, keepdims=True), 1e-9)
    far = np.arange(len(points)) * (stitch_mm + gap_mm) / 8
    phase = np.mod(far, stitch_mm + gap_mm) / stitch_mm
    lift = np.where(phase < 1.0, np.sin(np.pi * np.clip(phase, 0, 1)) ** 0.5, -1.0)
    # Drawn tight they lie halfway in the cloth.
    centre = points + up * (radius_mm * (1.2 * lift - 1.0))[:, None]
    run = np.gradient(points, axis=0)
    run /= np.maximum(np.linalg.norm(run, axis=1, keepdims=True), 1e-9)
    side = np.cross(run, up)
    turn = np.linspace(-np.pi, 0, 7)
    ring = np.cos(turn)[None, :, None] * side[:, None] - np.sin(turn)[None, :, None] * up[:, None]
    grid = centre[:, None] + radius_mm * ring
    return Part(grid, _lengths(grid), material, casts=False)


def disc(
    middle_mm: Floats, normal: Floats, profile_mm: Floats, material: Material, *, steps: int = 40
) -> Part:
    """A turned body: `profile_mm (N, 2)` radius and height over the middle, from the rim inwards."""
    up = np.asarray(normal, float) / np.linalg.norm(normal)
    side = np.cross([0.0, 1.0, 0.0] if abs(up[1]) < 0.9 else [1.0, 0.0, 0.0], up)
    side /= np.linalg.norm(side)
    other = np.cross(up, side)
    turn = np.linspace(0, 2 * np.pi, steps + 1)
    ring = np.cos(turn)[:, None] * side + np.sin(turn)[:, None] * other
    radius, height = np.asarray(profile_mm, float).T
    points = np.asarray(middle_mm) + radius[:, None, None] * ring[None] + height[:, None, None] * up
    return Part(points, _lengths(points), material)


def button(middle_mm: Floats, normal: Floats, radius_mm: float, material: Material) -> tuple[Part, ...]:
    """A shirt button with a rim, its four holes and thread through them."""
    r = radius_mm
    profile = np.array([[r, -0.2], [r, 1.2], [0.92 * r, 1.9], [0.78 * r, 1.9], [0.66 * r, 1.35], [0.01, 1.3]])
    up = np.asarray(normal, float) / np.linalg.norm(normal)
    parts = [disc(middle_mm, up, profile, material)]
    side = np.cross([0.0, 1.0, 0.0], up)
    side /= np.linalg.norm(side)
    other = np.cross(up, side)
    thread = Material(role="trim", grain=0.2)
    for sign in (-1.0, 1.0):
        ends = [
            np.asarray(middle_mm) + up * height + 0.17 * r * sign * other + 0.26 * r * across * side
            for across, height in ((-1, 1.25), (-0.6, 1.55), (0.0, 1.65), (0.6, 1.55), (1, 1.25))
        ]
        parts.append(cord(np.array(ends), 0.07 * r, thread))
    return tuple(parts)


def cove(y_mm: float, back_mm: float, front_mm: float, half_mm: float, material: Material) -> Part:
    """A studio sweep: a floor at `y_mm` that runs back and rises in a wide curve behind."""
    bend = 140.0
    turn = np.linspace(0, np.pi / 2, 24)
    bow = np.stack([y_mm - bend + bend * np.sin(turn), back_mm + bend - bend * np.cos(turn)], 1)
    wall = np.array([(y_mm - bend - step, back_mm) for step in (700.0, 300.0, 100.0)])
    # Closer together in the middle, where shadows lie.
    near = np.arange(30.0, 190.0, 1.25)
    far = np.linspace(back_mm + bend, near[0], 40)[1:-1], np.linspace(near[-1], front_mm, 25)[1:]
    floor = [(y_mm, z) for z in np.concatenate([far[0], near, far[1]])]
    line = np.concatenate([wall, bow, floor])
    x = half_mm * np.sinh(np.linspace(-3, 3, 361)) / np.sinh(3)
    points = np.empty((len(line), len(x), 3))
    points[..., 0], points[..., 1], points[..., 2] = x, line[:, :1], line[:, 1:]
    return Part(points, _lengths(points), material, casts=False, ground=True)


def _lengths(points_mm: Floats) -> NDArray[np.float64]:
    return unrolled(points_mm, 0, 0)
