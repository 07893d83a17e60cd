"""`twillight swatch`: a test swatch to sew, and what its readings are written on."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from render.cli.options import Debug, Force
from render.cli.say import standard_output


def swatch(
    output: Annotated[
        str,
        typer.Option("--output", "-o", metavar="OUT", help="The stitch file; its ending says which format."),
    ] = "swatch.dst",
    sheet: Annotated[
        str | None,
        typer.Option(
            metavar="FILE", help="Also a sheet to print, A4: what to do, and where to write. .pdf or .png."
        ),
    ] = None,
    force: Force = False,
    debug: Debug = False,
) -> None:
    """Write a test swatch to sew and measure.

    The list that its readings go into is written beside it.
    """
    from render.swatch import make_swatch, readings_template
    from render.write.files import check_destination, write_file
    from render.write.stitch_file import stitch_format, write_stitches

    stitch_format(output)
    readings = str(Path(output).with_suffix(".csv"))
    for path in (output, readings):
        check_destination(path, force=force)
    if sheet is not None:
        from render.swatch.sheet import draw_sheet
        from render.write.page import page_format, write_pages

        page_format(sheet)
        check_destination(sheet, force=force)
    made = make_swatch()
    write_stitches(made.design, output, force=force)
    write_file(readings_template(made).encode(), readings, force=force)
    if sheet is not None:
        write_pages([draw_sheet(made)], sheet, force=force)
    left, top = made.design.xy_mm.min(0)
    right, bottom = made.design.xy_mm.max(0)
    with standard_output():
        print(
            f"{output}: {made.stitches:,} stitches, {right - left:.0f} x {bottom - top:.0f} mm, one colour, "
            f"{len(made.columns)} columns"
        )
        print(f"{readings}: their programmed widths; write the widths you read beside them")
        if sheet is not None:
            print(f"{sheet}: how to sew and measure; print it at 100 %")
        print(f"then: twillight fit {readings} --fabric NAME -o my-fabric.toml")
