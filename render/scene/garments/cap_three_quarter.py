"""A structured cap seen half from the side."""

from __future__ import annotations

from typing import TYPE_CHECKING

from render.scene import cap
from render.scene.camera import Camera

if TYPE_CHECKING:
    from render.scene.setting import Setting

TITLE = "Structured cap, half from the side"


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
    return cap.setting_of("cap-three-quarter", camera, design_mm)
