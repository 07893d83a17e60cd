"""Fabrics: folders with a `fabric.toml`, shipped under `textures/` or the user's own.

A shop's own may also be one file that says which fabric it is based on and what differs:

```toml
title = "Our club jersey"
based_on = "jersey"       # a name, or a folder beside this file

[stiffness]               # any of a fabric's own, and the tension left in a stitch against the usual
hole_give_mm = 0.31
tension_ratio = 1.1
source = "fitted to a sewn swatch"
```
"""

from __future__ import annotations

import difflib
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from render.errors import InputError
from render.materials.own_file import (
    check_keys,
    colour,
    is_folder,
    is_toml,
    number,
    read_toml,
    shown,
    switch,
    table,
    text,
)
from render.materials.stabilisers import stabiliser_names
from render.materials.structure import LARGEST, structure_of
from render.model import Fabric

if TYPE_CHECKING:
    from collections.abc import Mapping

FILE = "fabric.toml"
# Of its height that pile leans over a stitched edge: about what pictures hide (estimate).
PILE_OVER_EDGE = 0.08
DEEPEST_BED_MM = 1.0
BENDING_N_PER_MM = 0.03  # bending stiffness a mm² of thickness, where a file does not say (estimate)
_CLOTH = ("colour", "thickness_mm", "stabiliser", "holes_stay", "bed_mm", "stands", "source")
_STIFFNESS = (
    "e_warp_n_per_m",
    "e_weft_n_per_m",
    "poisson",
    "shear_n_per_m",
    "hole_give_mm",
    "pretension_n_per_m",
)
_CHANGED = (*_STIFFNESS, "bending_n_mm", "tension_ratio")  # what a fabric based on another may say


def textures_folder() -> Path:
    """The folder of the fabrics that come with the program, installed or in a checkout."""
    package = Path(__file__).absolute().parents[1]
    for folder in (package / "textures", package.parent / "textures"):
        if folder.is_dir():
            return folder
    raise InputError(
        f"{package / 'textures'}: the fabrics that belong to the program are missing; reinstall it."
    )


def fabric_names() -> tuple[str, ...]:
    """Names of the fabrics that come with the program, sorted."""
    return tuple(sorted(path.parent.name for path in textures_folder().glob(f"*/{FILE}")))


def load_fabric(name_or_folder: str) -> Fabric:
    """A fabric by its name, from the user's own folder or its file, or from a .toml file based on another.

    Raises InputError that lists the names, or says what is wrong in the file.
    """
    names = fabric_names()
    if is_toml(name_or_folder):
        if Path(name_or_folder).name != FILE or "based_on" in read_toml(name_or_folder, "fabric"):
            return _based_on_another(name_or_folder)
        name_or_folder = str(Path(name_or_folder).parent)
    folder = textures_folder() / name_or_folder if name_or_folder in names else Path(name_or_folder)
    if not name_or_folder or not is_folder(folder):
        near = difflib.get_close_matches(name_or_folder, names, 1)
        hint = f" (did you mean {near[0]}?)" if near else ""
        raise InputError(
            f"there is no fabric {name_or_folder!r}{hint}: choose {', '.join(names)}, "
            f"a folder of your own with a {FILE}, or a .toml file that is based on one of them"
        )
    place = str(folder / FILE)
    facts = read_toml(place, "fabric")
    check_keys(facts, ("title", "called", "cloth", "stiffness", "structure"), place)
    cloth, stiffness = table(facts, "cloth", place), table(facts, "stiffness", place)
    in_cloth, in_stiffness = f"{place}, [cloth]", f"{place}, [stiffness]"
    check_keys(cloth, _CLOTH, in_cloth)
    check_keys(stiffness, (*_STIFFNESS, "bending_n_mm", "source"), in_stiffness)
    stabiliser, seen = text(cloth, "stabiliser", in_cloth), colour(cloth, "colour", in_cloth)
    if stabiliser not in stabiliser_names():
        raise InputError(
            f"{in_cloth}: stabiliser must be one of {', '.join(stabiliser_names())}, not {shown(stabiliser)}"
        )
    if seen is None:
        raise InputError(f"{in_cloth} has no colour: give it one, such as #c02030 or navy")
    thick_mm = number(cloth, "thickness_mm", in_cloth, 0, 50)
    bending = {"bending_n_mm": BENDING_N_PER_MM * thick_mm**2, **stiffness}
    return Fabric(
        name=folder.resolve().name,
        title=text(facts, "title", place) or folder.name,
        colour_srgb=seen,
        thickness_mm=thick_mm,
        stabiliser=stabiliser,
        structure=structure_of(table(facts, "structure", place), _finishes(), folder, place),
        folder=str(folder),
        holes_stay=switch(cloth, "holes_stay", in_cloth) or False,
        bending_n_mm=number(bending, "bending_n_mm", in_stiffness, 0, LARGEST),
        stands=number({"stands": 1.0, **cloth}, "stands", in_cloth, 0, 1),
        bed_mm=number({"bed_mm": 0.0, **cloth}, "bed_mm", in_cloth, 0, DEEPEST_BED_MM),
        called=_called(facts, place),
        **{key: number(stiffness, key, in_stiffness, 0, LARGEST) for key in _STIFFNESS},
    )


def _called(facts: Mapping[str, Any], place: str) -> dict[str, str]:
    """Its titles by language."""
    titles = table(facts, "called", place) if "called" in facts else {}
    return {code: text(titles, code, f"{place}, [called]") or "" for code in titles}


def _based_on_another(place: str) -> Fabric:
    """A fabric that differs from another in what its file says."""
    facts = read_toml(place, "fabric")
    check_keys(facts, ("title", "called", "based_on", "stiffness"), place)
    base_name = facts.get("based_on")
    if not isinstance(base_name, str) or not base_name or is_toml(base_name):
        raise InputError(
            f"{place}: based_on must name a fabric, or a folder beside this file, not {shown(base_name)}"
        )
    beside = Path(place).parent / base_name
    base = load_fabric(str(beside) if base_name not in fabric_names() and is_folder(beside) else base_name)
    stiffness = table(facts, "stiffness", place)
    check_keys(stiffness, (*_CHANGED, "source"), f"{place}, [stiffness]")
    limits = {"tension_ratio": (0.1, 10.0)}
    changed: dict[str, Any] = {
        key: number(stiffness, key, f"{place}, [stiffness]", *limits.get(key, (0, LARGEST)))
        for key in _CHANGED
        if key in stiffness
    }
    title, titles = text(facts, "title", place), _called(facts, place)
    called = titles if title or titles else base.called
    return replace(base, name=Path(place).stem, title=title or base.title, called=called, **changed)


def edge_under_pile_mm(fabric: Fabric, *, topped: bool) -> float:
    """How much of a stitched edge pile hides where it leans over it, mm each edge; none under a topping.

    This is apart from what the cloth pulls in. A share of the pile's height, estimate.
    """
    structure = fabric.structure
    if structure.get("kind") == "terry":
        height = sum(structure["loop"]["height_mm"]) / 2
    elif structure.get("kind") == "pile":
        height = structure["pile"]["height_mm"]
    else:
        return 0.0
    return 0.0 if topped else PILE_OVER_EDGE * height


@cache
def _finishes() -> dict[str, Any]:
    return read_toml(str(textures_folder() / "finishes.toml"), "finishes")
