"""How each kind of thread reflects, from its preset."""

from __future__ import annotations

import tomllib
from importlib.resources import files

from render.model import FibreLobes


def load_fibres() -> dict[str, FibreLobes]:
    """Fibre lobes by kind of thread."""
    text = (files("render") / "presets" / "fibres.toml").read_text("utf-8")
    return {
        kind: FibreLobes(**{name: value for name, value in row.items() if name != "source"})
        for kind, row in tomllib.loads(text).items()
    }
