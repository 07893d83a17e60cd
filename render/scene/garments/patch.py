"""An embroidered patch on the back of a denim jacket: twill with an overcast edge."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.scene.camera import Camera
from render.scene.form import cord, crease, even_path, on_sheet, topstitch, waves
from render.scene.mesh import Material, Part, sheet
from render.scene.setting import Setting

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats

TITLE = "Patch on the back of a denim jacket"

ROOM_MM, EDGE_MM, THICK_MM = 3.2, 1.9, 1.5  # twill around the design; radius of the edge; lift
DENIM = Material("denim", role="own", colour_srgb=(0.24, 0.31, 0.42), fuzz=0.15)
ORANGE = Material(role="own", colour_srgb=(0.76, 0.52, 0.24), grain=0.25)


def setting(design_mm: tuple[float, float]) -> Setting:
    """Seen a little from the side, the yoke's seam above the patch."""
    half = _half_mm(design_mm)
    back = _back(half)
    parts = [back, *_seams(back), _patch(half), _edge(half)]
    camera = Camera(
        focal_mm=85.0,
        f_number=5.6,
        field_mm=3.0 * half[0] + 20.0,
        target_mm=(0.0, -0.05 * half[1], 2.0),
        tilt_deg=15.0,
        turn_deg=-17.0,
    )
    return Setting(
        "patch",
        tuple(parts),
        camera,
        fabric="twill",
        colour_srgb=(0.09, 0.14, 0.24),
        trim_srgb=(0.83, 0.63, 0.23),
        room_mm=(300.0, 300.0),
    )


def _half_mm(design_mm: tuple[float, float]) -> tuple[float, float]:
    """Half width and height of the patch around a design so wide and high."""
    wide, high = (side / 2 + ROOM_MM for side in design_mm)
    if _is_round(design_mm):
        return max(wide, high), max(wide, high)
    return wide + 4.0, high + 4.0


def _is_round(design_mm: tuple[float, float]) -> bool:
    return 0.92 < design_mm[0] / max(design_mm[1], 1.0) < 1.09


def _rim(half: tuple[float, float], count: int) -> NDArray[np.float64]:
    """The outline (N, 2) against the clock: a circle, or a rectangle with round corners."""
    turn = np.linspace(0, 2 * np.pi, count)
    power = _power(half)
    c, s = np.cos(turn), np.sin(turn)
    reach = (abs(c) ** power + abs(s) ** power) ** (-1 / power)
    return np.stack([half[0] * reach * c, -half[1] * reach * s], 1)


def _power(half: tuple[float, float]) -> float:
    """Of the outline |x|^p + |y|^p = 1: a circle, or nearly a rectangle."""
    return 2.0 if half[0] == half[1] else 6.0


def _form(x: Floats, y: Floats, half: tuple[float, float]) -> NDArray[np.float64]:
    """The back: gently round, with soft folds beside the patch."""
    wide, high = half
    z = -0.0009 * x**2 - 0.0003 * y**2
    right = (1.9 * wide, -high), (1.1 * wide, 2 * high)
    left = (-1.8 * wide, 1.9 * high), (-1.1 * wide, 0.0)
    folds = crease(x, y, start_mm=right[0], end_mm=right[1], width_mm=9, height_mm=3.5, bow_mm=8)
    folds += crease(x, y, start_mm=left[0], end_mm=left[1], width_mm=9, height_mm=3.0, bow_mm=-8)
    return z + folds + waves(x, y, length_mm=70.0, height_mm=0.7, seed=14)


def _back(half: tuple[float, float]) -> Part:
    reach_x, reach_y = 3.4 * half[0] + 30, 3.4 * half[1] + 60
    x, y = np.linspace(-reach_x, reach_x, 420), np.linspace(-reach_y, reach_y, 420)
    z = _form(x[None], y[:, None], half)
    yoke = y[:, None] + half[1] + 20.0
    # The yoke overlaps the back: a step, and a ridge where the layers are many.
    z = z + 1.1 * (yoke < 0) + 0.5 * np.exp(-(((yoke + 6.0) / 4.0) ** 4))
    return sheet(x, y, z, DENIM)


def _seams(back: Part) -> list[Part]:
    cols = back.points_mm.shape[1]
    y = back.points_mm[:, 0, 1]
    step = int(np.flatnonzero(np.diff(back.points_mm[:, 0, 2]) < -0.5)[0])
    made = []
    for up in (2.2, 8.6):
        row = step - up / float(y[1] - y[0])
        at, normal = on_sheet(back, np.full(500, row), np.linspace(2, cols - 3, 500))
        made.append(topstitch(at, normal, ORANGE, stitch_mm=3.3, gap_mm=0.9, radius_mm=0.42))
    return made


def _patch(half: tuple[float, float]) -> Part:
    # A square grid drawn in to the outline, each line from the middle by its own share.
    p, q = np.meshgrid(np.linspace(-1, 1, 260), np.linspace(-1, 1, 260))
    power = _power(half)
    norm = (abs(p) ** power + abs(q) ** power) ** (1 / power)
    drawn_in = np.maximum(abs(p), abs(q)) / np.maximum(norm, 1e-9)
    across, down = half[0] * p * drawn_in, half[1] * q * drawn_in
    z = _form(across, down, half) + THICK_MM
    points = np.stack([across, down, z], -1)
    uv = np.stack([across, down], -1)
    return Part(points, uv, Material("job", fuzz=0.15), sewn=True)


def _edge(half: tuple[float, float]) -> Part:
    """The overcast edge: a thick roll of close stitches that lie a little aslant."""
    rim = _rim(half, 2400)
    path = np.concatenate([rim, (_form(rim[:, 0], rim[:, 1], half) + THICK_MM - 0.4)[:, None]], 1)
    (even,) = even_path(path, 0.16)
    far = np.arange(len(even)) * 0.16
    bumps = 1.0 + 0.055 * np.abs(np.sin(far * np.pi / 0.62)) ** 0.6
    thread = Material(role="trim", grain=0.12, gloss=0.05)
    return cord(even, EDGE_MM * bumps, thread, ends=False)
