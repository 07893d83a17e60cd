"""How each kind of thread reflects, from its preset."""

from __future__ import annotations

from render.materials.presets import preset
from render.model import FibreLobes


def load_fibres() -> dict[str, FibreLobes]:
    """Fibre lobes by kind of thread."""
    return {
        kind: FibreLobes(**{name: value for name, value in row.items() if name != "source"})
        for kind, row in preset("fibres.toml").items()
    }
