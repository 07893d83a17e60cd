"""`twillight swatch`: a test swatch to sew, and what its readings are written on."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from render.cli.options import Debug, Force
from render.cli.say import standard_output
from render.errors import UsageError


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
    wheel: Annotated[
        bool, typer.Option("--wheel", help="An angle wheel instead, to photograph: see fit-thread.")
    ] = False,
    force: Force = False,
    debug: Debug = False,
) -> None:
    """Write a test swatch to sew and measure.

    The list that its readings go into is written beside it.
    """
    if wheel:
        if sheet is not None:
            raise UsageError("--sheet goes with the swatch that is measured: an angle wheel is photographed")
        _wheel(output, force=force)
        return
    from render.swatch import make_swatch, readings_template
    from render.write.files import check_destination, write_files
    from render.write.page import encode_pages, page_format
    from render.write.stitch_file import encode_stitches, stitch_format

    check_destination(output, force=force)
    readings = str(Path(output).with_suffix(".csv"))
    for path in (readings, *([sheet] if sheet is not None else [])):
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


def _wheel(output: str, *, force: bool) -> None:
    """Write the angle wheel."""
    from render.swatch.wheel import FRAME_MM, WEDGES, make_wheel
    from render.write.files import check_destination, write_file
    from render.write.stitch_file import encode_stitches, stitch_format

    ending = stitch_format(output)
    check_destination(output, force=force)
    made = make_wheel()
    write_file(encode_stitches(made.design, ending), output, force=force)
    with standard_output():
        print(
            f"{output}: {made.stitches:,} stitches, {FRAME_MM:.0f} x {FRAME_MM:.0f} mm, one colour, "
            f"{WEDGES} wedges in a frame"
        )
        print("photograph it from straight above under one lamp, a sheet of white paper beside it; then:")
        print(
            'twillight fit-thread PHOTO --corners "X,Y ..." --paper X,Y --light LAMP.toml -o my-thread.toml'
        )
