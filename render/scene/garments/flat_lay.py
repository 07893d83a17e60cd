"""Flat lay: the piece lies on a table by a window and is photographed from nearly above."""

from __future__ import annotations

import numpy as np

from render.scene.camera import Camera
from render.scene.form import crease, waves
from render.scene.mesh import Material, sheet
from render.scene.setting import Setting

# Folds that smoothing leaves around the design: where each starts and ends from its middle, how wide, high
# and bent it is, as shares of the width that is seen. These and the camera are set by eye.
CREASES = (
    ((-0.56, 0.34), (0.16, 0.19), 0.050, 0.025, 0.02),
    ((0.60, -0.33), (-0.05, -0.20), 0.045, 0.022, -0.03),
    ((0.56, 0.30), (0.28, 0.20), 0.035, 0.011, 0.01),
)

TITLE = "Flat lay: on a table by a window, seen from above"


def setting(design_mm: tuple[float, float]) -> Setting:
    """Cloth smoothed out by hand, all of the design in the picture."""
    wide, high = design_mm
    field = float(np.clip(max(1.22 * wide, 1.62 * high), 40.0, 420.0))
    side = 1.6 * field
    x = np.linspace(-side, side, 260)
    y = np.linspace(-side, side, 260)
    z = waves(x[None], y[:, None], length_mm=90.0, height_mm=0.8, seed=3)
    z += waves(x[None], y[:, None], length_mm=28.0, height_mm=0.18, seed=8)
    for start, end, wide_share, high_share, bow in CREASES:
        z += crease(
            x[None],
            y[:, None],
            start_mm=(start[0] * field, start[1] * field),
            end_mm=(end[0] * field, end[1] * field),
            width_mm=wide_share * field,
            height_mm=high_share * field,
            bow_mm=bow * field,
        )
    camera = Camera(
        focal_mm=85.0,
        f_number=9.0,
        field_mm=field,
        target_mm=(0.0, 0.0, 0.0),
        tilt_deg=24.0,
        turn_deg=5.0,
    )
    return Setting(
        "flat-lay",
        (sheet(x, y, z, Material("job", fuzz=0.25), sewn=True),),
        camera,
        fabric="twill",
        colour_srgb=(0.80, 0.72, 0.56),
        trim_srgb=(0.80, 0.72, 0.56),
        room_mm=(340.0, 260.0),
        light="window",
    )
