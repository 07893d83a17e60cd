"""A structured cap from the front."""

from __future__ import annotations

from typing import TYPE_CHECKING

from render.scene import cap
from render.scene.camera import Camera

if TYPE_CHECKING:
    from render.scene.setting import Setting

TITLE = "Structured cap from the front"


def setting(design_mm: tuple[float, float]) -> Setting:
    """Seen from a little above the brim."""
    camera = Camera(
        focal_mm=85.0,
        f_number=11.0,
        field_mm=245.0,
        target_mm=(0.0, -42.0, 94.0),
        tilt_deg=-7.0,
    )
    return cap.setting_of("cap-front", camera, design_mm)
