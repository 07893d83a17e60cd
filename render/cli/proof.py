"""`twillight proof`: what a shop sends to its customer for approval."""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

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

if TYPE_CHECKING:
    from render.proof import Proof

MOST_ALSO = 2
JPEG_QUALITY = 90


class Paper(StrEnum):
    """Sizes of the page."""

    A4 = "a4"
    LETTER = "letter"


def proof(
    design: DesignFile,
    output: Annotated[
        str,
        typer.Option(
            "--output",
            "-o",
            metavar="OUT",
            help="The proof: .pdf, or .html for a screen with a .pdf and a .jpg beside it.",
        ),
    ],
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
    also: Annotated[
        list[str] | None,
        typer.Option(
            "--also", metavar="JOB.toml", help="Another cloth or set of threads to choose, in .html."
        ),
    ] = None,
    language: Annotated[
        str | None,
        typer.Option("--language", metavar="CODE", help="en, de, es, fr, pt or zh.  [default: the job's]"),
    ] = None,
    seed: Seed = None,
    max_stitches: MaxStitches = None,
    force: Force = False,
    debug: Debug = False,
) -> None:
    """Make the proof of DESIGN that the customer signs.

    At true size, with threads and fingerprints.
    """
    started = time.perf_counter()
    written = _destinations(output, len(also or ()), force=force)
    from render.materials.job import make_job
    from render.proof import make_proof
    from render.terminal import Progress
    from render.write.files import write_files

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
    others = [make_job(one) for one in also or ()]
    stitch_file = read_file(design, max_stitches)
    with Progress() as progress:
        made, *more = (
            make_proof(
                stitch_file,
                one,
                language=language,
                rotate_deg=rotate,
                mirror=mirror,
                screen=len(written) > 1,
                progress=progress,
            )
            for one in (order, *others)
        )
    contents = _contents(made, more, paper, operator=operator, screen=len(written) > 1)
    write_files(dict(zip(written, contents, strict=True)), force=force)
    prints = made.account.fingerprints
    with standard_output():
        print(f"file fingerprint    {prints.file}")
        print(f"stitch fingerprint  {prints.stitches}")
        for note in made.ready.notes:
            print(f"note: {note}")
        print(f"{', '.join(written)}: {time.perf_counter() - started:.1f} s")


def _destinations(output: str, also: int, *, force: bool) -> list[str]:
    """The files that will be written, checked before any work: mail programs may stop an .html, so a page to
    print and a plain picture always stand beside it."""
    from render.write.files import check_destination

    suffix = Path(output).suffix.lower()
    if suffix not in (".pdf", ".html"):
        raise UsageError(f"{Path(output).name!r} names no format of a proof: end it in .pdf or .html")
    if also and (suffix != ".html" or also > MOST_ALSO):
        raise UsageError(f"--also adds up to {MOST_ALSO} choices, to a proof that ends in .html")
    beside = [".pdf", ".jpg"] if suffix == ".html" else []
    written = [output, *(str(Path(output).with_suffix(one)) for one in beside)]
    for one in written:
        check_destination(one, force=force)
    return written


def _contents(made: Proof, more: list[Proof], paper: Paper, *, operator: bool, screen: bool) -> list[bytes]:
    """What the files hold: the pages, for a screen between itself and a plain picture."""
    from render.proof.pdf import proof_pdf
    from render.write.picture import encode_jpeg

    if not screen:
        return [proof_pdf(made, paper=paper.value, operator=operator)]
    from render.proof.web import proof_html

    with ThreadPoolExecutor(1) as meanwhile:  # pages are set while close-ups for the screen are drawn
        pages = meanwhile.submit(proof_pdf, made, paper=paper.value, operator=operator)
        page = proof_html([made, *more]).encode()
        return [page, pages.result(), encode_jpeg(made.picture.pixels, JPEG_QUALITY)]
