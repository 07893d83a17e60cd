"""How the cloth under the design stands: the sewn part's form at even points of the flat cloth."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.draw.turned import Turned
from render.scene.camera import confusion_px
from render.scene.gather import SUB
from render.scene.raster import fill_triangles

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.scene.camera import Seen
    from render.scene.view import Stage

CELL_MM = 1.0
Box = tuple[float, float, float, float]


def turned_surface(here: Stage, box_mm: Box, offset_mm: tuple[float, float]) -> Turned:
    """The sewn part within a box of the flat cloth (left, top, right, bottom), as the threads need it.

    `offset_mm` is added to places of the flat cloth to give those of design space. Cloth beyond the
    part goes on as at its edge.
    """
    mesh, seen = here.mesh, here.seen
    left, top = box_mm[0], box_mm[1]
    cols = int(np.ceil((box_mm[2] - left) / CELL_MM)) + 2
    rows = int(np.ceil((box_mm[3] - top) / CELL_MM)) + 2
    place = np.ones((len(mesh.uv_mm), 3))
    place[:, :2] = (mesh.uv_mm - np.array([left, top])) / CELL_MM + 0.5
    values = np.concatenate([mesh.points_mm, mesh.normal, here.reaching, here.place], 1).astype(np.float32)
    out = np.zeros((rows, cols, values.shape[1]), np.float32)
    depth, which = np.zeros((rows, cols), np.float32), np.full((rows, cols), -1, np.int16)
    chosen = np.flatnonzero(mesh.part == here.sewn)
    fill_triangles(place, values, mesh.corners, mesh.part, chosen, 0, depth, which, out)
    if not (which >= 0).any():
        # None of the part is here, so nothing of it shows: level cloth will do.
        out[..., 5:] = 1.0
    out = _filled(out, which >= 0)
    points, normal = out[..., :3].astype(np.float64), out[..., 3:6].astype(np.float64)
    normal /= np.linalg.norm(normal, axis=-1, keepdims=True)
    right = np.gradient(points, axis=1) + np.array([1e-9, 0.0, 0.0])
    right -= normal * (right * normal).sum(-1, keepdims=True)
    right /= np.maximum(np.linalg.norm(right, axis=-1, keepdims=True), 1e-9)
    down = np.cross(normal, right)
    view = seen.eye_mm - points
    view /= np.linalg.norm(view, axis=-1, keepdims=True)
    frame = np.concatenate([right, down, normal, view, out[..., 6:8]], -1).astype(np.float32)
    depth_mm = np.maximum((seen.eye_mm - points) @ seen.axes[2], 1.0)
    soft_mm = confusion_px(seen, depth_mm) * depth_mm / seen.px
    origin = (left + offset_mm[0], top + offset_mm[1])
    shown = _shown(out[..., 8:].astype(np.float64), (view * normal).sum(-1), seen)
    return Turned(frame, soft_mm.astype(np.float32), shown, origin, CELL_MM)


def _shown(place: NDArray[np.float64], facing: NDArray[np.float64], seen: Seen) -> NDArray[np.bool_]:
    """Which points the picture may show: those within it, or nearly, that do not face away."""
    near = 2.0 * CELL_MM * seen.px * place[..., 2]
    col, row = place[..., 0] / SUB, place[..., 1] / SUB
    within = (col > -near) & (col < seen.cols + near) & (row > -near) & (row < seen.rows + near)
    return np.asarray(within & (place[..., 2] > 0.0) & (facing > -0.1))


def _filled(values: NDArray[np.float32], known: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Places that are not known take the value of the nearest that is."""
    from scipy.ndimage import distance_transform_edt

    if known.all() or not known.any():
        return values
    nearest = distance_transform_edt(~known, return_distances=False, return_indices=True)
    return np.asarray(values[tuple(nearest)])
