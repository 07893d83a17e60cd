"""Where on a photograph the design lies, as the options of `twillight scene` say it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from render.scene.photo.placing import Place


def asked_place(path: str | None, **given: Any) -> Place | None:
    """The placement of a file or of the options; None where neither is given. Raises InputError or
    UsageError."""
    from dataclasses import replace

    from render.errors import UsageError
    from render.scene.photo.placing import load_place, place_of

    facts = {key: value for key, value in given.items() if value}
    for key, separator in (("corners_px", ","), ("points_px", ","), ("centre_px", ","), ("size_mm", "x")):
        if key in facts:
            facts[key] = _numbers(facts[key], separator, key)
    for key in ("centre_px", "size_mm"):
        if key in facts:
            facts[key] = facts[key][0]
    if path is None:
        return place_of(facts, "the options") if facts else None
    loaded = load_place(path)
    if not set(facts) <= {"folds", "cylinder_mm"}:
        raise UsageError("--place says where the design lies: leave out the points and corners")
    return replace(loaded, **facts)


def _numbers(text: str, separator: str, key: str) -> list[list[float]]:
    from render.errors import UsageError

    try:
        return [[float(part) for part in pair.lower().split(separator)] for pair in text.split()]
    except ValueError:
        raise UsageError(f"{key}: {text[:60]!r} cannot be read: write numbers such as 812,640") from None
