"""`twillight inspect`: every problem of a design, before a garment is spoiled."""

from __future__ import annotations

import json
from enum import StrEnum
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from render.asked import read_file
from render.cli.options import (
    PICTURES,
    AsJson,
    Debug,
    FabricColour,
    FabricName,
    Force,
    Held,
    HoopName,
    JobFile,
    MachineName,
    MaxStitches,
    NeedleTension,
    StabiliserName,
    ThreadColours,
    ThreadsFile,
)
from render.cli.say import standard_output
from render.cli.waiving import save_waivers
from render.cli.watch import keep_looking, state_of
from render.errors import UsageError

if TYPE_CHECKING:
    from render.inspection import Report
    from render.inspection.maps import MapName
    from render.model import Job


class Map(StrEnum):
    """What can be shown as a map over the piece."""

    COVER = "cover"
    CROWDING = "crowding"
    DISPLACEMENT = "displacement"
    PUCKER = "pucker"
    ORDER = "order"


class FailOn(StrEnum):
    """What makes the command fail, for scripts."""

    FIX = "fix"
    CHECK = "check"


FOUND = 1  # exit code where `--fail-on` is met


def inspect(
    design: Annotated[
        str,
        typer.Argument(
            metavar="DESIGN", help="The stitch file, or a folder of them; - reads standard input."
        ),
    ],
    output: Annotated[
        str | None,
        typer.Option(
            "--output", "-o", metavar="OUT", help=f"The annotated picture: {PICTURES}; or .pdf or .html."
        ),
    ] = None,
    job: JobFile = None,
    fabric: FabricName = None,
    fabric_colour: FabricColour = None,
    cap: Annotated[bool, typer.Option("--cap", help="It is sewn on a cap, in the cap frame.")] = False,
    threads: ThreadsFile = None,
    thread: ThreadColours = None,
    machine: MachineName = None,
    stabiliser: StabiliserName = None,
    hoop: HoopName = None,
    held: Held = None,
    needle_tension_n: NeedleTension = None,
    limits: Annotated[
        str | None, typer.Option(metavar="FILE", help="Your own limits (TOML); see: twillight list limits.")
    ] = None,
    maps: Annotated[
        list[Map] | None,
        typer.Option("--map", metavar="|".join(Map), help="Also a map of this in the report. Repeatable."),
    ] = None,
    quantity: Annotated[
        int | None, typer.Option(metavar="N", help="Pieces of the order: what it takes in all.")
    ] = None,
    heads: Annotated[int, typer.Option(metavar="N", help="Heads that sew at once.")] = 1,
    artwork: Annotated[
        str | None, typer.Option(metavar="PICTURE", help="The customer's logo, to compare the sewing with.")
    ] = None,
    waive: Annotated[
        list[int] | None,
        typer.Option(
            metavar="N", help="Finding N is meant so: write that into the job file, old or new. Repeatable."
        ),
    ] = None,
    why: Annotated[str, typer.Option(metavar="TEXT", help="Why it is meant so.")] = "",
    everything: Annotated[bool, typer.Option("--all", help="Show mild remarks, too.")] = False,
    watch: Annotated[bool, typer.Option("--watch", help="Again whenever the file changes.")] = False,
    fail_on: Annotated[
        FailOn | None, typer.Option(help=f"Exit with {FOUND} where there is anything so bad, for scripts.")
    ] = None,
    max_stitches: MaxStitches = None,
    as_json: AsJson = False,
    force: Force = False,
    debug: Debug = False,
) -> None:
    """Find what would spoil a garment sewn from DESIGN.

    Says where each fault is, why it is one, and what to do.
    """
    from render.materials.job import make_job
    from render.materials.own_file import is_folder

    folder = design != "-" and is_folder(design)
    _check(
        output,
        artwork,
        job=job,
        one=not folder,
        force=force,
        waive=bool(waive),
        why=bool(why),
        heads=heads != 1 and quantity is None,
        maps=bool(maps),
        watch=watch,
        piped=design == "-",
    )
    order = make_job(
        None if waive and job is not None and not Path(job).exists() else job,
        fabric="cap-front" if cap and job is None and fabric is None else fabric,
        fabric_colour=fabric_colour,
        threads=threads,
        thread=tuple(thread or ()),
        machine=machine,
        stabiliser=stabiliser,
        hoop="cap-frame" if cap and hoop is None else hoop,
        held=held,
        needle_tension_n=needle_tension_n,
    )

    asked: dict[str, Any] = {"limits": limits, "artwork": artwork, "quantity": quantity, "heads": heads}
    look = partial(_look, order, asked, max_stitches)
    shown: list[MapName] = [one.value for one in maps or ()]
    show = partial(_one, order=order, output=output, maps=shown, as_json=as_json, everything=everything)
    if folder:
        from render.cli.folder import inspect_folder

        levels = inspect_folder(Path(design), look, as_json=as_json)
    else:
        before = state_of(Path(design)) if watch else None
        report = look(design)
        show(report, force=force)
        if waive and job is not None:
            save_waivers(report, job, waive, why, as_json=as_json)
        if watch:
            keep_looking(design, before, look, partial(show, force=True))
        levels = {one.severity for one in report.found.problems}
    if fail_on is not None and levels & ({"fix"} if fail_on is FailOn.FIX else {"fix", "check"}):
        raise typer.Exit(FOUND)


def _check(
    output: str | None,
    artwork: str | None,
    *,
    job: str | None,
    one: bool,
    force: bool,
    waive: bool,
    why: bool,
    heads: bool,
    maps: bool,
    watch: bool,
    piped: bool,
) -> None:
    """Refuse at once what makes no sense together."""
    from render.write.files import check_destination, check_not_read
    from render.write.picture import check_picture_name

    if output is not None:
        if not one:
            raise UsageError("a folder gets a summary and no picture: leave out -o, or name one stitch file")
        check_destination(output, force=force)
        check_not_read(output, artwork)
        check_picture_name(output, besides=(".pdf", ".html"))
    if maps and output is None:
        raise UsageError("--map is drawn into the report: name it with -o")
    if waive and job is None:
        raise UsageError("--waive writes into a job file: name it with --job")
    if waive and job is not None:
        check_destination(job, force=True)
    if why and not waive:
        raise UsageError("--why says why a finding is waived: name the finding with --waive")
    if heads:
        raise UsageError("--heads are those that sew an order: say of how many pieces with --quantity")
    if (waive or watch) and not one:
        raise UsageError("--waive and --watch work on one stitch file: name one instead of a folder")
    if watch and piped:
        raise UsageError("--watch needs a file to watch: standard input comes only once")


def _look(order: Job, asked: dict[str, Any], max_stitches: int | None, path: str) -> Report:
    from render.inspection import report_on
    from render.terminal import Progress

    stitch_file = read_file(path, max_stitches)
    with Progress():
        return report_on(stitch_file, order, **asked)


def _one(
    report: Report,
    *,
    order: Job,
    output: str | None,
    maps: list[MapName],
    as_json: bool,
    everything: bool,
    force: bool,
) -> None:
    from render.inspection.account import lines

    values: dict[str, Any] = dict(report.account)
    if output is not None:
        _write(report, order, output, maps, force=force)
        values["output"] = output
    with standard_output():
        if as_json:
            print(json.dumps(values, ensure_ascii=False, indent=2))
        else:
            print("\n".join([*lines(values, everything=everything), *([output] if output else [])]))


def _write(report: Report, order: Job, output: str, maps: list[MapName], *, force: bool) -> None:
    """The annotated picture in the form that the file name asks for."""
    from render.compose.page import on_pages, stacked
    from render.inspection.html import report_html
    from render.inspection.sheet import report_strips
    from render.write.files import write_file
    from render.write.page import write_pages
    from render.write.picture import write_picture

    ending = Path(output).suffix.lower()
    if ending == ".html":
        write_file(report_html(report, order, maps).encode("utf-8"), output, force=force)
    elif ending == ".pdf":
        write_pages(on_pages(report_strips(report, order, maps)), output, force=force)
    else:
        write_picture(stacked(report_strips(report, order, maps)), output, force=force)
