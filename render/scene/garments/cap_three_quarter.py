"""A structured cap seen half from the side."""

from __future__ import annotations

from render.scene.camera import Camera
from render.scene.garments import cap
from render.scene.setting import Setting


def setting(design_mm: tuple[float, float]) -> Setting:
    """From the wearer's left and a little above."""
    camera = Camera(
        focal_mm=85.0,
        f_number=8.0,
        field_mm=262.0,
        target_mm=(14.0, -34.0, 78.0),
        tilt_deg=-14.0,
        turn_deg=34.0,
    )
    return Setting(
        "cap-three-quarter",
        cap.parts(design_mm[1]),
        camera,
        fabric="cap-front",
        colour_srgb=(0.13, 0.17, 0.28),
        trim_srgb=(0.9, 0.9, 0.88),
        room_mm=(130.0, 58.0),
        place_mm=cap.place_mm(design_mm[1]),
        cut_out=True,
    )
