"""`twillight scene`: the design on a garment, as a shop shows it."""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from render.cli.options import (
    AsJson,
    Debug,
    DesignFile,
    FabricColour,
    FabricName,
    FinishName,
    Force,
    JobFile,
    LightName,
    MaxStitches,
    Mirror,
    Rotate,
    Seed,
    ThreadColours,
    ThreadsFile,
)
from render.cli.say import standard_output

if TYPE_CHECKING:
    from render.scene import Scene
    from render.scene.picture import Frame
    from render.scene.sets import ColourSet


def _scene_names() -> list[str]:
    from render.scene.garments import garment_names

    return list(garment_names())


def scene(
    design: DesignFile,
    output: Annotated[
        str,
        typer.Option(
            "--output",
            "-o",
            metavar="OUT",
            help="The picture: .png, .jpg, .tif or .webp. Of several pictures this is the contact sheet, "
            "and each one lies beside it under its own name.",
        ),
    ],
    on: Annotated[
        list[str] | None,
        typer.Option(
            "--on",
            metavar="NAME",
            help="The garment; may be repeated; see: twillight list scenes.",
            autocompletion=_scene_names,
        ),
    ] = None,
    job: JobFile = None,
    fabric: FabricName = None,
    fabric_colour: FabricColour = None,
    trim_colour: Annotated[
        str | None, typer.Option("--trim-colour", metavar="COLOUR", help="Of buttons, cords and borders.")
    ] = None,
    threads: ThreadsFile = None,
    thread: ThreadColours = None,
    colour_sets: Annotated[
        str | None,
        typer.Option("--colour-sets", metavar="FILE", help="Sets of garment and thread colours (TOML)."),
    ] = None,
    light: LightName = None,
    finish: FinishName = None,
    shape: Annotated[
        str, typer.Option("--shape", metavar="NAME", help="square, portrait, landscape or wide.")
    ] = "landscape",
    width_px: Annotated[int, typer.Option(help="Width of the picture.")] = 2000,
    background: Annotated[
        str | None, typer.Option(metavar="COLOUR", help="What is seen around the garment.")
    ] = None,
    vignette: Annotated[
        float | None, typer.Option(help="How dark the corners get, 0 to 1.  [default: a little]")
    ] = None,
    transparent: Annotated[
        bool, typer.Option("--transparent", help="The garment alone, cut out, where it stands free.")
    ] = False,
    rotate: Rotate = 0.0,
    mirror: Mirror = False,
    seed: Seed = None,
    max_stitches: MaxStitches = None,
    as_json: AsJson = False,
    force: Force = False,
    debug: Debug = False,
) -> None:
    """Show DESIGN sewn on a garment: cap, polo, towel and more, at true size."""
    started = time.perf_counter()
    from render.asked import read_file
    from render.colour import parse_colour
    from render.errors import UsageError
    from render.materials.job import make_job
    from render.scene import frame_of, scene_for
    from render.scene.sets import ColourSet, load_colour_sets

    if not on:
        raise UsageError(f"name what the design is sewn on: --on {', --on '.join(_scene_names())}")
    sets = load_colour_sets(colour_sets) if colour_sets is not None else ()
    if trim_colour is not None and not sets:
        sets = (ColourSet("", None, parse_colour(trim_colour), {}),)
    plan = planned(output, on, sets, force=force)
    frame = frame_of(
        shape,
        width_px,
        transparent=transparent,
        backdrop_srgb=parse_colour(background) if background is not None else None,
        vignette=vignette,
    )
    order = make_job(
        job,
        fabric=fabric,
        fabric_colour=fabric_colour,
        threads=threads,
        thread=tuple(thread or ()),
        light=light,
        finish=finish.value if finish else None if job else "cleaned",
        seed=seed,
    )
    stitch_file = read_file(design, max_stitches)
    own = {"own_fabric": bool(fabric or job), "own_light": bool(light or job)}
    scenes = {name: scene_for(stitch_file, order, name, **own) for name in dict.fromkeys(on)}
    drawn = _draw_all(scenes, frame, sets, plan, turned={"rotate_deg": rotate, "mirror": mirror}, force=force)
    if len(plan) > 1:
        _write_sheet(output, stitch_file.name, plan, force=force)
    account = {
        "output": output,
        "pictures": [{"scene": name, "set": word, "file": str(path)} for name, word, path in plan],
        "drawn": drawn["drawn"],
        "notes": drawn["notes"],
        "seconds": round(time.perf_counter() - started, 3),
    }
    _say(account, as_json=as_json)


Planned = list[tuple[str, str, Path]]


def planned(output: str, names: list[str], sets: tuple[ColourSet, ...], *, force: bool) -> Planned:
    """Scene, colour set and file of every picture; one picture is the output itself.

    Raises UsageError, or OutputError, for what could not be written.
    """
    from render.scene.sets import file_word
    from render.write.files import check_destination
    from render.write.picture import picture_format

    picture_format(output)
    check_destination(output, force=force)
    names = list(dict.fromkeys(names))
    words = [file_word(one.name) for one in sets] or [""]
    if len(names) * len(words) == 1:
        return [(names[0], words[0], Path(output))]
    base = Path(output)
    return [
        (name, word, base.with_name(f"{base.stem}-{name}{'-' + word if word else ''}{base.suffix}"))
        for name in names
        for word in words
    ]


def _draw_all(
    scenes: dict[str, Scene],
    frame: Frame,
    sets: tuple[ColourSet, ...],
    plan: Planned,
    *,
    turned: dict[str, Any],
    force: bool,
) -> dict[str, Any]:
    """Draw what is not there yet, garment by garment, all its colours together."""
    from render.scene import draw_scenes
    from render.scene.sets import file_word
    from render.terminal import Progress
    from render.write.picture import write_picture

    notes: list[str] = []
    done = 0
    with Progress() as progress:
        for count, (name, one) in enumerate(scenes.items()):
            missing = [(word, path) for where, word, path in plan if where == name]
            if len(plan) > 1 and not force:
                missing = [(word, path) for word, path in missing if not path.exists()]
            words = {word for word, _ in missing}
            chosen = [asked for asked in sets if file_word(asked.name) in words]
            pictures = draw_scenes(one, frame, chosen, **turned) if missing else []
            for picture, (_, path) in zip(pictures, missing, strict=True):
                write_picture(picture, path, force=force)
                notes += [note for note in picture.notes if note not in notes]
                done += 1
            progress((count + 1) / len(scenes))
    return {"drawn": done, "notes": notes}


def _write_sheet(output: str, title: str, plan: Planned, *, force: bool) -> None:
    import numpy as np
    from PIL import Image

    from render.scene.sheet import contact_sheet
    from render.write.picture import write_picture

    shown = []
    for name, word, path in plan:
        with Image.open(path) as image:
            shown.append((f"{name}, {word.replace('-', ' ')}" if word else name, np.asarray(image)))
    write_picture(contact_sheet(title, shown), output, force=force)


def _say(account: dict[str, Any], *, as_json: bool) -> None:
    with standard_output():
        if as_json:
            print(json.dumps(account, ensure_ascii=False, indent=2))
            return
        for note in account["notes"]:
            print(f"note: {note}")
        for picture in account["pictures"]:
            print(picture["file"])
        kept = len(account["pictures"]) - account["drawn"]
        there = f", {kept} there already" if kept else ""
        print(f"{account['drawn']} drawn{there}, {account['seconds']:.1f} s", file=sys.stdout)
