"""The job: everything about an order that the stitch file does not know, from one file.

Every key may be left out; paths count from the job file's own folder:

```toml
shop = "Needle Lane"             # facts of the order, for reports and proofs: text in any script,
customer = "Otter & Oar"         # shown as it stands
order = "2041"
garment = "polo, bottle green"   # a proof draws it, if it knows the garment and the place by these
placement = "left chest"         # words (en, de, es, fr, pt or zh)
size = "S to XXL"
quantity = 36
due = 2026-12-24
notes = '''New gold.'''          # may have several lines
revision = "B"
language = "en"                  # of the proof: en, de, es, fr, pt or zh

fabric = "pique"                 # a name from `twillight list fabrics`, a folder or a .toml file
fabric_colour = "#1f4d3a"
fabric_turn_deg = 0              # of the cloth under the design
stabiliser = "cut-away"          # a name from `twillight list stabilisers`
topping = "film"
hoop = "square-130"              # a name from `twillight list hoops`
held = "hooped"                  # or "over-stretched", "floated", "bonded"
needle_tension_n = 1.1           # of the needle thread, as a gauge at the machine reads it
in_hoop = true                   # false: taken out of it, which is not calibrated yet
as_programmed = false            # drawn on cloth that lies still
light = "soft-studio"            # a name from `twillight list lights`, or a .toml file
machine = "multi-needle"         # a profile by name, or a .toml file
finish = "cleaned"               # or "off-machine"
seed = 0

threads = "crest.threads.toml"   # a thread list; or, instead of it, one table a colour block:
# [[thread]]
# colour = "#14284b"             # also a CSS name, or lab(L a b)
# kind = "trilobal polyester"
# size = "120D/2"
# label = "our navy"
# needle = 3

[[block]]                        # blocks that are not just thread, counted from 1
number = 2
kind = "applique"                # cloth is laid here
fabric = "twill"
colour = "#f0e6d2"
pre_cut = false                  # or true: cut to shape before, not trimmed in the hoop

[[block]]
number = 3
kind = "foam"                    # raises a satin
height_mm = 2.0

[[block]]
number = 4
kind = "open"                    # meant to show the cloth
```

What an inspection is to leave out stands here too, see `waivers.py`.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

from render.errors import InputError
from render.materials.fabrics import load_fabric
from render.materials.lights import load_light
from render.materials.machines import load_machine
from render.materials.own_file import (
    OPTIONS,
    check_keys,
    colour,
    is_file,
    is_folder,
    is_toml,
    named,
    number,
    read_toml,
    shown,
    switch,
    text,
    whole,
)
from render.materials.stabilisers import held_names, hoop_names, stabiliser_names
from render.materials.threads import load_threads, parse_override, threads_from_rows
from render.materials.waivers import waivers_from_rows
from render.model import BlockTreatment, Finish, Job

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from render.model import Thread

STANDARD = {"fabric": "pique", "light": "soft-studio", "machine": "unknown", "finish": "off-machine"}
_CHOICES = (
    "fabric",
    "fabric_colour",
    "fabric_turn_deg",
    "stabiliser",
    "topping",
    "hoop",
    "held",
    "needle_tension_n",
    "in_hoop",
    "as_programmed",
    "light",
    "machine",
    "finish",
    "seed",
)
# What may be said of a block of each kind.
_BLOCK_KEYS = {"applique": ("fabric", "colour", "pre_cut"), "foam": ("height_mm",), "open": ()}
# What a customer or a shop writes on an order; shown, never interpreted.
FACTS = (
    "shop",
    "customer",
    "order",
    "garment",
    "placement",
    "size",
    "quantity",
    "due",
    "notes",
    "revision",
    "language",
)
_KEYS = (*_CHOICES, *FACTS, "threads", "thread", "block", "waive")


def make_job(
    path: str | None = None,
    *,
    fabric: str | None = None,
    fabric_colour: str | None = None,
    threads: str | None = None,
    thread: tuple[str, ...] = (),
    light: str | None = None,
    machine: str | None = None,
    finish: str | None = None,
    stabiliser: str | None = None,
    hoop: str | None = None,
    held: str | None = None,
    needle_tension_n: float | None = None,
    in_hoop: bool | None = None,
    as_programmed: bool | None = None,
    seed: int | None = None,
) -> Job:
    """A job from a job file, or from nothing; each option given outranks the file.

    `threads` is the path of a thread list and `thread` holds changes such as `3=navy`.
    Paths inside a job file count from its own folder. Raises InputError or UsageError.
    """
    given = {
        "fabric": fabric,
        "fabric_colour": fabric_colour,
        "light": light,
        "machine": machine,
        "finish": finish,
        "stabiliser": stabiliser,
        "hoop": hoop,
        "held": held,
        "needle_tension_n": needle_tension_n,
        "in_hoop": in_hoop,
        "as_programmed": as_programmed,
        "seed": seed,
    }
    asked = {key: value for key, value in given.items() if value is not None}
    values, place = {**_job_values(path), **asked}, OPTIONS if path is None else path
    listed = load_threads(threads) if threads is not None else _listed(values, place)
    changes = {block: change for wish in thread for block, change in parse_override(wish).items()}
    # Who said it: a wrong option is not looked for in the job file.
    said = {key: OPTIONS if key in asked else place for key in _KEYS}
    return replace(_job_of(values, said), threads=listed, thread_changes=changes)


def _job_of(values: Mapping[str, Any], said: Mapping[str, str]) -> Job:
    """The job that these values make, but for its threads; `said` is the place of each, for errors."""
    if values["finish"] not in get_args(Finish):
        wrong, finishes = shown(values["finish"]), " or ".join(get_args(Finish))
        raise InputError(f"{named(said['finish'], 'finish')} is {finishes}, not {wrong}")
    numbers = {"fabric_turn_deg": 0.0, "seed": 0, **values}
    in_hoop = switch(values, "in_hoop", said["in_hoop"])
    return Job(
        fabric=load_fabric(values["fabric"]),
        light=load_light(values["light"]),
        machine=load_machine(values["machine"]),
        fabric_colour_srgb=colour(values, "fabric_colour", said["fabric_colour"]),
        fabric_turn_deg=number(numbers, "fabric_turn_deg", said["fabric_turn_deg"], -360, 360),
        stabiliser=_known(values, "stabiliser", stabiliser_names(), said["stabiliser"]),
        topping=text(values, "topping", said["topping"]) or None,
        hoop=_known(values, "hoop", hoop_names(), said["hoop"]),
        held=_known(values, "held", held_names(), said["held"]) or "hooped",
        needle_tension_n=number(values, "needle_tension_n", said["needle_tension_n"], 0.1, 5)
        if "needle_tension_n" in values
        else None,
        in_hoop=True if in_hoop is None else in_hoop,
        as_programmed=switch(values, "as_programmed", said["as_programmed"]) or False,
        blocks=_blocks(values.get("block", []), said["block"]),
        finish=values["finish"],
        seed=whole(numbers, "seed", said["seed"], 0, 2**31 - 1),
        waivers=waivers_from_rows(values.get("waive", []), said["waive"]),
        facts={key: _fact(values[key], key, said[key]) for key in FACTS if key in values},
    )


def _known(values: Mapping[str, Any], key: str, names: tuple[str, ...], place: str) -> str | None:
    """One of the names, or None where the key is not there."""
    value = text(values, key, place)
    if value is not None and value not in names:
        raise InputError(f"{named(place, key)} {shown(value)} is not known: choose {', '.join(names)}")
    return value


def _job_values(path: str | None) -> dict[str, Any]:
    if path is None:
        return dict(STANDARD)
    own = read_toml(path, "job")
    check_keys(own, _KEYS, path)
    for key in ("fabric", "light", "machine", "finish"):
        text(own, key, path)
    rows = own.get("block", [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise InputError(f"{path}: write each special block as a [[block]] table")
    folder = Path(path).parent
    for table in (own, *rows):
        for key in ("fabric", "light", "machine", "threads"):
            if isinstance(table.get(key), str):
                is_there = is_file if key != "fabric" or is_toml(table[key]) else is_folder
                table[key] = _beside(folder, table[key], is_there)
    return {**STANDARD, **own}


def _beside(folder: Path, wanted: str, is_there: Callable[[Path], bool]) -> str:
    """The path of what lies beside the job file under this name, meant before a preset's name."""
    return str(folder / wanted) if wanted and is_there(folder / wanted) else wanted


def _listed(values: Mapping[str, Any], place: str) -> tuple[Thread, ...]:
    if "thread" in values and "threads" in values:
        raise InputError(f"{place}: threads names a list file and [[thread]] tables stand here too: keep one")
    if "thread" in values:
        return threads_from_rows(values["thread"], place)
    listed = text(values, "threads", place)
    return load_threads(listed) if listed is not None else ()


def _blocks(rows: Any, place: str) -> dict[int, BlockTreatment]:
    """Block numbers count from 1 in the file and from 0 in the job."""
    treatments: dict[int, BlockTreatment] = {}
    for row in rows:
        where = f"{place}, block {shown(row.get('number'))}"
        index = whole(row, "number", where, 1, 512) - 1
        kind = text(row, "kind", where)
        if not isinstance(kind, str) or kind not in _BLOCK_KEYS:
            raise InputError(f"{where}: kind is {' or '.join(_BLOCK_KEYS)}, not {shown(kind)}")
        check_keys(row, ("number", "kind", *_BLOCK_KEYS[kind]), where)
        if index in treatments:
            raise InputError(f"{where}: this block stands here twice; keep one table")
        fabric = text(row, "fabric", where) or ""
        if fabric:
            _check_fabric(fabric, where)
        treatments[index] = BlockTreatment(
            kind=kind,  # type: ignore[arg-type]
            fabric=fabric,
            colour_srgb=colour(row, "colour", where),
            height_mm=number(row, "height_mm", where, 0.1, 10) if kind == "foam" else 0.0,
            pre_cut=switch(row, "pre_cut", where) or False,
        )
    return treatments


def _check_fabric(name: str, place: str) -> None:
    """Refuse a fabric that cannot be loaded now, before anything is drawn."""
    try:
        load_fabric(name)
    except InputError as error:
        raise InputError(f"{place}: {error}") from None


def _fact(value: object, key: str, place: str) -> str:
    """What is shown of a fact: its text as it stands, a number or date as TOML writes it."""
    if isinstance(value, dict | list | bool):
        raise InputError(f"{named(place, key)} must be text in quotes, not {shown(value)}")
    try:
        return str(value)
    except ValueError:  # Python prints no whole number of more than 4300 digits
        raise InputError(f"{place}: {key} is a number too long to show") from None
