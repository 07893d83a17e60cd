"""A shop's own files with any value in any place are read, or refused with one sentence."""

from __future__ import annotations

import copy
import json
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from render.errors import InputError
from render.inspect.limits import limits_for
from render.materials.fabrics import FILE, load_fabric, textures_folder
from render.materials.job import make_job
from render.materials.lights import load_light
from render.materials.machines import load_machine
from render.materials.threads import load_threads, make_thread
from render.scene.photo.placing import load_place
from render.scene.sets import load_colour_sets

PRESETS = Path(__file__).parents[2] / "render" / "presets"
# As TOML writes them; the last is a whole number that Python prints none of, of over 4300 digits.
VALUES = ("3", "-1", "true", '"x"', "[]", "[[1]]", "{}", "nan", "1e99", "2020-01-01", "[{ a = 1 }]")
VALUES += (f"0x{'f' * 5000}",)


def limits(path: str) -> object:
    return limits_for(load_fabric("twill"), make_thread((0.1, 0.2, 0.3)), path)


def fabric(path: str) -> object:
    return load_fabric(str(Path(path).parent))


def cloth(name: str) -> str:
    return (textures_folder() / name / FILE).read_text("utf-8")


def sets_text() -> str:
    return 'set = [{ name = "sand", garment = "#cbb994", trim = "red", threads = { 1 = "navy" } }]'


def job_text() -> str:
    foam = 'block = [{ number = 1, kind = "foam", height_mm = 3 }]'
    waived = 'waive = [{ kind = "gap", where_mm = [1, 2], within_mm = 3, why = "meant" }]'
    words = "\n".join(f"{key} = 'x'" for key in ("shop", "customer", "order", "placement", "notes"))
    return f"fabric = 'twill'\nseed = 3\nquantity = 36\nhoop = 'square-130'\n{foam}\n{waived}\n{words}"


FILES: dict[str, tuple[Callable[[str], object], str]] = {
    "weave": (fabric, cloth("twill") + "[structure.surface]\nlevel_mm = 0.5\n"),
    "pile": (fabric, cloth("felt")),
    "own-fabric": (load_fabric, 'based_on = "jersey"\n[stiffness]\nshear_n_per_m = 90.0\nsource = "a"'),
    "light": (load_light, (PRESETS / "lights" / "window.toml").read_text("utf-8")),
    "machine": (load_machine, (PRESETS / "machines" / "multi-needle.toml").read_text("utf-8")),
    "limits": (limits, "[all]\ngap_mm = 0.3\n[group.pile]\ngap_mm = 0.4\n[thread.fine]\ngap_mm = 0.2"),
    "job": (make_job, job_text()),
    "threads": (
        load_threads,
        'thread = [{ colour = "#c02030", kind = "rayon", size = "40 wt", label = "fire", needle = 4 }]',
    ),
    "sets": (load_colour_sets, sets_text()),
    "place": (load_place, "corners_px = [[0, 0], [9, 0], [9, 9], [0, 9]]\ncorners_mm = [9, 7]\nfolds = true"),
}


def places(value: Any, way: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The ways to every value of a file."""
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, part in inside:
        yield (*way, key)
        yield from places(part, (*way, key))


class Written(str):
    """A value as it is to stand in the file."""


def written(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{json.dumps(key)} = {written(part)}" for key, part in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(written(part) for part in value) + "]"
    return str(value) if isinstance(value, Written) else json.dumps(value)


@pytest.mark.parametrize("name", FILES)
def test_any_value_in_any_place(name: str, tmp_path: Path) -> None:
    load, text = FILES[name]
    path = tmp_path / FILE
    sound = tomllib.loads(text)
    path.write_text("\n".join(f"{json.dumps(key)} = {written(value)}" for key, value in sound.items()))
    assert load(str(path))
    said = []
    for *way, last in places(sound):
        for value in VALUES:
            facts = copy.deepcopy(sound)
            holder: Any = facts
            for key in way:
                holder = holder[key]
            holder[last] = Written(value)
            path.write_text("\n".join(f"{json.dumps(key)} = {written(part)}" for key, part in facts.items()))
            try:
                load(str(path))
            except InputError as error:
                said.append(str(error))
    assert len(said) >= 10
    assert not any("\n" in line for line in said)
