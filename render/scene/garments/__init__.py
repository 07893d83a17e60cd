"""Garments, one module each: what stands before the camera, with real form and true measures."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

from render.errors import UsageError

if TYPE_CHECKING:
    from render.scene.setting import Setting

# Name, and what a shop calls it; the module of the same name has a function `setting`.
TITLES = {
    "close-up": "Close-up at a slant, with a shallow depth of field",
    "hoop": "Still in the hoop, on the table",
    "polo": "Left chest of a polo shirt",
    "cap-front": "Structured cap from the front",
    "cap-three-quarter": "Structured cap, half from the side",
    "beanie": "Ribbed beanie, on its cuff",
    "towel": "Folded terry towel",
    "t-shirt": "Chest of a T-shirt",
    "hoodie": "Chest of a hooded sweatshirt",
    "tote": "Canvas tote bag, laid flat",
    "patch": "Patch on the back of a denim jacket",
}


def garment_names() -> tuple[str, ...]:
    """Names of the settings that ship."""
    return tuple(TITLES)


def garment(name: str, design_mm: tuple[float, float]) -> Setting:
    """The setting of this name, for a design so wide and high. Raises UsageError."""
    if name not in TITLES:
        raise UsageError(f"there is no scene {name!r}: choose {', '.join(TITLES)}")
    module = importlib.import_module(f"render.scene.garments.{name.replace('-', '_')}")
    setting: Setting = module.setting(design_mm)
    return setting
