"""Cloths in groups and threads by size, as limits of an inspection tell them apart."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from render.materials.presets import preset

if TYPE_CHECKING:
    from collections.abc import Mapping

    from render.model import Fabric, Thread

Group = Literal["woven", "knit", "stretch", "pile", "perforates"]
Size = Literal["fine", "usual", "coarse"]
GROUPS: tuple[Group, ...] = ("woven", "knit", "stretch", "pile", "perforates")
SIZES: tuple[Size, ...] = ("fine", "usual", "coarse")


def group_of(fabric: Fabric) -> Group:
    """The group of cloths that a fabric belongs to: by its structure, then by its stiffness."""
    softest, told_by = min(fabric.e_warp_n_per_m, fabric.e_weft_n_per_m), preset("groups.toml")
    if fabric.holes_stay:
        return "perforates"
    if _has_pile(fabric.structure, told_by["low_nap_mm"]):
        return "pile"
    if softest < told_by["stretch_n_per_m"]:
        return "stretch"
    return "knit" if softest < told_by["knit_n_per_m"] else "woven"


def _has_pile(structure: Mapping[str, Any], low_nap_mm: float) -> bool:
    """Whether stitches sink in: felt has a nap, too, but one so low that it carries them."""
    if structure.get("kind") == "pile":
        return bool(structure["pile"]["height_mm"] >= low_nap_mm)
    return structure.get("kind") == "terry"


def size_of(thread: Thread) -> Size:
    """How thick a thread is."""
    told_by = preset("groups.toml")
    if thread.tex < told_by["fine_tex"]:
        return "fine"
    return "coarse" if thread.tex > told_by["coarse_tex"] else "usual"
