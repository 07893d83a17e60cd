"""Where on a photograph the design lies, as the options of `twillight scene` say it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from render.asked import pairs_of
from render.errors import UsageError

if TYPE_CHECKING:
    from render.scene.photo.placing import Place

# What is typed as pairs: the option, how many, and what stands between the two numbers.
_PAIRS = {
    "corners_px": ("--corners", 4, ","),
    "points_px": ("--points", 2, ","),
    "centre_px": ("--centre", 1, ","),
    "corners_mm": ("--corners-mm", 1, "x"),
}


def asked_place(path: str | None, **given: Any) -> Place | None:
    """The placement of a file or of the options; None where neither is given. Raises InputError or
    UsageError."""
    from render.materials.own_file import OPTIONS, number
    from render.scene.photo.placing import CYLINDER_MM, load_place, place_of

    facts = {key: value for key, value in given.items() if value is not None and value is not False}
    for key, (option, count, between) in _PAIRS.items():
        if key in facts:
            pairs = pairs_of(facts[key], option, count, between)
            facts[key] = [list(pair) for pair in pairs] if count > 1 else list(pairs[0])
    if path is None:
        return place_of(facts, OPTIONS) if facts else None
    loaded = load_place(path)
    if not set(facts) <= {"folds", "cylinder_mm"}:
        raise UsageError("--place says where the design lies: leave out the points and corners")
    if "cylinder_mm" in facts:
        number(facts, "cylinder_mm", OPTIONS, *CYLINDER_MM)
    return replace(loaded, **facts)
