"""Where on a photograph the design lies, as the options of `twillight scene` say it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from render.scene.photo.placing import Place


# What the values of a placement file are called on the command line.
OPTIONS = {
    "corners_px": "--corners",
    "size_mm": "--corners-mm",
    "points_px": "--points",
    "distance_mm": "--distance-mm",
    "centre_px": "--centre",
    "cylinder_mm": "--cylinder-mm",
}


def asked_place(path: str | None, **given: Any) -> Place | None:
    """The placement of a file or of the options; None where neither is given. Raises InputError or
    UsageError."""
    from dataclasses import replace

    from render.errors import UsageError
    from render.scene.photo.placing import load_place

    facts = {key: value for key, value in given.items() if value}
    for key, separator in (("corners_px", ","), ("points_px", ","), ("centre_px", ","), ("size_mm", "x")):
        if key in facts:
            facts[key] = _numbers(facts[key], separator, OPTIONS[key])
    for key in ("centre_px", "size_mm"):
        if key in facts:
            facts[key] = facts[key][0]
    if path is None:
        return _of_options(facts) if facts else None
    loaded = load_place(path)
    if not set(facts) <= {"folds", "cylinder_mm"}:
        raise UsageError("--place says where the design lies: leave out the points and corners")
    return replace(loaded, **facts)


def _of_options(facts: dict[str, Any]) -> Place:
    """The placement; what is wrong with it is told by the options' own names."""
    from render.errors import InputError
    from render.scene.photo.placing import place_of

    try:
        return place_of(facts, "the options")
    except InputError as error:
        reason = str(error).removeprefix("the options").lstrip(":, ").replace("[812, 640]", "812,640")
        for key, option in OPTIONS.items():
            reason = reason.replace(key, option)
        raise InputError(reason) from None


def _numbers(text: str, separator: str, option: str) -> list[list[float]]:
    from render.errors import UsageError

    try:
        return [[float(part) for part in pair.lower().split(separator)] for pair in text.split()]
    except ValueError:
        raise UsageError(
            f"{option} {text[:60]!r} cannot be read: write numbers such as 812{separator}640"
        ) from None
