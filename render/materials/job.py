"""The job: everything about an order that the stitch file does not know, from one file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

from render.colour import parse_colour
from render.errors import InputError
from render.materials.fabrics import load_fabric
from render.materials.lights import load_light
from render.materials.machines import load_machine
from render.materials.own_file import check_keys, number, read_toml
from render.materials.threads import load_threads, parse_override, threads_from_rows
from render.model import BlockTreatment, Finish, Job

if TYPE_CHECKING:
    from collections.abc import Mapping

    from render.model import Thread

STANDARD = {"fabric": "pique", "light": "soft-studio", "machine": "unknown", "finish": "off-machine"}
_CHOICES = (
    "fabric",
    "fabric_colour",
    "fabric_turn_deg",
    "stabiliser",
    "topping",
    "light",
    "machine",
    "finish",
    "seed",
)
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
    seed: int | None = None,
) -> Job:
    """A job from a job file, or from nothing; each option given outranks the file.

    `threads` is the path of a thread list and `thread` holds changes such as `3=navy`.
    Paths inside a job file count from its own folder. Raises InputError or UsageError.
    """
    values = _job_values(path)
    asked: dict[str, object] = {"fabric": fabric, "fabric_colour": fabric_colour, "light": light, "machine": machine}
    asked |= {"finish": finish, "seed": seed}
    values |= {key: value for key, value in asked.items() if value is not None}
    place = path if path is not None else "the options"
    listed = load_threads(threads) if threads is not None else _listed(values, place)
    changes = {block: change for text in thread for block, change in parse_override(text).items()}
    if values["finish"] not in get_args(Finish):
        raise InputError(f"{place}: finish is {' or '.join(get_args(Finish))}, not {values['finish']!r}")
    colour = values.get("fabric_colour")
    cloth = load_fabric(values["fabric"])
    return Job(
        fabric=cloth,
        light=load_light(values["light"]),
        machine=load_machine(values["machine"]),
        fabric_colour_srgb=parse_colour(str(colour)) if colour is not None else None,
        fabric_turn_deg=number({"fabric_turn_deg": 0.0, **values}, "fabric_turn_deg", place, -360, 360),
        stabiliser=_text(values, "stabiliser", place),
        topping=_text(values, "topping", place),
        threads=listed,
        thread_changes=changes,
        blocks=_blocks(values.get("block", []), place),
        finish=values["finish"],
        seed=int(number({"seed": 0, **values}, "seed", place, 0, 2**31 - 1)),
        facts={key: str(values[key]) for key in FACTS if key in values},
    )


def _job_values(path: str | None) -> dict[str, Any]:
    if path is None:
        return dict(STANDARD)
    own = read_toml(path, "job")
    check_keys(own, (*_CHOICES, *FACTS, "threads", "thread", "block"), path)
    for key in ("fabric", "light", "machine", "finish"):
        _text(own, key, path)
    folder = Path(path).parent
    for key in ("fabric", "light", "machine", "threads"):
        # A file or folder beside the job file is meant before a name.
        if isinstance(own.get(key), str) and (folder / own[key]).exists():
            own[key] = str(folder / own[key])
    for row in own.get("block", []):
        if isinstance(row, dict) and isinstance(row.get("fabric"), str) and (folder / row["fabric"]).exists():
            row["fabric"] = str(folder / row["fabric"])
    return {**STANDARD, **own}


def _listed(values: Mapping[str, Any], place: str) -> tuple[Thread, ...]:
    if "thread" in values and "threads" in values:
        raise InputError(f"{place}: threads names a list file and [[thread]] tables stand here too: keep one")
    if "thread" in values:
        return threads_from_rows(values["thread"], place)
    listed = _text(values, "threads", place)
    return load_threads(listed) if listed is not None else ()


def _blocks(rows: Any, place: str) -> dict[int, BlockTreatment]:
    """Block numbers count from 1 in the file and from 0 in the job."""
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise InputError(f"{place}: write each special block as a [[block]] table")
    treatments = {}
    for row in rows:
        where = f"{place}, block {row.get('number')!r}"
        check_keys(row, ("number", "kind", "fabric", "colour", "height_mm"), where)
        index = int(number(row, "number", where, 1, 512)) - 1
        if row.get("kind") not in ("applique", "foam", "open"):
            raise InputError(f"{where}: kind is applique, foam or open, not {row.get('kind')!r}")
        colour = row.get("colour")
        treatments[index] = BlockTreatment(
            row["kind"],
            _text(row, "fabric", where) or "",
            parse_colour(str(colour)) if colour is not None else None,
            number({"height_mm": 0.0, **row}, "height_mm", where, 0, 10),
        )
    return treatments


def _text(values: Mapping[str, Any], key: str, place: str) -> str | None:
    value = values.get(key)
    if value is not None and not isinstance(value, str):
        raise InputError(f"{place}: {key} must be text in quotes, not {value!r}")
    return value
