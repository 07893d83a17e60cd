"""How each kind of thread reflects, from its preset, and a shop's own thread from what was fitted to it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from render.materials.presets import preset
from render.model import FibreLobes

if TYPE_CHECKING:
    from collections.abc import Iterable

    from render.model import Thread


def load_fibres(threads: Iterable[Thread] = ()) -> dict[str, FibreLobes]:
    """Fibre lobes by what the threads shine as: every kind, and these threads' own."""
    kinds = {
        kind: FibreLobes(**{name: value for name, value in row.items() if name != "source"})
        for kind, row in preset("fibres.toml").items()
    }
    return kinds | {thread.shines_as: thread.fitted for thread in threads if thread.fitted is not None}


def shine_of(kind: str, gloss: float, gloss_width: float, evenness: float) -> FibreLobes:
    """The lobes of a kind with the skin's gloss this many times as strong and as wide, and the light from
    within this many times as often without a direction (as odds), each 1 for the kind itself."""
    usual = load_fibres()[kind]
    even = usual.volume_even * evenness
    return replace(
        usual,
        surface_share=usual.surface_share * gloss,
        surface_rad=usual.surface_rad * gloss_width,
        surface_tilt=usual.surface_tilt * gloss_width,
        volume_even=even / (1.0 - usual.volume_even + even),
    )
