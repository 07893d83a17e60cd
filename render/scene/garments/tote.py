"""A canvas tote bag, laid flat."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.scene.camera import Camera
from render.scene.form import crease, eased, even_path, on_sheet, topstitch, waves
from render.scene.mesh import Material, Part, sheet
from render.scene.setting import Setting

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats

TITLE = "Canvas tote bag, laid flat"

HALF_MM, TOP_MM, FOOT_MM = 182.0, -168.0, 222.0  # of the bag from the middle of the design
HEM_MM, STRAP_MM = 28.0, 27.0
CANVAS = Material("job", fuzz=0.15)
STITCH = Material(role="garment", shade=0.94, grain=0.25)


def setting(design_mm: tuple[float, float]) -> Setting:
    """From above, the handles laid over the top."""
    body = _body()
    parts = [body, *_hem(body), *_handle(), _table()]
    camera = Camera(
        focal_mm=70.0,
        f_number=11.0,
        field_mm=410.0,
        target_mm=(0.0, -52.0, 6.0),
        tilt_deg=9.0,
        turn_deg=4.0,
    )
    return Setting(
        "tote",
        tuple(parts),
        camera,
        fabric="canvas",
        colour_srgb=(0.87, 0.83, 0.74),
        trim_srgb=(0.87, 0.83, 0.74),
        room_mm=(260.0, 260.0),
        cut_out=True,
    )


def _form(x: Floats, y: Floats) -> NDArray[np.float64]:
    """Heavy cloth with a few soft creases, thin at its edges."""
    edge = np.minimum(np.minimum(HALF_MM - abs(x), FOOT_MM - y), y - TOP_MM + 6.0)
    beside, along = HALF_MM - abs(x), np.minimum(FOOT_MM - y, y - TOP_MM + 6.0)
    z = 7.5 * (1.0 - np.exp(-np.maximum(beside, 0.0) / 9.0)) * (1.0 - np.exp(-np.maximum(along, 0.0) / 9.0))
    folds = crease(x, y, start_mm=(-150, -140), end_mm=(-60, 120), width_mm=14, height_mm=3.2, bow_mm=18)
    folds += crease(x, y, start_mm=(160, 200), end_mm=(40, 60), width_mm=13, height_mm=3.6, bow_mm=-12)
    folds += crease(x, y, start_mm=(130, -150), end_mm=(90, 40), width_mm=12, height_mm=2.4, bow_mm=-10)
    folds += crease(x, y, start_mm=(-165, 205), end_mm=(20, 150), width_mm=15, height_mm=3.4, bow_mm=14)
    quiet = 1.0 - 0.8 * np.exp(-(((x / 85.0) ** 2 + (y / 75.0) ** 2) ** 2))
    soft = waves(x, y, length_mm=120.0, height_mm=1.6, seed=9)
    return z + quiet * (folds + soft) * eased(0.0, 30.0, edge)


def _body() -> Part:
    across = np.linspace(-1, 1, 460)
    x = HALF_MM * np.sign(across) * (1.0 - (1.0 - abs(across)) ** 1.15)
    y = np.linspace(TOP_MM, FOOT_MM, 480)
    return sheet(x, y, _form(x[None], y[:, None]), CANVAS, sewn=True)


def _hem(body: Part) -> list[Part]:
    """Two rows along the folded top."""
    rows, cols = body.points_mm.shape[:2]
    made = []
    for far in (3.0, HEM_MM):
        at, normal = on_sheet(
            body, np.full(300, far / (FOOT_MM - TOP_MM) * (rows - 1)), np.linspace(6, cols - 7, 300)
        )
        made.append(topstitch(at, normal, STITCH, stitch_mm=3.2, gap_mm=0.9, radius_mm=0.42))
    return made


def _handle() -> list[Part]:
    """A strap of webbing, sewn on at both ends, its loop laid up and to the side."""
    turn = np.linspace(0, 1, 400)
    x = -76.0 + 152.0 * turn + 30.0 * np.sin(np.pi * turn)
    y = TOP_MM + 46.0 - 300.0 * np.sin(np.pi * turn) ** 0.55
    over = np.where(y > TOP_MM - 4.0, _form(x, np.maximum(y, TOP_MM + 1.0)), 3.0) + 2.6
    centre = np.stack([x, y, over], 1)
    (path,) = even_path(centre, 1.5)
    run = np.gradient(path, axis=0)
    run /= np.linalg.norm(run, axis=1, keepdims=True)
    side = np.cross([0.0, 0.0, 1.0], run)
    across = np.linspace(-STRAP_MM / 2, STRAP_MM / 2, 30)
    round_edge = -2.6 * (np.abs(across) / (STRAP_MM / 2)) ** 10
    points = path[:, None] + across[None, :, None] * side[:, None]
    points[..., 2] += round_edge[None]
    far = np.arange(len(path)) * 1.5
    uv = np.stack(np.broadcast_arrays(across[None], far[:, None]), -1)
    strap = Part(points[::-1].copy(), uv[::-1].copy(), Material("canvas", role="trim", fuzz=0.15))
    made = [strap]
    rows, cols = points.shape[:2]
    for row in (2.0, 26.0, rows - 28.0, rows - 4.0):
        at, normal = on_sheet(strap, np.full(40, row), np.linspace(3, cols - 4, 40))
        made.append(topstitch(at, normal, STITCH, stitch_mm=2.8, radius_mm=0.4))
    for first, last in ((2.0, 26.0), (rows - 28.0, rows - 4.0)):
        for begin, end in ((3.0, cols - 4.0), (cols - 4.0, 3.0)):
            at, normal = on_sheet(strap, np.linspace(first, last, 40), np.linspace(begin, end, 40))
            made.append(topstitch(at, normal, STITCH, stitch_mm=2.8, radius_mm=0.4))
        for col in (3.0, cols - 4.0):
            at, normal = on_sheet(strap, np.linspace(first, last, 40), np.full(40, col))
            made.append(topstitch(at, normal, STITCH, stitch_mm=2.8, radius_mm=0.4))
    return made


def _table() -> Part:
    x, y = np.linspace(-700, 700, 260), np.linspace(-700, 700, 260)
    material = Material(role="own", colour_srgb=(0.76, 0.77, 0.78))
    return sheet(x, y, np.zeros((len(y), len(x))), material, casts=False, ground=True)
