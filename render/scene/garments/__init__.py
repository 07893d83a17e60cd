"""Garments, one module each: what stands before the camera, with real form and true measures.

A module has a `TITLE`, what a shop calls it, and a function `setting`, for a design so wide and high.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from render.errors import UsageError
from render.modules import module_in, names_in

if TYPE_CHECKING:
    from types import ModuleType

    from render.scene.setting import Setting


def garment_names() -> tuple[str, ...]:
    """Names of the settings that ship."""
    return tuple(sorted(name.replace("_", "-") for name in names_in(__name__)))


def garment_titles() -> dict[str, str]:
    """Names of the settings, and what they are."""
    return {name: _module(name).TITLE for name in garment_names()}


def garment(name: str, design_mm: tuple[float, float]) -> Setting:
    """The setting of this name, for a design so wide and high. Raises UsageError."""
    names = garment_names()
    if name not in names:
        raise UsageError(f"there is no scene {name!r}: choose {', '.join(names)}")
    setting: Setting = _module(name).setting(design_mm)
    return setting


def _module(name: str) -> ModuleType:
    return module_in(__name__, name.replace("-", "_"))
