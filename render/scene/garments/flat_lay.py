"""Flat lay: the piece lies on a table by a window and is photographed from nearly above."""

from __future__ import annotations

import zlib
from typing import TYPE_CHECKING

import numpy as np

from render.scene.camera import Camera
from render.scene.form import crease, waves
from render.scene.mesh import Material, sheet
from render.scene.setting import Setting

if TYPE_CHECKING:
    from render.model import Fabric
    from render.scene.mesh import Part

# Folds that smoothing leaves around the design, so many at least and at most: between what shares of the
# width that is seen each starts and ends, to the side of its middle and above or below it, how wide it is in
# cloth of 0.01 N mm, how steep, and how far it is bent. These and the camera are set by eye.
FOLDS = (2, 4)
STARTS, ENDS = ((0.50, 0.62), (0.27, 0.38)), ((-0.15, 0.30), (0.17, 0.22))
WIDE, STEEP, BENT = (0.040, 0.065), (0.20, 0.34), 0.035
# Stiff cloth has wider and flatter ones: by these powers of its stiffness, within bounds (by eye).
WIDER, FLATTER, STIFFEST = 0.17, 0.16, 40.0
# How far off the window is: its light falls off with that (estimate).
WINDOW_MM = 1500.0
# Pale thread in the light of a window shines brighter than a white card: who photographs it leaves room for
# that (by eye).
EXPOSURE = 0.85

TITLE = "Flat lay: on a table by a window, seen from above"


def setting(design_mm: tuple[float, float]) -> Setting:
    """Cloth smoothed out by hand, all of the design in the picture."""
    wide, high = design_mm
    field = float(np.clip(max(1.22 * wide, 1.62 * high), 40.0, 420.0))

    def lay(fabric: Fabric, seed: int) -> tuple[Part, ...]:
        # No two cloths come to lie alike.
        rng = np.random.default_rng([seed, zlib.crc32(fabric.title.encode())])
        return (_cloth(field, fabric.bending_n_mm / 0.01, rng),)

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
        (_cloth(field, 1.0, np.random.default_rng(0)),),
        camera,
        fabric="twill",
        colour_srgb=(0.80, 0.72, 0.56),
        trim_srgb=(0.80, 0.72, 0.56),
        room_mm=(340.0, 260.0),
        light="window",
        falls_off=min(0.5 * field / WINDOW_MM, 0.2),
        exposure=EXPOSURE,
        lay=lay,
    )


def _cloth(field: float, stiff: float, rng: np.random.Generator) -> Part:
    """A sheet around a picture `field` mm wide, of cloth so many times as stiff as 0.01 N mm."""
    stiff = min(max(stiff, 1.0 / STIFFEST), STIFFEST)
    x = np.linspace(-1.6 * field, 1.6 * field, 260)
    y = x[:, None]
    seeds = rng.integers(1 << 30, size=2)
    z = waves(x, y, length_mm=90.0, height_mm=0.8, seed=int(seeds[0]))
    z += waves(x, y, length_mm=28.0, height_mm=0.18 * stiff**-FLATTER, seed=int(seeds[1]))
    first = rng.integers(4)
    for k in range(rng.integers(FOLDS[0], FOLDS[1] + 1)):
        # From the picture's corners in turn.
        corner = (first + k) % 4
        side = np.array([1.0 if corner in (0, 3) else -1.0, 1.0 if corner < 2 else -1.0])
        start, end = (side * [rng.uniform(*along) for along in place] * field for place in (STARTS, ENDS))
        width_mm = rng.uniform(*WIDE) * field * stiff**WIDER
        z += crease(
            x,
            y,
            start_mm=(float(start[0]), float(start[1])),
            end_mm=(float(end[0]), float(end[1])),
            width_mm=width_mm,
            height_mm=rng.uniform(*STEEP) * stiff**-FLATTER * width_mm,
            bow_mm=rng.uniform(-BENT, BENT) * field,
        )
    return sheet(x, x, z, Material("job", fuzz=0.25), sewn=True)
