"""Close-up: the piece lies on a table, the camera looks at it at a slant with the lens wide open."""

from __future__ import annotations

import numpy as np

from render.scene.camera import Camera
from render.scene.form import waves
from render.scene.mesh import Material, sheet
from render.scene.setting import Setting

TITLE = "Close-up at a slant, with a shallow depth of field"


def setting(design_mm: tuple[float, float]) -> Setting:
    """Cloth that lies nearly flat, with the soft ups and downs that cloth keeps."""
    side = 2.2 * max(*design_mm, 60.0)
    x = np.linspace(-side, side, 240)
    y = np.linspace(-2.2 * side, 1.2 * side, 300)
    z = waves(x[None], y[:, None], length_mm=70.0, height_mm=0.9, seed=4)
    cloth = sheet(x, y, z, Material("job", fuzz=0.25), sewn=True)
    field = float(np.clip(0.62 * design_mm[0], 36.0, 120.0))
    camera = Camera(
        focal_mm=100.0,
        f_number=8.0,
        field_mm=field,
        target_mm=(0.0, 0.06 * design_mm[1], 0.0),
        tilt_deg=42.0,
        turn_deg=-14.0,
    )
    return Setting(
        "close-up",
        (cloth,),
        camera,
        fabric="pique",
        colour_srgb=(0.12, 0.16, 0.27),
        trim_srgb=(0.12, 0.16, 0.27),
        room_mm=(400.0, 400.0),
        light="window",
        aims=True,
    )
