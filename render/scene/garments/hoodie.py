"""Chest of a hooded sweatshirt: the crossed front of the hood, its cords and metal eyelets."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.scene.camera import Camera
from render.scene.form import cord, disc, eased, even_path, on_sheet, topstitch
from render.scene.mesh import Material, Part, sheet, unrolled
from render.scene.setting import Setting
from render.scene.torso import chest

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats

TITLE = "Chest of a hooded sweatshirt"

FLEECE = Material("job", fuzz=0.5)
CORD = Material("canvas", role="trim", fuzz=0.2)
STITCH = Material(role="garment", shade=1.15, grain=0.25)
METAL = Material(role="own", colour_srgb=(0.60, 0.60, 0.61), gloss=0.9)
MIDDLE_MM = (-92.0, -104.0)  # where the two sides of the hood meet, from the middle of the design


def setting(design_mm: tuple[float, float]) -> Setting:
    """Worn, the camera on the wearer's left chest."""
    x, y = np.linspace(-330, 200, 540), np.linspace(-300, 270, 560)
    body = sheet(x, y, _form(x[None], y[:, None]), FLEECE, sewn=True)
    upper, lower = _hood(-1.0, 9.0), _hood(1.0, 4.0)
    parts = [body, *upper, *lower, *_cords((upper[0], lower[0]))]
    camera = Camera(
        focal_mm=85.0,
        f_number=8.0,
        field_mm=318.0,
        target_mm=(-52.0, -44.0, 4.0),
        tilt_deg=4.0,
        turn_deg=9.0,
    )
    return Setting(
        "hoodie",
        tuple(parts),
        camera,
        fabric="sweatshirt-fleece",
        colour_srgb=(0.29, 0.31, 0.34),
        trim_srgb=(0.86, 0.85, 0.81),
        room_mm=(130.0, 110.0),
        above_mm=130.0,
    )


def _form(x: Floats, y: Floats) -> NDArray[np.float64]:
    return chest(x, y, folds_mm=10.0, seed=21)


def _hood(side: float, lift_mm: float) -> list[Part]:
    """One side of the hood: a thick double layer that runs from the middle up over the shoulder."""
    along, out = np.linspace(0, 1, 240), np.linspace(0, 1, 120)
    # The inner edge bounds the neck's opening, the outer lies on the shoulder.
    inner = np.stack([MIDDLE_MM[0] - side * (18 - 76 * along**0.75), MIDDLE_MM[1] + 8 - 200 * along**1.15], 1)
    outer = np.stack(
        [MIDDLE_MM[0] - side * (14 - 178 * along**0.70), MIDDLE_MM[1] + 34 - 150 * along**1.4], 1
    )
    # Its front edge runs aslant down into the seam, across the other side's.
    inner = outer + (inner - outer) * (0.03 + 0.97 * eased(0.0, 0.26, along))[:, None]
    flat = inner[None] + (outer - inner)[None] * out[:, None, None]
    bulge = 15.0 * np.sin(np.pi * out) ** 0.6
    bulge = bulge[:, None] * (0.35 + 0.65 * np.minimum(along[None] * 2.2, 1.0))
    soft = 3.0 * np.sin(along[None] * 7.0 + 2.0 * out[:, None]) * np.sin(np.pi * out)[:, None] * along[None]
    z = _form(flat[..., 0], flat[..., 1]) + lift_mm + bulge + soft
    z = z - (lift_mm + 1.5) * (out[:, None] ** 14)
    # The end in the middle is sewn in under the neck's seam: nothing of it is left to be seen.
    end = eased(0.0, 0.10, along)[None]
    z = z - (lift_mm + 4.0) * (1.0 - end) - bulge * (1.0 - eased(0.0, 0.05, along))[None]
    points = np.concatenate([flat, z[..., None]], -1)
    if side < 0:
        points = points[:, ::-1]
    leaf = Part(points.copy(), unrolled(points, 0, 0), FLEECE)
    made = [leaf]
    rows, cols = points.shape[:2]
    for share in (0.13, 0.17):
        at, normal = on_sheet(leaf, np.full(300, share * (rows - 1)), np.linspace(1, cols - 2, 300))
        made.append(topstitch(at, normal, STITCH, stitch_mm=2.6, radius_mm=0.3))
    # The seam at the neck: a row of stitches on the body beside it.
    free = outer[30:]
    seam = np.stack([free[:, 0], free[:, 1] + 5.0, _form(free[:, 0], free[:, 1] + 5.0) + 0.3], 1)
    made.append(
        topstitch(seam, np.tile([0.0, 0.0, 1.0], (len(seam), 1)), STITCH, stitch_mm=2.6, radius_mm=0.3)
    )
    rim = even_path(points[0], 2.0)[0]
    made.append(cord(rim - [0.0, 0.0, 2.0], 3.0, FLEECE))
    return made


def _cords(leaves: tuple[Part, Part]) -> list[Part]:
    """A cord on each side out of its eyelet, hanging by its weight, its end knotted off."""
    made: list[Part] = []
    for side, length, leaf in ((-1.0, 118.0, leaves[0]), (1.0, 104.0, leaves[1])):
        x0, y0 = MIDDLE_MM[0] + side * 30.0, MIDDLE_MM[1] - 12.0
        down = np.linspace(0, 1, 80)
        x = x0 + side * (5.0 * np.sin(down * 3.4) + 5.0 * down)
        y = y0 + length * down
        under = np.maximum(_height(leaf, x, y), _form(x, y))
        # Stiff, it bends less than what it lies on.
        bent = np.convolve(np.pad(under, 6, mode="edge"), np.full(13, 1 / 13), mode="valid")
        z = np.maximum(under, bent) + 3.0
        path = even_path(np.stack([x, y, z], 1), 1.2)[0]
        ripple = 2.5 + 0.22 * np.sin(np.arange(len(path)) * 2.1)
        made.append(cord(path, ripple, CORD))
        tip = path[-8:]
        made.append(cord(even_path(np.stack([tip[0], tip[-1] + [0, 9.0, 0]]), 1.0)[0], 3.1, METAL))
        ring = np.array([[5.6, -0.5], [5.4, 1.0], [4.6, 1.6], [3.6, 1.2], [3.2, 0.0]])
        made.append(disc(path[0] - [0.0, 0.0, 2.6], np.array([side * 0.15, 0.15, 1.0]), ring, METAL))
    return made


def _height(leaf: Part, x: Floats, y: Floats) -> NDArray[np.float64]:
    """Of a side of the hood at places (N,), far below where it is not."""
    points = leaf.points_mm[::3, ::3].reshape(-1, 3)
    away = np.hypot(points[None, :, 0] - x[:, None], points[None, :, 1] - y[:, None])
    nearest = away.argmin(1)
    return np.where(away.min(1) < 3.0, points[nearest, 2], -1e3)
