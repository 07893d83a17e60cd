"""What there is to choose from: the names to give as options, and what they stand for."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from render.model import Limit
    from render.read import StitchFormat

_COLOURS = {
    "none": "no colours",
    "palette": "colours from a fixed palette",
    "exact": "exact colours",
    "header": "colours only in an extended header",
}
_TRIMS = {
    "explicit": "trims",
    "every-jump": "a trim at every jump",
    "inferred": "no trims: some machines cut after several jumps",
    "by-length": "no trims: some machines cut at long jumps",
    "never": "no trims",
}


def fabrics() -> list[tuple[str, str]]:
    """Names and titles of the fabrics that come with the program."""
    from render.materials.fabrics import fabric_names, load_fabric

    return [(name, load_fabric(name).title) for name in fabric_names()]


def threads() -> list[tuple[str, str]]:
    """Names and titles of the kinds of thread."""
    from render.materials.fibres import thread_kinds

    return list(thread_kinds().items())


def lights() -> list[tuple[str, str]]:
    """Names and titles of the studio set-ups."""
    from render.materials.lights import light_names

    return list(light_names().items())


def machines() -> list[tuple[str, str]]:
    """Names and titles of the machine profiles."""
    from render.materials.machines import machine_names

    return list(machine_names().items())


def stabilisers() -> list[tuple[str, str]]:
    """Names and titles of what can lie under the cloth."""
    from render.materials.stabilisers import load_stabiliser, stabiliser_names

    found = {name: load_stabiliser(name) for name in stabiliser_names()}
    return [
        (name, one.title if one is not None else "nothing under the cloth") for name, one in found.items()
    ]


def hoops() -> list[tuple[str, str]]:
    """Names and titles of the hoops."""
    from render.materials.stabilisers import hoop_names, load_hoop

    return [(name, load_hoop(name).title) for name in hoop_names()]


def problems() -> list[tuple[str, str]]:
    """Names of the kinds of problem that an inspection finds, and what a proof calls them."""
    from render.inspect import kinds
    from render.materials.presets import preset

    words = preset("words/en.toml")["problem"]
    return [(name, words.get(name) or kind.called.get("en", name)) for name, kind in kinds().items()]


def limits() -> list[tuple[str, str]]:
    """Names of the limits from which an inspection speaks up, their usual values, and what they are."""
    from render.inspect.found import limits as declared

    return [(name, _limit(one)) for name, one in declared().items()]


def _limit(one: Limit) -> str:
    others = "".join(f"; {name} {value:g}" for name, value in one.but.items())
    return f"{one.usual:g}{others}: {one.means}"


def formats() -> list[tuple[str, str]]:
    """Names of the stitch-file formats that can be read, and what each of them keeps."""
    from render.read import known_formats

    return [(form.name, _title(form)) for form in known_formats()]


def _title(form: StitchFormat) -> str:
    others = f" (also .{', .'.join(form.extensions[1:])})" if len(form.extensions) > 1 else ""
    return f"{_COLOURS[form.colours]}; {_TRIMS[form.trim_rule]}{others}"


CHOICES = {
    "fabrics": fabrics,
    "threads": threads,
    "lights": lights,
    "machines": machines,
    "stabilisers": stabilisers,
    "hoops": hoops,
    "problems": problems,
    "limits": limits,
    "formats": formats,
}
