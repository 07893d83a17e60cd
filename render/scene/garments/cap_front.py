"""A structured cap from the front."""

from __future__ import annotations

from render.scene.camera import Camera
from render.scene.garments import cap
from render.scene.setting import Setting


def setting(design_mm: tuple[float, float]) -> Setting:
    """Seen from a little above the brim."""
    camera = Camera(
        focal_mm=85.0,
        f_number=11.0,
        field_mm=245.0,
        target_mm=(0.0, -42.0, 94.0),
        tilt_deg=-7.0,
    )
    return Setting(
        "cap-front",
        cap.parts(design_mm[1]),
        camera,
        fabric="cap-front",
        colour_srgb=(0.13, 0.17, 0.28),
        trim_srgb=(0.9, 0.9, 0.88),
        room_mm=(130.0, 58.0),
        place_mm=cap.place_mm(design_mm[1]),
        cut_out=True,
    )
