"""Each kind of thread, from its file in `presets/threads/`: how it is spun, and how it reflects; a shop's
own as was fitted.

Besides a title and the `[yarn]` a file has the fields of `FibreLobes`; `[called]` is its name in proofs, by
language, where the words of a language do not know it, and `most_spm` how fast it should be sewn at most. Of
the fields:

- `scatter_per_mm`: clear filaments, path-traced, have 6.8 (rayon), 8.1 (trilobal) and 15.3 (matte polyester);
  thread as it is sold hides more, for its delustrant and brightener (estimates). Nothing shows through foil.
- `sparkle`: filaments that are traced are round; those of trilobal thread have flat sides, viscose is lobed
  (estimates).
- `valley`, `valley_alone`: between plies as traced 0.12, on close photographs of thread deeper, in lines of
  single stitches most (estimates, by eye).
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from render.errors import InputError
from render.materials.own_file import shown
from render.materials.presets import preset, preset_names
from render.model import FibreLobes

if TYPE_CHECKING:
    from collections.abc import Iterable

    from render.model import Thread

_NO_LOBES = ("title", "called", "most_spm", "source", "yarn")  # what a kind's file holds besides its lobes


def _files() -> dict[str, dict[str, Any]]:
    return {kind: preset(f"threads/{kind}.toml") for kind in preset_names("threads")}


def thread_kinds() -> dict[str, str]:
    """Kinds of thread and what they are."""
    return {kind: row["title"] for kind, row in _files().items()}


def thread_names() -> dict[str, dict[str, str]]:
    """Of each kind the names that its file brings along, by language; its title is the English one."""
    return {kind: {"en": row["title"], **row.get("called", {})} for kind, row in _files().items()}


def most_spm(kind: str) -> float:
    """Stitches a minute advised at most with a kind of thread, without end where it takes any speed."""
    return float(_files()[kind].get("most_spm", math.inf))


def yarn_of(kind: str) -> dict[str, Any]:
    """Fibre density, packing and twist of a kind of thread. Raises InputError that lists the kinds."""
    kinds = _files()
    if kind not in kinds:
        raise InputError(f"{shown(kind)} is no kind of thread: choose one of {', '.join(kinds)}")
    yarn: dict[str, Any] = kinds[kind]["yarn"]
    return yarn


def load_fibres(threads: Iterable[Thread] = ()) -> dict[str, FibreLobes]:
    """Fibre lobes by what the threads shine as: every kind, and these threads' own."""
    kinds = {
        kind: FibreLobes(**{name: value for name, value in row.items() if name not in _NO_LOBES})
        for kind, row in _files().items()
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
