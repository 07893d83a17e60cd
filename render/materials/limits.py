"""From where on the inspector speaks up, by cloth and by size of thread."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING, Any, Literal

from render.errors import InputError
from render.materials.own_file import check_keys, number, read_toml, shown
from render.materials.presets import preset
from render.model import Limits

if TYPE_CHECKING:
    from collections.abc import Mapping

    from render.model import Fabric, Thread

Group = Literal["woven", "knit", "stretch", "pile", "perforates"]
GROUPS: tuple[Group, ...] = ("woven", "knit", "stretch", "pile", "perforates")
SIZES = ("fine", "usual", "coarse")
_KEYS = tuple(field.name for field in fields(Limits))


def group_of(fabric: Fabric) -> Group:
    """The group of cloths that a fabric belongs to: by its structure, then by its stiffness."""
    softest, told_by = min(fabric.e_warp_n_per_m, fabric.e_weft_n_per_m), preset("limits.toml")["sorted_by"]
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


def limits_for(fabric: Fabric, thread: Thread, own: str | None = None) -> Limits:
    """The limits for one thread on a cloth; `own` is the path of a shop's own TOML file.

    What is set for a group of cloths or a size of thread comes before what is set for all, and
    the shop's own before what ships. Raises InputError.
    """
    tables = [preset("limits.toml")]
    told_by = tables[0]["sorted_by"]
    size = "fine" if thread.tex < told_by["fine_tex"] else "usual"
    size = "coarse" if thread.tex > told_by["coarse_tex"] else size
    if own is not None:
        tables.append(_checked(read_toml(own, "limits"), own))
    values: dict[str, Any] = {}
    for table in tables:
        values |= table.get("all", {})
        values |= table.get("thread", {}).get(size, {})
        values |= table.get("group", {}).get(group_of(fabric), {})
    place = f"limits {own}" if own is not None else "limits"
    return Limits(**{key: number(values, key, place, 0, 10_000) for key in _KEYS})


def _checked(table: dict[str, Any], path: str) -> dict[str, Any]:
    check_keys(table, ("all", "group", "thread"), path)
    for name, known in (("group", GROUPS), ("thread", SIZES)):
        check_keys(_table(table, name, path), known, f"{path}, {name}")
        for key in table.get(name, {}):
            check_keys(_table(table[name], key, path), (*_KEYS, "source"), f"{path}, {name}.{key}")
    check_keys(_table(table, "all", path), (*_KEYS, "source"), f"{path}, all")
    return table


def _table(values: Mapping[str, Any], key: str, path: str) -> Mapping[str, Any]:
    found = values.get(key, {})
    if not isinstance(found, dict):
        raise InputError(f"{path}: {key} must be a table, not {shown(found)}")
    return found
