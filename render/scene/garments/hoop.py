"""Still in the hoop, on the table, as it comes off the machine."""

from __future__ import annotations

import numpy as np

from render.scene.camera import Camera
from render.scene.form import disc, waves
from render.scene.mesh import Material, Part, sheet
from render.scene.setting import Setting

TITLE = "Still in the hoop, on the table"

RING_MM, HIGH_MM = 10.0, 13.0  # width and height of the outer ring
WOOD = Material(role="own", colour_srgb=(0.90, 0.77, 0.58), gloss=0.3, grain=0.10)
METAL = Material(role="own", colour_srgb=(0.62, 0.60, 0.55), gloss=0.9)


def setting(design_mm: tuple[float, float]) -> Setting:
    """A round hoop that fits the design, seen at a slant."""
    inside = 0.5 * float(np.hypot(*design_mm)) * 0.92 + 14.0
    reach = inside + RING_MM
    side = 4.2 * reach
    x = np.linspace(-side, side, 420)
    y = np.linspace(-side, side, 420)
    far = np.hypot(x[None], y[:, None])
    turn = np.arctan2(y[:, None], x[None])
    taut = 0.5 * (1.0 - np.tanh((far - reach + 1.0) / 2.0))
    # Outside, the cloth falls to the table in ripples that the hoop's pull makes.
    away = np.maximum(far - reach, 0.0)
    ripple = (
        4.5 * np.sin(9 * turn + 1.3 * np.sin(2 * turn)) * np.exp(-away / 55.0) * (1 - np.exp(-away / 12.0))
    )
    loose = (
        7.0 * np.exp(-away / 16.0)
        + ripple
        + waves(x[None], y[:, None], length_mm=80.0, height_mm=1.6, seed=6)
    )
    cloth = sheet(x, y, taut * 6.0 + (1.0 - taut) * (loose + 1.0), Material("job", fuzz=0.2), sewn=True)
    parts = [cloth, *_rings(inside, reach)]
    camera = Camera(
        focal_mm=70.0,
        f_number=8.0,
        field_mm=2.35 * reach,
        target_mm=(0.0, 0.0, 6.0),
        tilt_deg=36.0,
        turn_deg=16.0,
    )
    return Setting(
        "hoop",
        tuple(parts),
        camera,
        fabric="twill",
        colour_srgb=(0.80, 0.76, 0.68),
        trim_srgb=(0.8, 0.76, 0.68),
        room_mm=(240.0, 240.0),
        light="window",
    )


def _rings(inside: float, reach: float) -> list[Part]:
    middle, up = np.zeros(3), np.array([0.0, 0.0, 1.0])
    outer = np.array(
        [
            [reach + 0.2, 0.0],
            [reach + 0.4, HIGH_MM - 1.5],
            [reach - 0.6, HIGH_MM - 0.3],
            [reach - 1.6, HIGH_MM],
            [inside + 4.6, HIGH_MM],
            [inside + 3.6, HIGH_MM - 0.3],
            [inside + 3.2, HIGH_MM - 1.4],
            [inside + 3.2, 5.0],
        ]
    )
    made = [disc(middle, up, outer, WOOD, steps=220)]
    # The cloth comes up over the inner ring, inside of the outer one.
    lip = np.array(
        [
            [inside + 3.3, HIGH_MM - 2.6],
            [inside + 2.4, HIGH_MM - 1.4],
            [inside, HIGH_MM - 1.6],
            [inside - 0.8, 5.8],
        ]
    )
    made.append(disc(middle, up, lip, Material(fuzz=0.2, grain=0.08), steps=220))
    made += _screw(reach)
    return made


def _screw(reach: float) -> list[Part]:
    """Two brass ears and the screw that draws the outer ring tight, at the upper right."""
    angle = np.deg2rad(-58.0)
    out = np.array([np.cos(angle), np.sin(angle), 0.0])
    along = np.array([-np.sin(angle), np.cos(angle), 0.0])
    at = out * (reach + 4.5) + np.array([0.0, 0.0, 0.55 * HIGH_MM])
    made = []
    for side in (-6.0, 6.0):
        ear = np.array([[6.0, -1.2], [6.0, 0.9], [5.4, 1.2], [0.02, 1.2]])
        made.append(disc(at + along * side, along * np.sign(side), ear, METAL, steps=48))
    shaft = np.array([[1.9, -16.0], [1.9, 16.0]])
    made.append(disc(at, along, shaft, METAL, steps=24))
    knob = np.array([[5.0, -4.0], [5.6, -3.2], [5.6, 3.2], [5.0, 4.0], [0.02, 4.2]])
    made.append(disc(at + along * 17.0, along, knob, METAL, steps=40))
    return made
