"""The structure of a cloth as its file gives it: what each kind needs, and within which bounds."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from render.errors import InputError
from render.materials.own_file import is_file, number, shown, table

if TYPE_CHECKING:
    from pathlib import Path

LARGEST = 1e6  # no number of a fabric file comes near it
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
            "tufts",
            "random",
        )
    },
    "photo": {"photo": ("file", "px_per_mm")},
}
# What further tables must hold, where they are there.
_FURTHER = {
    "tuck": (
        "rise",
        "rise_again",
        "held",
        "open",
        "pull",
        "bulge_mm",
        "deep_mm",
        "uneven",
        "cell_x",
        "cell_y",
        "pit_mm",
        "pits_uneven",
    ),
    "stray": ("per_mm2", "length_mm", "fibre_mm"),
}
# What tables may say besides.
_OPTIONAL = {"pile": ("uneven", "odd", "crushed", "lumps_mm"), "tuck": ("rim_mm",)}
_RANGES = {"loop": ("height_mm", "length_mm")}
_MAY_BE_ZERO = (
    "spread",
    "migration",
    "contrast",
    "slub",
    "between",
    "crimp_mm",
    "wander",
    "lean",
    "depth_mm",
    "jitter",
    "leaning",
    "ground_depth_mm",
    "curl_rad_per_mm",
    "dark",
    "random",
    "clump_mm",
    "tufts",
    "uneven",
    "odd",
    "lumps_mm",
    *_FURTHER["tuck"],
    "rim_mm",
)


def structure_of(given: dict[str, Any], finishes: dict[str, Any], folder: Path, place: str) -> dict[str, Any]:
    """The structure with its finish and surface looked up and every needed number checked.

    `finishes` is what `textures/finishes.toml` holds, `folder` where a photo would lie. Raises InputError.
    """
    structure, kind = dict(given), given.get("kind")
    if not isinstance(kind, str) or kind not in _NEEDED:
        raise InputError(f"{place}: [structure] kind must be one of {', '.join(_NEEDED)}, not {shown(kind)}")
    further = {part: keys for part, keys in _FURTHER.items() if part in structure}
    for part, keys in {**_NEEDED[kind], **further}.items():
        where = f"{place}, [structure{'.' if part else ''}{part}]"
        holder = structure if part == "" else table(structure, part, place)
        for key in (*keys, *(key for key in _OPTIONAL.get(part, ()) if key in holder)):
            if key == "raised":
                _check_weave(holder.get(key), where)
            elif key == "file":
                if not isinstance(holder.get(key), str) or not is_file(folder / holder[key]):
                    raise InputError(
                        f"{where}: file must name a photo in the folder, not {shown(holder.get(key))}"
                    )
            elif key in _RANGES.get(part, ()):
                _check_range(holder.get(key), key, where)
            else:
                # The pitch of S twist is negative; nothing else is.
                least = -LARGEST if key == "twist_pitch_mm" else 0 if key in _MAY_BE_ZERO else 1e-4
                number(holder, key, where, least, LARGEST)
                if holder[key] == 0 and key == "twist_pitch_mm":
                    raise InputError(f"{where}: twist_pitch_mm must not be 0; write a large pitch for none")
    finish = structure.get("finish", "cotton")
    if not isinstance(finish, str) or finish not in finishes["finish"]:
        raise InputError(
            f"{place}: finish must be one of {', '.join(finishes['finish'])}, not {shown(finish)}"
        )
    structure["finish"] = finishes["finish"][finish]
    structure["surface"] = _surface(structure, finishes["surface"], place)
    return structure


def _surface(structure: dict[str, Any], base: dict[str, Any], place: str) -> dict[str, float]:
    """Slow variation: the kind's own, overridden by the file's; yarn spacings from the structure."""
    kind = structure["kind"]
    own = table(structure, "surface", f"{place}, [structure]") if "surface" in structure else {}
    surface = {**base["common"], **base[kind], **own}
    spacing_x, spacing_y = 1.0, 1.0
    if kind == "knit":
        spacing_x, spacing_y = structure["wale_mm"], structure["course_mm"]
    elif kind in ("weave", "terry"):
        spacing_x, spacing_y = structure["warp"]["spacing_mm"], structure["weft"]["spacing_mm"]
    surface |= {"upright_mm": spacing_x, "level_mm": spacing_y}
    del surface["source"]
    return {key: number(surface, key, f"{place}, [structure.surface]", 0, LARGEST) for key in surface}


def _check_weave(raised: object, where: str) -> None:
    rows = raised if isinstance(raised, list) else []
    texts = [row for row in rows if isinstance(row, str) and row and set(row) <= {"0", "1"}]
    if not rows or len(texts) < len(rows) or len({len(row) for row in texts}) != 1:
        raise InputError(f"{where}: raised must be rows of 0 and 1 of one length, 1 where the warp is on top")


def _check_range(pair: object, key: str, where: str) -> None:
    numbers = [v for v in pair if isinstance(v, int | float)] if isinstance(pair, list) else []
    if len(numbers) != 2 or not 0 < numbers[0] <= numbers[1] <= LARGEST:
        raise InputError(f"{where}: {key} must be [least, most], not {shown(pair)}")
