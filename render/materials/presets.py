"""Presets that ship with the package, as TOML."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any


@cache
def preset(name: str) -> dict[str, Any]:
    """The parsed preset file `name` under `render/presets`."""
    return tomllib.loads((files("render") / "presets" / name).read_text("utf-8"))


def preset_names(folder: str) -> tuple[str, ...]:
    """Names of the preset files in a folder under `render/presets`, without their ending."""
    found = (files("render") / "presets" / folder).iterdir()
    return tuple(sorted(entry.name.removesuffix(".toml") for entry in found if entry.name.endswith(".toml")))
