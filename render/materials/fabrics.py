"""Fabrics: folders with a `fabric.toml`, shipped under `textures/` or the user's own."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

from render.errors import InputError
from render.model import Fabric

FILE = "fabric.toml"
STABILISERS = ("tear-away", "cut-away", "none")
_STIFFNESS = (
    "e_warp_n_per_m",
    "e_weft_n_per_m",
    "poisson",
    "shear_n_per_m",
    "hole_give_mm",
    "bending_n_mm",
    "pretension_n_per_m",
)
_YARN = (
    "radius_mm",
    "flat",
    "twist_pitch_mm",
    "fibres",
    "spread",
    "migration",
    "contrast",
    "slub",
    "between",
)
_WOVEN = ("spacing_mm", "crimp_mm", "wander")
# What each kind of structure must hold: table -> keys ("" for the structure's own).
_NEEDED: dict[str, dict[str, tuple[str, ...]]] = {
    "weave": {"": ("raised",), "warp": _YARN + _WOVEN, "weft": _YARN + _WOVEN},
    "knit": {"": ("wale_mm", "course_mm", "lean", "reach", "depth_mm", "jitter"), "yarn": _YARN},
    "terry": {
        "": ("raised",),
        "warp": _YARN + _WOVEN,
        "weft": _YARN + _WOVEN,
        "loop": (
            *_YARN,
            "spacing_x_mm",
            "spacing_y_mm",
            "jitter",
            "height_mm",
            "length_mm",
            "leaning",
            "ground_depth_mm",
        ),
    },
    "pile": {
        "pile": (
            "locks_per_mm2",
            "fibres",
            "length_mm",
            "curl_rad_per_mm",
            "alpha",
            "dark",
            "height_mm",
            "clump_mm",
            "tuft_mm",
            "random",
        )
    },
    "photo": {"photo": ("file", "px_per_mm")},
}


def textures_folder() -> Path:
    """The folder of the fabrics that come with the program, installed or in a checkout."""
    package = Path(__file__).resolve().parents[1]
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
    """A fabric by its name, or from the user's own folder.

    Raises InputError that lists the names, or says what is wrong in the file.
    """
    folder = textures_folder() / name_or_folder
    if name_or_folder not in fabric_names():
        folder = Path(name_or_folder)
        if not folder.is_dir():
            raise InputError(
                f"There is no fabric {name_or_folder!r}; name one of {', '.join(fabric_names())}, "
                f"or a folder with a {FILE}."
            )
    path = folder / FILE
    facts = _read(path)
    base = _read(textures_folder() / "finishes.toml")
    cloth, stiffness = _table(facts, "cloth", path), _table(facts, "stiffness", path)
    for key in _STIFFNESS:
        _number(stiffness, key, path, "stiffness")
    stabiliser = str(cloth.get("stabiliser", ""))
    if stabiliser not in STABILISERS:
        raise InputError(
            f"{path}: [cloth] stabiliser is {stabiliser!r}; use one of {', '.join(STABILISERS)}."
        )
    return Fabric(
        name=folder.resolve().name,
        title=str(facts.get("title", folder.name)),
        colour_srgb=_colour(cloth, path),
        thickness_mm=_number(cloth, "thickness_mm", path, "cloth"),
        stabiliser=stabiliser,
        structure=_structure(facts, base, path),
        folder=str(folder),
        **{key: float(stiffness[key]) for key in _STIFFNESS},
    )


def _structure(facts: dict[str, Any], base: dict[str, Any], path: Path) -> dict[str, Any]:
    """The structure with its finish and surface looked up and every needed number checked."""
    structure = dict(_table(facts, "structure", path))
    kind = structure.get("kind")
    if kind not in _NEEDED:
        raise InputError(f"{path}: [structure] kind is {kind!r}; use one of {', '.join(_NEEDED)}.")
    for table, keys in _NEEDED[kind].items():
        holder = structure if table == "" else _table(structure, table, path)
        for key in keys:
            if key in ("raised", "file", "height_mm", "length_mm"):
                if key not in holder:
                    raise InputError(f"{path}: [structure {table}] lacks {key}.")
            else:
                _number(holder, key, path, f"structure {table}".strip(), negative=key == "twist_pitch_mm")
    if kind in ("weave", "terry"):
        _check_weave(structure["raised"], path)
    finish = structure.get("finish", "cotton")
    if finish not in base["finish"]:
        raise InputError(f"{path}: [structure] finish is {finish!r}; use one of {', '.join(base['finish'])}.")
    structure["finish"] = base["finish"][finish]
    structure["surface"] = _surface(structure, base["surface"], path)
    return structure


def _surface(structure: dict[str, Any], base: dict[str, Any], path: Path) -> dict[str, Any]:
    """Slow variation: the kind's own, overridden by the file's; yarn spacings from the structure."""
    kind = structure["kind"]
    surface = {**base["common"], **base[kind], **structure.get("surface", {})}
    spacing_x, spacing_y = 1.0, 1.0
    if kind == "knit":
        spacing_x, spacing_y = structure["wale_mm"], structure["course_mm"]
    elif kind in ("weave", "terry"):
        spacing_x, spacing_y = structure["warp"]["spacing_mm"], structure["weft"]["spacing_mm"]
    surface.update(upright_mm=spacing_x, level_mm=spacing_y)
    for key, value in surface.items():
        if key != "source":
            _number(surface, key, path, "structure.surface")
            surface[key] = float(value)
    return surface


def _check_weave(raised: object, path: Path) -> None:
    if (
        not isinstance(raised, list)
        or not raised
        or not all(isinstance(row, str) and set(row) <= {"0", "1"} for row in raised)
        or len({len(row) for row in raised}) != 1
        or not raised[0]
    ):
        raise InputError(
            f"{path}: [structure] raised must be rows of 0 and 1 of one length, 1 where warp is on top."
        )


def _read(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text("utf-8"))
    except FileNotFoundError as error:
        raise InputError(f"{path}: there is no such file; a fabric is a folder with a {FILE}.") from error
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise InputError(f"{path}: cannot be read as TOML ({error}).") from error


def _table(facts: dict[str, Any], name: str, path: Path) -> dict[str, Any]:
    table = facts.get(name)
    if not isinstance(table, dict):
        raise InputError(f"{path}: the table [{name}] is missing.")
    return table


def _number(table: dict[str, Any], key: str, path: Path, where: str, *, negative: bool = False) -> float:
    value = table.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise InputError(f"{path}: [{where}] {key} must be a number, found {value!r}.")
    if value < 0 and not negative:
        raise InputError(f"{path}: [{where}] {key} must not be negative, found {value!r}.")
    return float(value)


def _colour(cloth: dict[str, Any], path: Path) -> tuple[float, float, float]:
    text = str(cloth.get("colour", ""))
    digits = text.removeprefix("#")
    if not text.startswith("#") or len(digits) != 6 or set(digits.lower()) - set("0123456789abcdef"):
        raise InputError(f"{path}: [cloth] colour is {text!r}; write it as #rrggbb.")
    return int(digits[:2], 16) / 255, int(digits[2:4], 16) / 255, int(digits[4:], 16) / 255
