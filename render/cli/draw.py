"""`twillight draw`: the picture of a design as it will look sewn."""

from __future__ import annotations

import json
import sys
import time
from typing import TYPE_CHECKING, Annotated, Any, TextIO

import typer

from render.asked import check_output, read_file, view_of
from render.cli.options import (
    PICTURES,
    AsJson,
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
    NeedleTension,
    Rotate,
    Seed,
    StabiliserName,
    TakenOut,
    ThreadColours,
    ThreadsFile,
)
from render.cli.say import standard_output

if TYPE_CHECKING:
    from render.model import Picture


def draw(
    design: DesignFile,
    output: Annotated[
        str,
        typer.Option("--output", "-o", metavar="OUT", help=f"The picture: {PICTURES}; - sends a PNG on."),
    ],
    job: JobFile = None,
    fabric: FabricName = None,
    fabric_colour: FabricColour = None,
    threads: ThreadsFile = None,
    thread: ThreadColours = None,
    light: LightName = None,
    machine: MachineName = None,
    finish: FinishName = None,
    dpi: Annotated[float | None, typer.Option(metavar="N", help="Dots per inch.  [default: 300]")] = None,
    width_px: Annotated[
        int | None, typer.Option(metavar="PX", help="Width of the picture instead of --dpi.")
    ] = None,
    margin_mm: Annotated[float, typer.Option(metavar="MM", help="Cloth shown around the design.")] = 6.0,
    crop_hoop: Annotated[
        str | None,
        typer.Option(metavar="WxH", help="Show this area in mm around the centre, such as 100x100."),
    ] = None,
    rotate: Rotate = 0.0,
    mirror: Mirror = False,
    transparent: Annotated[
        bool, typer.Option("--transparent", help="Leave out the cloth: the stitches and their shadow.")
    ] = False,
    worn: Annotated[
        bool, typer.Option("--worn", help="A cap's front on its curve, as seen on a head; else flat.")
    ] = False,
    stabiliser: StabiliserName = None,
    hoop: HoopName = None,
    held: Held = None,
    needle_tension_n: NeedleTension = None,
    taken_out: TakenOut = False,
    as_programmed: Annotated[
        bool, typer.Option("--as-programmed", help="On cloth that lies still: no pull, no push.")
    ] = False,
    seed: Seed = None,
    max_stitches: MaxStitches = None,
    as_json: AsJson = False,
    force: Force = False,
    debug: Debug = False,
) -> None:
    """Draw DESIGN as it will look sewn on the cloth, at true scale."""
    started = time.perf_counter()
    check_output(output, force=force, as_json=as_json)
    view = view_of(
        dpi=dpi,
        width_px=width_px,
        margin_mm=margin_mm,
        crop_hoop=crop_hoop,
        rotate_deg=rotate,
        mirror=mirror,
        transparent=transparent,
        worn=worn,
    )
    from render.materials.job import make_job
    from render.preview import draw_design
    from render.report import report
    from render.terminal import Progress
    from render.write.picture import picture_format

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
        needle_tension_n=needle_tension_n,
        in_hoop=False if taken_out else None,
        as_programmed=as_programmed or None,
        seed=seed,
    )
    stitch_file = read_file(design, max_stitches)
    with Progress() as progress:
        drawn = draw_design(stitch_file, order, view, progress)
        _write(drawn.picture, output, force=force)
    account = report(stitch_file, drawn, order)
    if transparent and output != "-" and not (form := picture_format(output)).transparent:
        account["notes"].append(f"{form.title} knows no transparency: the cut-out lies on white")
    account |= {"output": output, "seconds": round(time.perf_counter() - started, 3)}
    _say(account, as_json=as_json, stream=sys.stderr if output == "-" else sys.stdout)


def _write(picture: Picture, output: str, *, force: bool) -> None:
    from render.write.picture import encode_picture, write_picture

    if output == "-":
        with standard_output():
            sys.stdout.buffer.write(encode_picture(picture, "PNG"))
    else:
        write_picture(picture, output, force=force)


def _say(account: dict[str, Any], *, as_json: bool, stream: TextIO) -> None:
    from render.report import summary
    from render.terminal import shows_colours, swatch

    with standard_output():
        if as_json:
            print(json.dumps(account, ensure_ascii=False, indent=2), file=stream)
            return
        for line in summary(account, swatch if shows_colours(stream) else lambda _: ""):
            print(line, file=stream)
        where = "standard output" if account["output"] == "-" else account["output"]
        print(f"{where}: {_size(account['picture'])}, {account['seconds']:.1f} s", file=stream)


def _size(picture: dict[str, Any]) -> str:
    return (
        f"{picture['width_px']} x {picture['height_px']} px at {picture['dpi']:g} dpi, "
        f"{picture['width_mm']:.1f} x {picture['height_mm']:.1f} mm"
    )
