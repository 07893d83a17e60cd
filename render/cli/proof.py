"""`twillight proof`: what a shop sends to its customer for approval."""

from __future__ import annotations

import time
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from render.asked import read_file
from render.cli.options import (
    Debug,
    DesignFile,
    FabricColour,
    FabricName,
    FinishName,
    Force,
    Held,
    HoopName,
    JobFile,
    LightName,
    MachineName,
    MaxStitches,
    Mirror,
    Rotate,
    Seed,
    StabiliserName,
    ThreadColours,
    ThreadsFile,
)
from render.cli.say import standard_output
from render.errors import UsageError


class Paper(StrEnum):
    """Sizes of the page."""

    A4 = "a4"
    LETTER = "letter"


def proof(
    design: DesignFile,
    output: Annotated[str, typer.Option("--output", "-o", metavar="OUT", help="The proof: .pdf.")],
    job: JobFile = None,
    fabric: FabricName = None,
    fabric_colour: FabricColour = None,
    threads: ThreadsFile = None,
    thread: ThreadColours = None,
    light: LightName = None,
    machine: MachineName = None,
    finish: FinishName = None,
    stabiliser: StabiliserName = None,
    hoop: HoopName = None,
    held: Held = None,
    rotate: Rotate = 0.0,
    mirror: Mirror = False,
    paper: Annotated[Paper, typer.Option("--paper", help="Size of the page.")] = Paper.A4,
    operator: Annotated[bool, typer.Option("--operator", help="Add a page for the machine.")] = False,
    language: Annotated[
        str | None,
        typer.Option("--language", metavar="CODE", help="en, de, es, fr, pt or zh.  [default: the job's]"),
    ] = None,
    seed: Seed = None,
    max_stitches: MaxStitches = None,
    force: Force = False,
    debug: Debug = False,
) -> None:
    """Make the proof of DESIGN that the customer signs: at true size, with threads and fingerprints."""
    started = time.perf_counter()
    from render.write.files import check_destination, write_file

    if Path(output).suffix.lower() != ".pdf":
        raise UsageError(f"{Path(output).name!r} names no format of a proof: end it in .pdf")
    check_destination(output, force=force)
    from render.materials.job import make_job
    from render.proof import make_proof
    from render.proof.pdf import proof_pdf
    from render.terminal import Progress

    order = make_job(
        job,
        fabric=fabric,
        fabric_colour=fabric_colour,
        threads=threads,
        thread=tuple(thread or ()),
        light=light,
        machine=machine,
        finish=finish.value if finish else None,
        stabiliser=stabiliser,
        hoop=hoop,
        held=held,
        seed=seed,
    )
    stitch_file = read_file(design, max_stitches)
    with Progress() as progress:
        made = make_proof(
            stitch_file, order, language=language, rotate_deg=rotate, mirror=mirror, progress=progress
        )
    write_file(proof_pdf(made, paper=paper.value, operator=operator), output, force=force)
    prints = made.account.fingerprints
    with standard_output():
        print(f"file fingerprint    {prints.file}")
        print(f"stitch fingerprint  {prints.stitches}")
        for note in made.ready.notes:
            print(f"note: {note}")
        print(f"{output}: {time.perf_counter() - started:.1f} s")
