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
    from render.write.files import check_destination, write_files
    from render.write.page import encode_pages, page_format
    from render.write.stitch_file import encode_stitches, stitch_format

    readings = str(Path(output).with_suffix(".csv"))
    for path in (output, readings, *([sheet] if sheet is not None else [])):
        check_destination(path, force=force)
    made = make_swatch()
    files = {output: encode_stitches(made.design, stitch_format(output))}
    files[readings] = readings_template(made).encode()
    if sheet is not None:
        from render.swatch.sheet import draw_sheet

        page = page_format(sheet)
        files[sheet] = encode_pages([draw_sheet(made)], page)
    write_files(files, force=force)
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
