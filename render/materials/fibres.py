"""Each kind of thread, from its preset: how it is spun, and how it reflects; a shop's own as was fitted."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from render.errors import InputError
from render.materials.own_file import shown
from render.materials.presets import preset
from render.model import FibreLobes

if TYPE_CHECKING:
    from collections.abc import Iterable

    from render.model import Thread
_NO_LOBES = ("title", "source", "yarn")  # what a kind's table holds besides its lobes


def thread_kinds() -> dict[str, str]:
    """Kinds of thread and what they are called."""
    return {kind: row["title"] for kind, row in preset("fibres.toml").items()}


def yarn_of(kind: str) -> dict[str, Any]:
    """Fibre density, packing and twist of a kind of thread. Raises InputError that lists the kinds."""
    kinds = preset("fibres.toml")
    if kind not in kinds:
        raise InputError(f"{shown(kind)} is no kind of thread: choose one of {', '.join(kinds)}")
    yarn: dict[str, Any] = kinds[kind]["yarn"]
    return yarn


def load_fibres(threads: Iterable[Thread] = ()) -> dict[str, FibreLobes]:
    """Fibre lobes by what the threads shine as: every kind, and these threads' own."""
    kinds = {
        kind: FibreLobes(**{name: value for name, value in row.items() if name not in _NO_LOBES})
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
