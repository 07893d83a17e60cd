"""A folded terry towel on a table, its woven border below the design."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.scene.camera import Camera
from render.scene.form import waves
from render.scene.mesh import Material, Part, sheet, unrolled
from render.scene.setting import Setting

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats

TITLE = "Folded terry towel"

HALF_MM, BACK_MM, FRONT_MM = 170.0, -230.0, 108.0
LAYER_MM = 24.0  # height of a fold of two layers of terry (estimate)
BORDER_MM = (52.0, 76.0)  # where the flat woven border begins and ends, below the design's middle
TERRY = Material("job", fuzz=0.55)
BAND = Material("satin-weave", role="garment")


def setting(design_mm: tuple[float, float]) -> Setting:
    """Seen at a slant, as on a shelf or bed."""
    parts = [
        *_top(),
        _fold(z_mm=LAYER_MM, push_mm=3.0, seed=5, first_mm=-60.0),
        _table(),
    ]
    camera = Camera(
        focal_mm=85.0,
        f_number=13.0,
        field_mm=176.0,
        target_mm=(0.0, 24.0, 2 * LAYER_MM),
        tilt_deg=38.0,
        turn_deg=-9.0,
    )
    return Setting(
        "towel",
        tuple(parts),
        camera,
        fabric="terry",
        colour_srgb=(0.38, 0.41, 0.45),
        trim_srgb=(0.9, 0.89, 0.86),
        room_mm=(150.0, 110.0),
        light="window",
    )


def _profile(z_mm: float, first_mm: float) -> NDArray[np.float64]:
    """(y, z) from the back along the upper side, round the fold and a way back underneath."""
    radius = LAYER_MM / 2
    flat = np.arange(first_mm, FRONT_MM, 0.8)
    turn = np.linspace(0, np.pi, 44)[1:]
    bow = np.stack([FRONT_MM + 1.25 * radius * np.sin(turn), z_mm - radius + radius * np.cos(turn)], 1)
    under = np.arange(FRONT_MM, FRONT_MM - 40, -1.5)
    return np.concatenate(
        [
            np.stack([flat, np.full(len(flat), z_mm)], 1),
            bow,
            np.stack([under, np.full(len(under), z_mm - LAYER_MM)], 1),
        ]
    )


def _grid(line: Floats, x: Floats, push_mm: float, seed: int) -> NDArray[np.float64]:
    """The profile along x, softly uneven and rounded off at the sides."""
    points = np.empty((len(line), len(x), 3))
    points[..., 0] = x
    points[..., 1] = (
        line[:, :1] + push_mm + waves(x[None], np.zeros((1, 1)), length_mm=150, height_mm=2.2, seed=seed)
    )
    soft = waves(x[None], line[:, :1], length_mm=95.0, height_mm=2.0, seed=seed + 1)
    side = np.abs(x) / HALF_MM
    points[..., 2] = line[:, 1:] + soft - 9.0 * side[None] ** 10
    return points


def _top() -> list[Part]:
    x = np.linspace(-HALF_MM, HALF_MM, 330)
    line = _profile(2 * LAYER_MM, BACK_MM)
    points = _grid(line, x, 0.0, 3)
    row = int(np.argmin(abs(line[:, 0]) + 1e6 * (line[:, 1] < 1.5 * LAYER_MM)))
    uv = unrolled(points, row, 165)
    begin, end = (row + int(mm / 0.8) for mm in BORDER_MM)
    low = points.copy()
    edge = np.clip(np.minimum(np.arange(len(line)) - begin, end - np.arange(len(line))) / 2.0, 0.0, 1.0)
    low[..., 2] -= 1.7 * edge[:, None]
    return [
        Part(low[: begin + 1].copy(), uv[: begin + 1].copy(), TERRY, sewn=True),
        Part(low[begin : end + 1].copy(), uv[begin : end + 1].copy(), BAND),
        Part(low[end:].copy(), uv[end:].copy(), TERRY),
    ]


def _fold(*, z_mm: float, push_mm: float, seed: int, first_mm: float) -> Part:
    x = np.linspace(-HALF_MM, HALF_MM, 240)
    points = _grid(_profile(z_mm, first_mm), x, push_mm, seed)
    return Part(points, unrolled(points, 0, 120), TERRY)


def _table() -> Part:
    x, y = np.linspace(-700, 700, 160), np.linspace(-700, 420, 160)
    z = np.zeros((len(y), len(x)))
    return sheet(x, y, z, Material(role="own", colour_srgb=(0.80, 0.74, 0.66)), casts=False, ground=True)
