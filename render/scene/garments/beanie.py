"""A ribbed beanie with a turned-up cuff."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.scene.camera import Camera
from render.scene.form import cove, eased, waves
from render.scene.mesh import Material, Part, unrolled
from render.scene.setting import Setting

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats

TITLE = "Ribbed beanie, on its cuff"

SIDE_MM, DEPTH_MM = 104.0, 78.0  # half widths as worn (common practice, no source)
CUFF_MM, HEIGHT_MM = 74.0, 205.0
RIB_MM = 6.4  # two by two rib (estimate)
KNIT = Material("job", fuzz=0.6)


def setting(design_mm: tuple[float, float]) -> Setting:
    """From the front, the design in the middle of the cuff."""
    parts = (
        _crown(),
        _cuff(),
        cove(3.4, -360.0, 420.0, 900.0, Material(role="own", colour_srgb=(0.86, 0.86, 0.85))),
    )
    camera = Camera(
        focal_mm=85.0,
        f_number=9.0,
        field_mm=322.0,
        target_mm=(0.0, -99.0, 66.0),
        tilt_deg=-6.0,
        turn_deg=12.0,
    )
    return Setting(
        "beanie",
        parts,
        camera,
        fabric="ribbed-beanie",
        colour_srgb=(0.36, 0.38, 0.41),
        trim_srgb=(0.36, 0.38, 0.41),
        room_mm=(120.0, 58.0),
        cut_out=True,
    )


def _ring(turn: Floats, wide: Floats, out_mm: Floats) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """x and z around the head at shares of its width, moved outwards."""
    return (SIDE_MM * wide + out_mm) * np.sin(turn), (DEPTH_MM * wide + out_mm) * np.cos(turn)


def _ribs(turn: Floats, depth_mm: Floats | float) -> NDArray[np.float64]:
    """Ribs run up and down: round ridges with a narrow valley."""
    along = turn * (SIDE_MM + DEPTH_MM) / 2 / RIB_MM
    return np.asarray(depth_mm * (np.abs(np.cos(np.pi * along)) ** 0.7 - 0.6))


def _crown() -> Part:
    up = np.linspace(1.0, 0.0, 250)
    turn = np.deg2rad(np.linspace(-112, 112, 760))
    angle = np.clip((up - 0.45) / 0.55, 0, 1) * np.pi / 2
    wide = np.maximum(np.cos(angle) ** 0.85, 0.02)[:, None] * np.ones((1, len(turn)))
    high = np.where(up < 0.45, up / 0.45 * 105.0, 105.0 + np.sin(angle) * (HEIGHT_MM - 105.0))
    soft = waves(turn[None] * 95.0, high[:, None], length_mm=75.0, height_mm=2.2, seed=8)
    gather = 1.0 + 0.5 * eased(0.7, 1.0, up)[:, None]
    x, z = _ring(turn[None], wide, _ribs(turn[None], 0.9 * gather) * wide**0.3 + soft)
    sag = 5.0 * np.sin(turn[None] * 2.0 + 0.6) * eased(0.5, 1.0, up)[:, None] * np.minimum(wide / 0.4, 1.0)
    points = np.stack(np.broadcast_arrays(x, -high[:, None] - 8.0 + sag, z), -1)
    return Part(points, unrolled(points, 125, 380), KNIT)


def _cuff() -> Part:
    """The band that is turned up: its lower edge is a fold, its upper one the knitted end."""
    share = np.linspace(0.0, 1.0, 190)
    turn = np.deg2rad(np.linspace(-112, 112, 760))
    high = CUFF_MM * (1.0 - share) - 2.0
    # Rolled in at the knitted end, round at the fold.
    out = 5.2 - 7.0 * eased(0.965, 1.0, 1.0 - share) - 8.0 * eased(0.90, 1.0, share) ** 2
    out = out + 0.9 * np.exp(-(((1.0 - share - 0.95) / 0.03) ** 2))
    soft = waves(turn[None] * 95.0, high[:, None], length_mm=95.0, height_mm=1.3, seed=4)
    quiet = 1.0 - 0.7 * np.exp(-((turn[None] / 0.5) ** 4))
    x, z = _ring(turn[None], np.ones((1, 1)), out[:, None] + _ribs(turn[None], 0.95) + quiet * soft)
    edge = 1.2 * np.sin(turn[None] * 3.0) * (1.0 - share[:, None])
    points = np.stack(np.broadcast_arrays(x, -high[:, None] + edge, z), -1)
    row = int(np.argmin(abs(high - CUFF_MM / 2)))
    return Part(points, unrolled(points, row, 380), KNIT, sewn=True)
