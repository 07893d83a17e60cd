"""`twillight compare`: the same design on several cloths."""

from __future__ import annotations

import json
from typing import Annotated

import typer

from render.asked import read_file
from render.cli.options import (
    PICTURES,
    AsJson,
    Debug,
    DesignFile,
    Force,
    Held,
    HoopName,
    JobFile,
    LightName,
    MaxStitches,
    NeedleTension,
    StabiliserName,
    ThreadColours,
    ThreadsFile,
)
from render.cli.say import standard_output


def compare(
    design: DesignFile,
    fabrics: Annotated[
        str, typer.Option(metavar="A,B,C", help="The cloths, two or more; see: twillight list fabrics.")
    ],
    output: Annotated[
        str | None,
        typer.Option("--output", "-o", metavar="OUT", help=f"The sheet: {PICTURES}."),
    ] = None,
    job: JobFile = None,
    threads: ThreadsFile = None,
    thread: ThreadColours = None,
    light: LightName = None,
    stabiliser: StabiliserName = None,
    hoop: HoopName = None,
    held: Held = None,
    needle_tension_n: NeedleTension = None,
    max_stitches: MaxStitches = None,
    as_json: AsJson = False,
    force: Force = False,
    debug: Debug = False,
) -> None:
    """Show DESIGN on several cloths, side by side.

    Sewn on each, and drawn at one scale.
    """
    from render.compare import compare_cloths
    from render.compare.sheet import caption_lines, compare_strips
    from render.materials.job import make_job
    from render.terminal import Progress
    from render.write.files import check_destination
    from render.write.picture import check_picture_name

    if output is not None:
        check_destination(output, force=force)
        check_picture_name(output)
    order = make_job(
        job,
        threads=threads,
        thread=tuple(thread or ()),
        light=light,
        stabiliser=stabiliser,
        hoop=hoop,
        held=held,
        needle_tension_n=needle_tension_n,
    )
    stitch_file = read_file(design, max_stitches)
    names = [name.strip() for name in fabrics.split(",") if name.strip()]
    with Progress():
        cloths = compare_cloths(stitch_file, order, names)
    if output is not None:
        from render.compose.page import stacked
        from render.write.picture import write_picture

        write_picture(stacked(compare_strips(stitch_file.name, cloths)), output, force=force)
    with standard_output():
        if as_json:
            values = {"name": stitch_file.name, "cloths": [one.figures for one in cloths], "output": output}
            print(json.dumps(values, ensure_ascii=False, indent=2))
            return
        for one in cloths:
            print(f"{one.figures['title']}: {'; '.join(caption_lines(one.figures))}")
        if output is not None:
            print(output)
