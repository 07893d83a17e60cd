"""Where a camera that is too near for the whole design looks: at much thread, near the design's middle."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats
    from render.scene.setting import Setting

CELL_MM = 1.0
FRAMED = 0.7  # of the picture's width and height, what counts as the middle that is looked at (by eye)
ENOUGH = 0.92  # of the most thread that any place has: of those the nearest to the design's middle (by eye)
LONGEST_MM = 12.5  # anything longer is a jump, not a stitch


def aimed(setting: Setting, points_mm: Floats) -> Setting:
    """The setting, its camera moved to where most thread is. `points_mm (N, 2)`: needle points in sewing
    order from the middle of the design, as the picture has them. Cloth is taken to lie level there."""
    camera = setting.camera
    wide = FRAMED * camera.field_mm
    high = 0.75 * wide / float(np.cos(np.deg2rad(camera.tilt_deg)))
    x, y, _ = camera.target_mm
    right, down = most_thread(points_mm, (wide, high), (x, y))
    return replace(setting, camera=replace(camera, target_mm=(right, down, camera.target_mm[2])))


def most_thread(
    points_mm: Floats, frame_mm: tuple[float, float], usual_mm: tuple[float, float]
) -> tuple[float, float]:
    """Middle of a frame, so wide and high, that holds nearly as much thread as any: the nearest to the usual
    one, which itself will do if it is such a frame."""
    from scipy.ndimage import uniform_filter

    run = np.diff(points_mm, axis=0)
    length = np.hypot(run[:, 0], run[:, 1])
    sewn = length < LONGEST_MM
    middle = (points_mm[1:] + points_mm[:-1])[sewn] / 2
    half = np.abs(points_mm).max(0) + np.array(frame_mm)
    edges = [np.arange(-side, side + CELL_MM, CELL_MM) for side in half[::-1]]
    thread, _, _ = np.histogram2d(middle[:, 1], middle[:, 0], edges, weights=length[sewn])
    size = [max(round(side / CELL_MM), 1) for side in frame_mm[::-1]]
    held: NDArray[np.float64] = uniform_filter(thread, size, mode="constant")
    rows, cols = np.nonzero(held >= ENOUGH * held.max())
    down, right = (edges[axis][at] + CELL_MM / 2 for axis, at in enumerate((rows, cols)))
    away = np.hypot(right - usual_mm[0], down - usual_mm[1])
    if away.min() < CELL_MM:
        return usual_mm
    nearest = int(away.argmin())
    return float(right[nearest]), float(down[nearest])
