"""Threads: sizes in any common numbering, thread lists, and which thread sews which block.

Conversions after ISO 1144 (tex system) and ISO 2947 (conversion): tex is grams per
kilometre; denier grams per 9 km; Nm km per kg; Ne hanks of 840 yd per lb.
"""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from render.colour import parse_colour
from render.errors import InputError, UsageError
from render.materials.fibres import shine_of, thread_kinds, yarn_of
from render.materials.own_file import check_keys, number, parse_toml, read_text, separator_of, shown
from render.materials.presets import preset
from render.model import Thread, ThreadChange

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from render.model import Colour, FibreLobes

NE_PER_TEX = 453.59237 / (840 * 0.0009144)  # 590.541: grams a pound over kilometres a hank of 840 yd
_NUMBER = r"(\d+(?:\.\d+)?)"
# (pattern, tex from its number and its plies, whether the number is only nominal)
_SIZES: tuple[tuple[str, str, bool], ...] = (
    (rf"{_NUMBER}\s*tex|tex\s*{_NUMBER}|t[- ]?{_NUMBER}", "tex", False),
    (rf"{_NUMBER}\s*dtex|dtex\s*{_NUMBER}", "dtex", False),
    (rf"{_NUMBER}\s*(?:den|denier|d)|(?:den|denier)\s*{_NUMBER}", "den", False),
    (rf"nm\s*{_NUMBER}|{_NUMBER}\s*nm", "nm", False),
    (rf"ne[ck]?\s*{_NUMBER}|{_NUMBER}\s*ne[ck]?", "ne", False),
    (rf"(?:ticket|tkt)\s*{_NUMBER}", "ticket", False),
    (rf"{_NUMBER}\s*(?:wt|weight)|(?:wt|weight)\s*{_NUMBER}", "wt", True),
)
_FIELDS = ("colour", "kind", "size", "twist", "label", "needle", "shine")
MOST_NEEDLES, LONGEST_LABEL = 99, 1e15  # no machine has more; a number that is written out in full
# What a fit to an angle wheel may change of a kind, as multiples; 1 leaves it.
SHINE = ("gloss", "gloss_width", "evenness")


def parse_size(text: str) -> tuple[float, str]:
    """Tex of a thread size such as "40 wt", "tex 27", "120D/2", "Nm 80/2", "Ne 24" or
    "ticket 120", and a note ("" for an exact size).

    A ply count ("/2" or "x2") multiplies the weight; a decimal comma is a point. "wt" is
    read as metric (km per kg), though makers use it loosely: the note says that it is
    nominal. Raises InputError.
    """
    plain = " ".join(text.lower().replace("no.", " ").rstrip(". ").split()) if len(text) <= 40 else ""
    plain = re.sub(r"(?<=\d),(?=\d)", ".", plain)
    plied = re.fullmatch(r"(.*?\d)\s*([a-z]*?)\s*[/x×]\s*(\d)(.*)", plain)
    plies = int(plied[3]) if plied else 1
    if plied:
        plain = plied[1] + plied[2] + plied[4]
    for pattern, unit, nominal in _SIZES:
        found = re.fullmatch(pattern, plain)
        value = float(next(g for g in found.groups() if g is not None)) if found else 0.0
        if found and value > 0 and plies > 0:
            tex = to_tex(value, unit) * plies
            if not 1.0 <= tex <= 500.0:
                raise InputError(
                    f"thread size {shown(text)} is {tex:.3g} tex: sewing threads lie between 1 and 500"
                )
            return tex, f"{text.strip()!r} is a nominal size, drawn as {tex:.3g} tex" if nominal else ""
    raise InputError(
        f"{shown(text)} is no thread size: write it as 40 wt, tex 27, 120D/2, dtex 300, Nm 80/2, Ne 24 "
        "or ticket 120"
    )


def to_tex(value: float, unit: str) -> float:
    """Tex of a number in `unit`: tex, dtex, den, nm, wt, ticket (metric) or ne."""
    if unit in ("tex", "dtex", "den"):
        return value / {"tex": 1.0, "dtex": 10.0, "den": 9.0}[unit]
    return {"nm": 1000.0, "wt": 1000.0, "ticket": 3000.0, "ne": NE_PER_TEX}[unit] / value


def make_thread(
    colour_srgb: Colour,
    *,
    kind: str | None = None,
    tex: float | None = None,
    label: str = "",
    needle: int | None = None,
    twist_per_m: float | None = None,
    shine: Mapping[str, Any] | None = None,
) -> Thread:
    """A thread of a known kind; without kind or tex, those of the default thread. `shine` says how it
    reflects otherwise than its kind, see `SHINE`."""
    default = preset("threads.toml")["default"]
    kind = kind if kind is not None else default["kind"]
    yarn = yarn_of(kind)
    return Thread(
        colour_srgb,
        kind,
        tex=tex if tex is not None else parse_size(default["size"])[0],
        density_g_per_cm3=yarn["fibre_density_g_per_cm3"],
        packing=yarn["packing"],
        label=label,
        needle=needle,
        twist_per_m=twist_per_m if twist_per_m is not None else yarn["twist_per_m"],
        fitted=None if shine is None else _fitted(kind, shine),
    )


def _fitted(kind: str, shine: Mapping[str, Any]) -> FibreLobes:
    check_keys(shine, (*SHINE, "source"), "shine")
    return shine_of(kind, *(number({key: 1.0, **shine}, key, "shine", 0.05, 20.0) for key in SHINE))


def load_threads(path: str) -> tuple[Thread, ...]:
    """The threads of a list file, one a colour block, in sewing order.

    TOML: tables `[[thread]]` with `colour` and, if wished, `kind`, `size`, `twist`, `label` and
    `needle`, and a table `[thread.shine]` where that was fitted; CSV: the same as headings, but for
    shine. Raises InputError with the place.
    """
    text = read_text(path, "thread list")
    if Path(path).suffix.lower() != ".csv":
        values = parse_toml(text, path)
        check_keys(values, ("thread", "title", "source"), path)
        return threads_from_rows(values.get("thread", []), path)
    text = text.lstrip("\r\n")
    table = csv.DictReader(io.StringIO(text, newline=""), delimiter=separator_of(text), strict=True)
    try:
        names = [name.strip().lower() for name in table.fieldnames or ()]
        if len(set(names)) < len(names):
            raise InputError(f"{path}: a heading stands twice in {shown(', '.join(names))}; keep one")
        rows = list(table)
        while rows and not any(rows[-1].values()):  # empty lines of a spreadsheet
            rows.pop()
        return threads_from_rows(rows, path)
    except csv.Error as error:
        raise InputError(f"{path}, line {table.line_num}: not a CSV table ({error})") from None


def threads_from_rows(rows: Any, place: str) -> tuple[Thread, ...]:
    """Threads from the rows of a list; `place` names it in errors."""
    if not isinstance(rows, list) or not rows or not all(isinstance(row, dict) for row in rows):
        raise InputError(
            f"{place} lists no threads: give each a [[thread]] table, or a CSV line under headings"
        )
    return tuple(_thread_from_row(row, f"{place}, thread {i}") for i, row in enumerate(rows, 1))


def _thread_from_row(row: Mapping[str, Any], place: str) -> Thread:
    if any(row.get(None, ())):  # type: ignore[call-overload]  # the csv module's key for cells too many
        raise InputError(f"{place}: more cells than headings; put text with commas in quotes")
    values = {str(k).strip().lower(): v for k, v in row.items() if k is not None and v not in (None, "")}
    values["colour"] = values.pop("color", values.get("colour"))
    check_keys(values, _FIELDS, place)
    if values["colour"] is None:
        raise InputError(f"{place} has no colour: give it one, such as #c02030 or navy")
    for field, value in values.items():
        if not isinstance(value, str) and field in ("colour", "kind", "size", "twist"):
            raise InputError(f"{place}: {field} must be text in quotes, not {shown(value)}")
    if not isinstance(values.get("shine", {}), dict):
        raise InputError(f"{place}: shine is a table, [thread.shine], as a fit writes it")
    try:
        return make_thread(
            parse_colour(values["colour"]),
            kind="-".join(values["kind"].lower().split()) if "kind" in values else None,
            tex=parse_size(values["size"])[0] if "size" in values else None,
            label=_label(values.get("label", "")),
            needle=_needle(values["needle"]) if "needle" in values else None,
            twist_per_m=_twist(values["twist"]) if "twist" in values else None,
            shine=values.get("shine"),
        )
    except InputError as error:
        raise InputError(f"{place}: {error}") from None


def _twist(text: str) -> float:
    """Turns a metre of a twist such as "Z 550" or "S 620"; those of S are negative. Raises InputError."""
    found = (
        re.fullmatch(r"([ZS])\s*(\d{2,4}(?:\.\d+)?)", " ".join(text.upper().split()))
        if len(text) < 40
        else None
    )
    if found is None or not 50.0 <= float(found[2]) <= 3000.0:
        raise InputError(
            f"twist {shown(text)} must be Z or S and turns a metre from 50 to 3000, such as Z 550"
        )
    return float(found[2]) * (1.0 if found[1] == "Z" else -1.0)


def _label(value: object) -> str:
    """The shop's word for a thread, which TOML may have as a number. Raises InputError."""
    if isinstance(value, str):
        return value
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < LONGEST_LABEL:
        raise InputError(f"label must be text in quotes, not {shown(value)}")
    return str(value)


def _needle(value: object) -> int:
    """A needle's number, from 1, as TOML (a whole number) or CSV (text) has it. Raises InputError."""
    if isinstance(value, str) and re.fullmatch(r"\s*[1-9][0-9]?\s*", value):
        value = int(value)
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= MOST_NEEDLES:
        raise InputError(f"needle {shown(value)} must be a whole number from 1 to {MOST_NEEDLES}")
    return value


def parse_override(text: str) -> dict[int, ThreadChange]:
    """Blocks and what changes, from `3=#c02030`, `1,4=navy` or `2=gold metallic 40 wt`.

    Blocks count from 1, as a shop counts them; the result counts from 0. Raises UsageError.
    """
    blocks, _, wish = text.partition("=")
    numbers, wish = [part.strip() for part in blocks.split(",")], " ".join(wish.split())
    if not wish or not all(re.fullmatch(r"0*[1-9][0-9]{0,3}", n) for n in numbers):
        raise UsageError(f"--thread {shown(text)}: write block=colour, such as 3=#c02030 or 1,4=navy")
    kinds = "|".join(kind.replace("-", "[- ]") for kind in thread_kinds())
    parts = re.fullmatch(rf"(lab\([^)]*\)|\S+)(?: ({kinds}))?(?: (.+))?", wish, re.IGNORECASE)
    assert parts is not None, "any words match"
    try:
        change = ThreadChange(
            parse_colour(parts[1]),
            "-".join(parts[2].lower().split()) if parts[2] else None,
            parse_size(parts[3])[0] if parts[3] else None,
        )
    except InputError as error:
        raise UsageError(f"--thread {shown(text)}: {error}") from None
    return dict.fromkeys((int(n) - 1 for n in numbers), change)


def threads_for(
    blocks: int,
    file_colours: Sequence[Colour | None],
    listed: Sequence[Thread],
    changes: Mapping[int, ThreadChange],
) -> tuple[tuple[Thread, ...], tuple[str, ...]]:
    """One thread a colour block, and notes on where they came from.

    A listed thread comes first, then the file's own colour, then our palette; changes
    asked for by block come on top. Raises InputError for a change to a block not there.
    """
    palette = [parse_colour(text) for text in preset("threads.toml")["palette"]["colours"]]
    threads, invented = [], []
    for block in range(blocks):
        own = file_colours[block] if block < len(file_colours) else None
        if block < len(listed):
            threads.append(listed[block])
        elif own is not None:
            threads.append(make_thread(own))
        else:
            invented.append(block + 1)
            threads.append(make_thread(palette[block % len(palette)]))
    for block, change in changes.items():
        if block >= blocks:
            raise InputError(
                f"there is no colour block {block + 1} to give a thread: the design has {blocks}; "
                "name one of those"
            )
        threads[block] = _changed(threads[block], change)
    return tuple(threads), _thread_notes(blocks, invented, len(listed), set(changes))


def _changed(thread: Thread, change: ThreadChange) -> Thread:
    colour = change.colour_srgb
    if change.kind is None:
        return replace(thread, colour_srgb=colour, tex=change.tex or thread.tex)
    return make_thread(
        colour, kind=change.kind, tex=change.tex or thread.tex, label=thread.label, needle=thread.needle
    )


def _thread_notes(blocks: int, invented: list[int], listed: int, changed: set[int]) -> tuple[str, ...]:
    notes = []
    guessed = [block for block in invented if block - 1 not in changed]
    if guessed:
        which = ", ".join(map(str, guessed))
        notes.append(
            f"no colour is known for block{'s' if len(guessed) > 1 else ''} {which}: drawn in colours of "
            "our own choice; give a thread list or --thread N=COLOUR"
        )
    if 0 < listed < blocks:
        notes.append(
            f"the thread list has {listed} thread{'s' if listed > 1 else ''}, the design {blocks} "
            "colour blocks: the rest are sewn in the file's colours or our own"
        )
    if listed > blocks:
        notes.append(
            f"the thread list has {listed} threads, the design {blocks} colour blocks: the last are unused"
        )
    return tuple(notes)
