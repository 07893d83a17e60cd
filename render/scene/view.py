"""What the camera sees of a setting: the mesh, the light that reaches it, and where cloth lies on screen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.scene.camera import see
from render.scene.gather import SUB, VALUES, looks_of
from render.scene.mesh import joined
from render.scene.raster import fill_triangles
from render.scene.visibility import light_reaching

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Light
    from render.scene.camera import Seen
    from render.scene.gather import Looks
    from render.scene.mesh import Mesh
    from render.scene.setting import Setting

COARSE = 8  # pixels of the picture a pixel of the first look


@dataclass(frozen=True, slots=True, eq=False)
class Stage:
    """A setting ready to be drawn, its N points and T triangles.

    `reaching (N, 2)`: shares of key lamp and dome; `place (N, 3)`: column and row of samples, one over
    depth; `values (N, 7)` as a look has them; `span (T, 2)`: first and last row of each triangle in samples,
    from infinity on where it reaches behind the camera.
    """

    setting: Setting
    mesh: Mesh
    reaching: NDArray[np.float32]
    seen: Seen
    place: NDArray[np.float64]
    values: NDArray[np.float32]
    span: NDArray[np.float64]

    @property
    def sewn(self) -> int:
        """Which part carries the design."""
        return next(i for i, part in enumerate(self.setting.parts) if part.sewn)

    @property
    def leaning(self) -> float:
        """How squarely the sewn part is seen where the design is: cosine to the line of sight."""
        own = np.zeros(len(self.mesh.points_mm), np.bool_)
        own[self.mesh.corners[self.mesh.part == self.sewn]] = True
        points = np.flatnonzero(own)
        nearest = points[np.argmin(np.hypot(*(self.mesh.uv_mm[points] - self.setting.place_mm).T))]
        sight = self.seen.eye_mm - self.mesh.points_mm[nearest]
        return float(max(self.mesh.normal[nearest] @ sight / np.linalg.norm(sight), 0.35))


def stage(setting: Setting, light: Light, rows: int, cols: int) -> Stage:
    """Set the garment up before the camera, under the light."""
    mesh = joined(setting.parts)
    seen = see(setting.camera, rows, cols)
    reaching = light_reaching(setting.parts, light)
    place = seen.project(mesh.points_mm)
    place = np.stack([place[:, 0] * SUB, place[:, 1] * SUB, 1.0 / place[:, 2]], 1)
    values = np.concatenate([mesh.uv_mm, mesh.normal, reaching], 1).astype(np.float32)
    height = place[:, 1][mesh.corners]
    behind = (place[:, 2] <= 0)[mesh.corners].any(1)
    span = np.stack([np.where(behind, np.inf, height.min(1)), height.max(1)], 1)
    return Stage(setting, mesh, reaching, seen, place, values, span)


def looks_in(ready: Stage, top: int, rows: int) -> Looks:
    """What the pixels of the rows from `top` on show."""
    shape = (rows * SUB, ready.seen.cols * SUB)
    depth, which = np.zeros(shape, np.float32), np.full(shape, -1, np.int16)
    values = np.zeros((*shape, VALUES), np.float32)
    hit = (ready.span[:, 0] < (top + rows) * SUB) & (ready.span[:, 1] > top * SUB)
    fill_triangles(
        ready.place,
        ready.values,
        ready.mesh.corners,
        ready.mesh.part,
        np.flatnonzero(hit),
        top * SUB,
        depth,
        which,
        values,
    )
    return looks_of(which, depth, values)


def cloth_seen(ready: Stage) -> tuple[tuple[float, float, float, float], float]:
    """Box of the sewn part's flat cloth that is in the picture, and the pixels that show 1 mm of it."""
    rows, cols = ready.seen.rows // COARSE + 1, ready.seen.cols // COARSE + 1
    place = ready.place / np.array([SUB * COARSE, SUB * COARSE, 1.0])
    depth, which = np.zeros((rows, cols), np.float32), np.full((rows, cols), -1, np.int16)
    values = np.zeros((rows, cols, VALUES), np.float32)
    chosen = np.flatnonzero(np.isfinite(ready.span[:, 0]))
    fill_triangles(place, ready.values, ready.mesh.corners, ready.mesh.part, chosen, 0, depth, which, values)
    there = which == ready.sewn
    if not there.any():
        return (0.0, 0.0, 0.0, 0.0), 0.0
    uv = values[..., :2][there]
    (left, top), (right, bottom) = uv.min(0).tolist(), uv.max(0).tolist()
    margin = 3.0
    # As in the plane of focus, or everywhere if all is nearer or farther.
    near = float(np.clip(1.0 / ready.seen.focus_mm, depth[there].min(), depth[there].max()))
    scale = ready.seen.px * near
    return (left - margin, top - margin, right + margin, bottom + margin), scale
