"""Left chest of a polo shirt: buttoned placket, one leaf of the collar, the design on the wearer's left."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.scene.camera import Camera
from render.scene.form import button, cord, crease, eased, even_path, on_sheet, topstitch, waves
from render.scene.mesh import Material, Part, sheet, unrolled
from render.scene.setting import Setting

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats

TITLE = "Left chest of a polo shirt"

CHEST_MM = 260.0  # radius of the chest, seen from above (estimate)
PLACKET_MM, PLACKET_END_MM = 34.0, 92.0  # its width, and its lower end under the design's middle
DESIGN_MM = 96.0  # middle of the design from the middle of the placket (common practice, no source)
CLOTH = Material("job", fuzz=0.2)
STITCH = Material(role="garment", shade=1.18, grain=0.25)


def setting(design_mm: tuple[float, float]) -> Setting:
    """Cropped as for a web shop: collar at the top left, the design right of the middle."""
    x, y = np.linspace(-210, 150, 480), np.linspace(-190, 190, 460)
    body = sheet(x, y, form(x[None], y[:, None]), CLOTH, sewn=True)
    parts = [body, *_placket(), *_collar()]
    camera = Camera(
        focal_mm=85.0,
        f_number=7.1,
        field_mm=232.0,
        target_mm=(-26.0, -14.0, 6.0),
        tilt_deg=6.0,
        turn_deg=9.0,
    )
    return Setting(
        "polo",
        tuple(parts),
        camera,
        fabric="pique",
        colour_srgb=(0.12, 0.30, 0.24),
        trim_srgb=(0.9, 0.89, 0.86),
        room_mm=(110.0, 110.0),
    )


def form(x: Floats, y: Floats) -> NDArray[np.float64]:
    """The chest: round, with folds that run from the shoulder and the arm and leave the design flat."""
    z = np.sqrt(np.maximum(CHEST_MM**2 - (x + 20.0) ** 2, 1.0)) - CHEST_MM
    z = z - 0.00030 * (y + 30.0) ** 2
    quiet = 1.0 - 0.75 * np.exp(-(((x / 62.0) ** 2 + (y / 62.0) ** 2) ** 2))
    folds = crease(x, y, start_mm=(150, -150), end_mm=(40, 120), width_mm=11, height_mm=5.5, bow_mm=16)
    folds += crease(x, y, start_mm=(165, -70), end_mm=(30, 170), width_mm=13, height_mm=6.5, bow_mm=22)
    folds += crease(x, y, start_mm=(-40, -60), end_mm=(-70, 190), width_mm=14, height_mm=3.5, bow_mm=-10)
    folds += crease(x, y, start_mm=(90, 190), end_mm=(-60, 100), width_mm=15, height_mm=5.0, bow_mm=-14)
    return z + quiet * (folds + waves(x, y, length_mm=85.0, height_mm=1.1, seed=3))


def _over(x: Floats, y: Floats, lift_mm: Floats | float) -> NDArray[np.float64]:
    """Points over the chest at places of its plan."""
    across, down = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
    return np.stack([across, down, form(across, down) + lift_mm], -1)


def _placket() -> list[Part]:
    middle = -DESIGN_MM
    across = np.linspace(-PLACKET_MM / 2, PLACKET_MM / 2, 90)
    down = np.linspace(-190, PLACKET_END_MM, 330)
    # The edge is a fold of cloth: round, and pressed down by its stitching.
    edge = np.abs(across) / (PLACKET_MM / 2)
    profile = 2.3 * (1.0 - edge**14) - 0.5 * np.exp(-(((np.abs(across) - PLACKET_MM / 2 + 2.6) / 0.8) ** 2))
    profile[[0, -1]] = -1.5
    foot = 1.0 - eased(PLACKET_END_MM - 1.6, PLACKET_END_MM, down) ** 3 * 1.6
    points = _over(middle + across[None], down[:, None], profile[None] * foot[:, None])
    strip = Part(points, unrolled(points, 170, 45), Material("job", fuzz=0.2))
    made = [strip]
    rows, cols = points.shape[:2]
    row = np.linspace(0, rows - 4, 400)
    for side in (2.6, PLACKET_MM - 2.6):
        at, normal = on_sheet(strip, row, np.full(400, side / PLACKET_MM * (cols - 1)))
        made.append(topstitch(at, normal, STITCH, radius_mm=0.22))
    for far in (2.6, 20.0):
        col = np.linspace(2.6, PLACKET_MM - 2.6, 60) / PLACKET_MM * (cols - 1)
        at, normal = on_sheet(
            strip, np.full(60, (PLACKET_END_MM - far + 190) / (PLACKET_END_MM + 190) * (rows - 1)), col
        )
        made.append(topstitch(at, normal, STITCH, radius_mm=0.22))
    for y in (-92.0, -20.0, 52.0):
        (at,), (normal,) = on_sheet(
            strip, np.array([(y + 190) / (PLACKET_END_MM + 190) * (rows - 1)]), np.array([(cols - 1) / 2])
        )
        made += button(at, normal, 5.6, Material(role="trim", gloss=0.55))
    return made


def _collar() -> list[Part]:
    """A flat-knit leaf that lies over the shoulder: from the fold at the neck out to its edge."""
    along, out = np.linspace(0, 1, 200), np.linspace(0, 1, 110)
    # From the point by the placket up to the shoulder, at the neck and at the outer edge.
    neck = np.stack([-DESIGN_MM + 12 + 84 * along**1.2, -132 - 78 * along], 1)
    edge = np.stack([-DESIGN_MM + 26 + 118 * along**1.05, -74 - 92 * along**1.25], 1)
    flat = neck[None] + (edge - neck)[None] * out[:, None, None]
    roll = 9.0 * (1.0 - out) ** 2
    lift = 3.4 + roll[:, None] + 1.0 * np.sin(along * 5.0)[None] * out[:, None] ** 2
    lift = lift - 4.5 * eased(0.985, 1.0, out)[:, None]
    points = _over(flat[..., 0], flat[..., 1], lift)
    leaf = Part(points, unrolled(points, 0, 0), Material("stretch-knit", fuzz=0.2, turn_deg=-38.0))
    made = [leaf]
    rim = even_path(points[-1] + [0.0, 0.0, 2.6], 1.2)[0]
    made.append(cord(rim, 1.25, Material("stretch-knit", fuzz=0.2)))
    front = even_path(points[:, 0] + [0.0, 0.0, -0.6], 1.2)[0]
    made.append(cord(front, 1.25, Material("stretch-knit", fuzz=0.2)))
    return made
