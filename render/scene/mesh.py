"""Surfaces as grids of points: where cloth is in space, and which place of the flat cloth that is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from render.model import freeze

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Colour, Floats

Role = Literal["garment", "trim", "own"]


@dataclass(frozen=True, slots=True)
class Material:
    """What a part is made of.

    `fabric` names a cloth, or is empty for a plain surface; `role` says whose colour it has: the
    garment's, that of its trim, or its `own`. `shade` multiplies that colour. `gloss` in [0, 1] is a
    smooth skin, `fuzz` the light that loose fibres catch at grazing view. `grain` is the unevenness
    of a plain surface.
    """

    fabric: str = ""
    role: Role = "garment"
    colour_srgb: Colour = (1.0, 1.0, 1.0)
    shade: float = 1.0
    gloss: float = 0.0
    fuzz: float = 0.0
    grain: float = 0.0
    turn_deg: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """A sheet: `points_mm (rows, cols, 3)`; `uv_mm (rows, cols, 2)` the same places on the flat cloth.

    The face that is looked at is that whose normal is x-direction cross y-direction in a space with
    y down: towards the viewer for a sheet whose columns run right and whose rows run down. Only a
    part with `sewn` can carry the design; `casts` says whether it keeps light from others, `ground`
    that it is left out of a cut-out.
    """

    points_mm: Floats
    uv_mm: Floats
    material: Material
    sewn: bool = False
    casts: bool = True
    ground: bool = False

    def __post_init__(self) -> None:
        rows, cols = self.points_mm.shape[:2]
        freeze(self, points_mm=(rows, cols, 3), uv_mm=(rows, cols, 2))


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """All parts as one list of triangles.

    `points_mm (N, 3)`, `normal (N, 3)`, `uv_mm (N, 2)`; `corners (T, 3)` indices; of each triangle the
    `part (T,)` that it is of and whether it `casts (T,)` a shadow.
    """

    points_mm: Floats
    normal: Floats
    uv_mm: Floats
    corners: NDArray[np.int64]
    part: NDArray[np.int64]
    casts: NDArray[np.bool_]


def joined(parts: tuple[Part, ...]) -> Mesh:
    """The parts' grids cut into triangles."""
    points, normals, uvs, corners, part = [], [], [], [], []
    count = 0
    for index, one in enumerate(parts):
        rows, cols = one.points_mm.shape[:2]
        at = np.arange(rows * cols).reshape(rows, cols) + count
        a, b, c, d = at[:-1, :-1].ravel(), at[:-1, 1:].ravel(), at[1:, :-1].ravel(), at[1:, 1:].ravel()
        corners.append(np.concatenate([np.stack([a, b, d], 1), np.stack([a, d, c], 1)]))
        part.append(np.full(2 * len(a), index))
        points.append(one.points_mm.reshape(-1, 3))
        normals.append(normals_of(one.points_mm).reshape(-1, 3))
        uvs.append(one.uv_mm.reshape(-1, 2))
        count += rows * cols
    which = np.concatenate(part)
    return Mesh(
        np.concatenate(points),
        np.concatenate(normals),
        np.concatenate(uvs),
        np.concatenate(corners),
        which,
        np.array([one.casts for one in parts])[which],
    )


def normals_of(points_mm: Floats) -> NDArray[np.float64]:
    """Unit normals (rows, cols, 3) of a grid, towards its face."""
    down, right = np.gradient(points_mm, axis=0), np.gradient(points_mm, axis=1)
    normal = np.cross(right, down)
    return np.asarray(normal / np.maximum(np.linalg.norm(normal, axis=-1, keepdims=True), 1e-12))


def unrolled(points_mm: Floats, row: int, col: int) -> NDArray[np.float64]:
    """Lengths along the surface (rows, cols, 2): along each row from column `col` and along each
    column from row `row`, so that a millimetre of design is a millimetre of cloth."""
    across = np.linalg.norm(np.diff(points_mm, axis=1), axis=-1)
    along = np.linalg.norm(np.diff(points_mm, axis=0), axis=-1)
    u = np.pad(np.cumsum(across, axis=1), ((0, 0), (1, 0)))
    v = np.pad(np.cumsum(along, axis=0), ((1, 0), (0, 0)))
    return np.stack([u - u[:, col : col + 1], v - v[row : row + 1]], axis=-1)


def sheet(
    x_mm: Floats,
    y_mm: Floats,
    z_mm: Floats,
    material: Material,
    *,
    sewn: bool = False,
    casts: bool = True,
    ground: bool = False,
) -> Part:
    """A height field `z_mm (rows, cols)` over columns `x_mm` and rows `y_mm`; the flat cloth's origin
    lies at theirs."""
    points = np.dstack([*np.meshgrid(x_mm, y_mm), z_mm])
    row, col = int(np.argmin(abs(y_mm))), int(np.argmin(abs(x_mm)))
    # From the point of the grid nearest to the origin on.
    uv = unrolled(points, row, col) + np.array([x_mm[col], y_mm[row]])
    return Part(points, uv, material, sewn, casts, ground)
