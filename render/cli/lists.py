"""`twillight list`: what there is to choose from."""

from __future__ import annotations

import json
from enum import StrEnum
from typing import Annotated

import typer

from render.cli.options import Debug
from render.cli.say import standard_output


class Listed(StrEnum):
    """What `list` can show."""

    FABRICS = "fabrics"
    THREADS = "threads"
    LIGHTS = "lights"
    MACHINES = "machines"
    STABILISERS = "stabilisers"
    HOOPS = "hoops"
    PROBLEMS = "problems"
    LIMITS = "limits"
    FORMATS = "formats"
    SCENES = "scenes"


def list_(
    what: Annotated[
        Listed,
        typer.Argument(
            metavar="WHAT",
            help="fabrics, threads, lights, machines, stabilisers, hoops, problems, limits, formats or "
            "scenes.",
        ),
    ],
    as_json: Annotated[bool, typer.Option("--json", help="As one JSON array.")] = False,
    debug: Debug = False,
) -> None:
    """Show what there is to choose from."""
    from render.choices import CHOICES
    from render.scene.garments import garment_titles

    choices = list(garment_titles().items()) if what is Listed.SCENES else CHOICES[what.value]()
    width = max(len(name) for name, _ in choices)
    with standard_output():
        if as_json:
            print(json.dumps([{"name": name, "title": title} for name, title in choices], ensure_ascii=False))
        else:
            print("\n".join(f"{name:<{width}}  {title}" for name, title in choices))
