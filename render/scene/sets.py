"""Colour sets: the same design and garment in several colours, from a TOML file.

```toml
[[set]]
name = "bottle green"
garment = "#1f4d3a"
trim = "#f3e9d2"                              # buttons, cords, borders; may be left out
threads = { 1 = "#8fbfd0", 2 = "navy" }       # by colour block, counted from 1; the rest stays
```
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from render.colour import parse_colour
from render.errors import InputError
from render.materials.own_file import check_keys, read_toml, shown

if TYPE_CHECKING:
    from render.model import Colour, Thread

MOST_SETS = 60


@dataclass(frozen=True, slots=True)
class ColourSet:
    """Colours asked for, None where they stay; `threads` by block counted from 0."""

    name: str
    garment_srgb: Colour | None
    trim_srgb: Colour | None
    threads: dict[int, Colour]


@dataclass(frozen=True, slots=True)
class Colouring:
    """One set of colours: of every block's thread, and of the garment and its trim."""

    name: str
    threads: tuple[Thread, ...]
    garment_srgb: Colour
    trim_srgb: Colour


def load_colour_sets(path: str) -> tuple[ColourSet, ...]:
    """The sets of a file. Raises InputError with what is wrong in it."""
    facts = read_toml(path, "colour sets")
    check_keys(facts, ("set",), path)
    rows = facts.get("set")
    if not isinstance(rows, list) or not rows or not all(isinstance(row, dict) for row in rows):
        raise InputError(f"{path}: write each set of colours as a [[set]] table")
    if len(rows) > MOST_SETS:
        raise InputError(f"{path} holds {len(rows)} sets: at most {MOST_SETS} at a time")
    sets = tuple(_set_of(row, f"{path}, set {number}") for number, row in enumerate(rows, 1))
    names = [file_word(one.name) for one in sets]
    for name in names:
        if names.count(name) > 1:
            raise InputError(f"{path}: two sets are called {name!r}; each picture needs a name of its own")
    return sets


def _set_of(row: dict[str, Any], place: str) -> ColourSet:
    check_keys(row, ("name", "garment", "trim", "threads"), place)
    name = row.get("name")
    if not isinstance(name, str) or not file_word(name):
        raise InputError(f"{place}: name must be text in quotes, not {shown(name)}")
    threads = row.get("threads", {})
    if not isinstance(threads, dict):
        raise InputError(f"{place}: threads is a table such as {{ 1 = 'navy' }}, not {shown(threads)}")
    colours = {}
    for block, colour in threads.items():
        if not block.isdecimal() or not 1 <= int(block[:6]) <= 512:
            raise InputError(f"{place}: threads names colour blocks from 1, not {shown(block)}")
        colours[int(block) - 1] = _colour(colour, f"{place}, thread {block}")
    garment, trim = (
        _colour(row[key], f"{place}, {key}") if key in row else None for key in ("garment", "trim")
    )
    return ColourSet(name, garment, trim, colours)


def _colour(value: object, place: str) -> Colour:
    if not isinstance(value, str):
        raise InputError(f"{place}: a colour is text in quotes, not {shown(value)}")
    try:
        return parse_colour(value)
    except InputError as error:
        raise InputError(f"{place}: {error}") from None


def coloured(base: Colouring, asked: ColourSet) -> Colouring:
    """The base in the colours asked for. Raises InputError for a block that the design has not."""
    for block in asked.threads:
        if block >= len(base.threads):
            raise InputError(
                f"set {asked.name!r} colours block {block + 1}, but the design has {len(base.threads)}"
            )
    threads: tuple[Thread, ...] = tuple(
        replace(thread, colour_srgb=asked.threads.get(index, thread.colour_srgb))
        for index, thread in enumerate(base.threads)
    )
    return replace(
        base,
        name=asked.name,
        threads=threads,
        garment_srgb=asked.garment_srgb or base.garment_srgb,
        trim_srgb=asked.trim_srgb or base.trim_srgb,
    )


def file_word(name: str) -> str:
    """A name as part of a file name: lower case, hyphens between words."""
    return re.sub(r"[^\w]+", "-", name.lower()).strip("-")[:60]
