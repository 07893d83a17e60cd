"""`twillight pull`: what the cloth does to each object, and what brings it back."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Annotated

import typer

from render.asked import read_file
from render.cli.options import (
    PICTURES,
    AsJson,
    Debug,
    DesignFile,
    FabricColour,
    FabricName,
    Force,
    Held,
    HoopName,
    JobFile,
    MachineName,
    MaxStitches,
    Mirror,
    NeedleTension,
    Rotate,
    StabiliserName,
    TakenOut,
    ThreadColours,
    ThreadsFile,
)
from render.cli.say import standard_output

if TYPE_CHECKING:
    from render.model import Job
    from render.pull import Pull


def pull(
    design: DesignFile,
    output: Annotated[
        str | None,
        typer.Option(
            "--output",
            "-o",
            metavar="PICTURE",
            help=f"Also a picture, programmed against sewn: {PICTURES}; or .pdf.",
        ),
    ] = None,
    job: JobFile = None,
    fabric: FabricName = None,
    fabric_colour: FabricColour = None,
    threads: ThreadsFile = None,
    thread: ThreadColours = None,
    machine: MachineName = None,
    rotate: Rotate = 0.0,
    mirror: Mirror = False,
    stabiliser: StabiliserName = None,
    hoop: HoopName = None,
    held: Held = None,
    needle_tension_n: NeedleTension = None,
    taken_out: TakenOut = False,
    everything: Annotated[
        bool, typer.Option("--all", help="Show every object, also those without a width.")
    ] = False,
    max_stitches: MaxStitches = None,
    as_json: AsJson = False,
    force: Force = False,
    debug: Debug = False,
) -> None:
    """Show how far the cloth draws in each object of DESIGN.

    And how much wider to make it.
    """
    _check(output, force=force)
    from render.materials.job import make_job
    from render.preview import sew_design
    from render.pull import pull_of
    from render.pull.account import account, lines
    from render.terminal import Progress

    order = make_job(
        job,
        fabric=fabric,
        fabric_colour=fabric_colour,
        threads=threads,
        thread=tuple(thread or ()),
        machine=machine,
        stabiliser=stabiliser,
        hoop=hoop,
        held=held,
        needle_tension_n=needle_tension_n,
        in_hoop=False if taken_out else None,
    )
    stitch_file = read_file(design, max_stitches)
    with Progress():
        ready = sew_design(stitch_file, order, rotate_deg=rotate, mirror=mirror)
        found = pull_of(ready, topped=order.topped)
        if output is not None:
            _write(found, order, stitch_file.name, output, force=force)
    with standard_output():
        if as_json:
            print(json.dumps(account(found), ensure_ascii=False, indent=2))
        else:
            print("\n".join(lines(found, order, stitch_file.name, everything=everything)))
            if output is not None:
                print(output)


def _is_pdf(output: str) -> bool:
    return output.lower().endswith(".pdf")


def _check(output: str | None, *, force: bool) -> None:
    """Refuse at once what would be refused after the work."""
    from render.write.files import check_destination
    from render.write.picture import check_picture_name

    if output is not None:
        check_destination(output, force=force)
        check_picture_name(output, besides=(".pdf",))


def _write(found: Pull, order: Job, name: str, output: str, *, force: bool) -> None:
    from render.compose.page import on_pages, stacked
    from render.pull.sheet import pull_strips
    from render.write.page import write_pages
    from render.write.picture import write_picture

    strips = pull_strips(found, order, name)
    if _is_pdf(output):
        write_pages(on_pages(strips), output, force=force)
    else:
        write_picture(stacked(strips), output, force=force)
