"""`twillight fit-thread`: a thread fitted to a photograph of its angle wheel."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from render.asked import pairs_of
from render.cli.options import AsJson, Debug, FabricName, Force
from render.cli.say import standard_output
from render.errors import UsageError


def fit_thread(
    photo: Annotated[str, typer.Argument(metavar="PHOTO", help="The sewn wheel beside a sheet of paper.")],
    corners: Annotated[
        str,
        typer.Option(
            metavar='"X,Y X,Y X,Y X,Y"',
            help="Corners of the wheel's frame in pixels, clockwise from the one with the small square.",
        ),
    ],
    paper: Annotated[str, typer.Option(metavar="X,Y", help="A place on the paper, in pixels.")],
    light: Annotated[
        str, typer.Option(metavar="FILE", help="The one lamp it was photographed under, as a light (.toml).")
    ],
    output: Annotated[
        str, typer.Option("--output", "-o", metavar="OUT", help="The thread to write: a .toml file.")
    ],
    kind: Annotated[
        str, typer.Option(metavar="KIND", help="Its kind; see: twillight list threads.")
    ] = "rayon",
    size: Annotated[
        str | None, typer.Option(metavar="SIZE", help='Its size, such as "40 wt".  [default: 40 wt]')
    ] = None,
    fabric: FabricName = None,
    as_json: AsJson = False,
    force: Force = False,
    debug: Debug = False,
) -> None:
    """Fit a thread to a PHOTO of its angle wheel.

    Seen from straight above in the light of one lamp. The wheel to sew: twillight swatch --wheel.
    """
    from render.write.files import check_destination, check_not_read, write_file

    if Path(output).suffix != ".toml":
        raise UsageError(f"{output!r} is no name for a thread list: end it in .toml")
    corner_places, paper_places = pairs_of(corners, "--corners", 4), pairs_of(paper, "--paper", 1)
    check_destination(output, force=force)
    check_not_read(output, light)
    import numpy as np

    from render.fit.own_thread import account_of, fit_thread, summary_of, thread_file
    from render.materials.job import make_job
    from render.materials.threads import parse_size
    from render.terminal import Progress

    job = make_job(fabric=fabric, light=light, finish="cleaned")
    with Progress() as progress:
        fitted = fit_thread(
            photo,
            job,
            kind=kind,
            tex=None if size is None else parse_size(size)[0],
            corners_px=np.array(corner_places),
            paper_px=paper_places[0],
            progress=progress,
        )
    account = account_of(fitted)
    write_file(thread_file(account).encode(), output, force=force)
    account["output"] = output
    with standard_output():
        if as_json:
            print(json.dumps(account, ensure_ascii=False, indent=2))
            return
        for line in summary_of(account):
            print(line)
        print(f"{output}: sew the first block in it by --threads {output}, or copy it into a list of yours")
