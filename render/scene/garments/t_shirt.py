"""Chest of a T-shirt with its ribbed neck."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.scene.camera import Camera
from render.scene.form import eased, on_sheet, topstitch
from render.scene.mesh import Material, Part, sheet, unrolled
from render.scene.setting import Setting
from render.scene.torso import NECK_MM, chest

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats

TITLE = "Chest of a T-shirt"

NECK_WIDE_MM, NECK_DEEP_MM, RIB_MM = 84.0, 62.0, 19.0  # of the neckline (common practice, no source)
JERSEY = Material("job", fuzz=0.2)
STITCH = Material(role="garment", shade=1.15, grain=0.25)


def setting(design_mm: tuple[float, float]) -> Setting:
    """Worn, the camera on the wearer's left chest and the neck at the upper left."""
    parts = [_body(), *_neck()]
    camera = Camera(
        focal_mm=85.0,
        f_number=8.0,
        field_mm=300.0,
        target_mm=(-44.0, -36.0, 0.0),
        tilt_deg=4.0,
        turn_deg=10.0,
    )
    return Setting(
        "t-shirt",
        tuple(parts),
        camera,
        fabric="jersey",
        colour_srgb=(0.80, 0.80, 0.79),
        trim_srgb=(0.8, 0.8, 0.79),
        room_mm=(120.0, 110.0),
        above_mm=126.0,
    )


def _form(x: Floats, y: Floats) -> NDArray[np.float64]:
    return chest(x, y, folds_mm=8.0, seed=12)


def _body() -> Part:
    x, y = np.linspace(-300, 190, 520), np.linspace(-300, 260, 560)
    z = _form(x[None], y[:, None])
    # Inside the neckline the front is cut away: there the back of the neck lies deep.
    inside = _neckline_distance(x[None], y[:, None])
    return sheet(x, y, z - 46.0 * (1.0 - eased(-5.0, 7.0, inside)), JERSEY, sewn=True)


def _neckline_distance(x: Floats, y: Floats) -> NDArray[np.float64]:
    """About how far outside of the neckline a place lies, mm."""
    p, q = (x - NECK_MM[0]) / NECK_WIDE_MM, (y - NECK_MM[1]) / NECK_DEEP_MM
    return np.asarray((np.hypot(p, q) - 1.0) * 0.5 * (NECK_WIDE_MM + NECK_DEEP_MM))


def _neck() -> list[Part]:
    """The rib around the neck: a folded band that stands a little off the shirt."""
    turn = np.linspace(np.deg2rad(-25), np.deg2rad(205), 420)
    out = np.linspace(0.0, 1.0, 46)
    wide = NECK_WIDE_MM - 1.0 + RIB_MM * out[:, None]
    deep = NECK_DEEP_MM - 1.0 + RIB_MM * out[:, None]
    x = NECK_MM[0] - wide * np.cos(turn[None])
    y = NECK_MM[1] + deep * np.sin(turn[None])
    lift = 2.6 * np.sqrt(np.maximum(1.0 - (2 * out - 1.0) ** 6, 0.0)) - 0.9
    along = turn * 0.5 * (NECK_WIDE_MM + NECK_DEEP_MM)
    ribs = 0.20 * np.cos(along * 2 * np.pi / 2.6)
    z = _form(x, y) + lift[:, None] + ribs[None] * np.sin(np.pi * out)[:, None]
    points = np.stack([x, y, z], -1)
    band = Part(points, unrolled(points, 20, 210), JERSEY)
    points, normals = _around(NECK_WIDE_MM + RIB_MM + 3.0, NECK_DEEP_MM + RIB_MM + 3.0)
    return [band, topstitch(points, normals, STITCH, stitch_mm=2.4, radius_mm=0.24)]


def _around(wide: float, deep: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """A line on the shirt round the neck, and its normals."""
    x, y = np.linspace(-300, 190, 200), np.linspace(-300, 100, 200)
    ground = sheet(x, y, _form(x[None], y[:, None]), JERSEY)
    turn = np.linspace(np.deg2rad(-20), np.deg2rad(200), 300)
    col = (NECK_MM[0] - wide * np.cos(turn) + 300) / 490 * 199
    row = (NECK_MM[1] + deep * np.sin(turn) + 300) / 400 * 199
    return on_sheet(ground, row, col)
