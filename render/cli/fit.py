"""`twillight fit`: a fabric fitted to the shop's own machine."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Annotated

import typer

from render.cli.options import (
    AsJson,
    Debug,
    FabricName,
    Force,
    Held,
    HoopName,
    NeedleTension,
    StabiliserName,
)
from render.cli.say import standard_output
from render.errors import UsageError


def fit(
    readings: Annotated[
        list[str],
        typer.Argument(metavar="READINGS", help="The filled-in list of a swatch, or of several (CSV)."),
    ],
    output: Annotated[
        str, typer.Option("--output", "-o", metavar="OUT", help="The fabric to write: a .toml file.")
    ],
    fabric: FabricName = None,
    stabiliser: StabiliserName = None,
    hoop: HoopName = None,
    held: Held = None,
    needle_tension_n: NeedleTension = None,
    free_tension: Annotated[
        bool,
        typer.Option("--free-tension", help="Fit the tension in a stitch too, where the readings show it."),
    ] = False,
    tension_prior: Annotated[
        float | None,
        typer.Option(
            metavar="SHARE",
            help="Fit it with what is known beforehand: 0.3 means usual within 30 %, one sigma.",
        ),
    ] = None,
    as_json: AsJson = False,
    force: Force = False,
    debug: Debug = False,
) -> None:
    """Fit a fabric to READINGS of the test swatch.

    The swatch is sewn on your machine and measured while it is still in the hoop.
    """
    from render.materials.fabrics import FILE, fabric_names
    from render.materials.own_file import is_toml, read_toml
    from render.write.files import check_destination, check_not_read, write_file

    if Path(output).suffix != ".toml":
        raise UsageError(f"{output!r} is no name for a fabric file: end it in .toml")
    if fabric is not None and is_toml(fabric):
        if Path(fabric).name != FILE or "based_on" in read_toml(fabric, "fabric"):
            raise UsageError(f"{fabric} is based on another fabric: fit that one, by its name or folder")
        fabric = str(Path(fabric).parent)
    if tension_prior is not None and not 0.01 <= tension_prior <= 1:
        raise UsageError(f"--tension-prior {tension_prior:g} is no share: give 0.01 to 1, such as 0.3")
    check_destination(output, force=force)
    check_not_read(output, *readings, None if fabric is None else str(Path(fabric) / FILE))
    from render.fit import fit_fabric
    from render.fit.own_fabric import account_of, fabric_file, summary_of
    from render.materials.job import make_job
    from render.terminal import Progress

    job = make_job(
        fabric=fabric, stabiliser=stabiliser, hoop=hoop, held=held, needle_tension_n=needle_tension_n
    )
    with Progress() as progress:
        fitted = fit_fabric(
            readings, job, free_tension=free_tension, tension_prior=tension_prior, progress=progress
        )
    account = account_of(
        fitted, held=job.held, needle_tension_n=needle_tension_n, tension_prior=tension_prior
    )
    # A folder of one's own is named from where the new file lies.
    named = job.fabric.name
    if named not in fabric_names():
        named = Path(os.path.relpath(job.fabric.folder, Path(output).resolve().parent)).as_posix()
    text = fabric_file(account, title=job.fabric.title, based_on=named)
    write_file(text.encode(), output, force=force)
    account["output"] = output
    with standard_output():
        if as_json:
            print(json.dumps(account, ensure_ascii=False, indent=2))
            return
        for line in summary_of(account):
            print(line)
        print(f"{output}: draw with it by --fabric {output}")
