"""`twillight changes`: what a digitizer's revision changed."""

from __future__ import annotations

import json
from typing import Annotated

import typer

from render.asked import read_file
from render.cli.options import (
    PICTURES,
    AsJson,
    Debug,
    FabricName,
    Force,
    JobFile,
    MaxStitches,
    StabiliserName,
)
from render.cli.say import standard_output


def changes(
    old: Annotated[str, typer.Argument(metavar="OLD", help="The stitch file as it was.")],
    new: Annotated[str, typer.Argument(metavar="NEW", help="The stitch file as it is now.")],
    output: Annotated[
        str | None,
        typer.Option("--output", "-o", metavar="OUT", help=f"Both side by side: {PICTURES}."),
    ] = None,
    job: JobFile = None,
    fabric: FabricName = None,
    stabiliser: StabiliserName = None,
    everything: Annotated[bool, typer.Option("--all", help="List small changes, too.")] = False,
    max_stitches: MaxStitches = None,
    as_json: AsJson = False,
    force: Force = False,
    debug: Debug = False,
) -> None:
    """Show what changed from OLD to NEW.

    Objects, stitches, faults and time.
    """
    from render.changes import compare_plans
    from render.changes.account import account, lines
    from render.inspect import inspect
    from render.inspection import piece_of
    from render.materials.job import make_job
    from render.preview import sew_design
    from render.terminal import Progress
    from render.write.files import check_destination
    from render.write.picture import check_picture_name

    if output is not None:
        check_destination(output, force=force)
        check_picture_name(output)
    order = make_job(job, fabric=fabric, stabiliser=stabiliser)
    files = [read_file(path, max_stitches) for path in (old, new)]
    with Progress():
        ready = [sew_design(one, order) for one in files]
        found = [inspect(piece_of(one, order)) for one in ready]
    plans = [one.sewn.plan for one in ready]
    differences = compare_plans(plans[0], plans[1], found[0], found[1])
    values = account(
        (files[0].name, files[1].name), differences, found[0].production, found[1].production, plans[1].box_mm
    )
    if output is not None:
        from render.changes.sheet import sheet_strips
        from render.compose.page import stacked
        from render.write.picture import write_picture

        strips = sheet_strips((ready[0], ready[1]), order, differences, values, list(lines(values)))
        write_picture(stacked(strips), output, force=force)
        values["output"] = output
    with standard_output():
        if as_json:
            print(json.dumps(values, ensure_ascii=False, indent=2))
        else:
            print(
                "\n".join([*lines(values, everything=everything), *([output] if output is not None else [])])
            )
