"""Options that several commands take, each with one name, one help text and one meaning."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import typer

from render.modules import endings
from render.words import either

PICTURES, FILMS = (either(endings(f"render.write.{what}")) for what in ("pictures", "films"))


def _fabric_names() -> list[str]:
    from render.materials.fabrics import fabric_names

    return list(fabric_names())


class Finish(StrEnum):
    """How much tidying the piece has had."""

    OFF_MACHINE = "off-machine"
    CLEANED = "cleaned"


DesignFile = Annotated[str, typer.Argument(metavar="DESIGN", help="The stitch file; - reads standard input.")]
JobFile = Annotated[
    str | None,
    typer.Option("--job", metavar="FILE", help="Job file (TOML): cloth, threads, machine, customer."),
]
FabricName = Annotated[
    str | None,
    typer.Option(
        "--fabric",
        metavar="NAME|FOLDER|FILE",
        help="The cloth; see: twillight list fabrics.  [default: pique]",
        autocompletion=_fabric_names,
    ),
]
FabricColour = Annotated[
    str | None,
    typer.Option("--fabric-colour", metavar="COLOUR", help='Its colour: "#1f3a6b", navy, "lab(30 5 -30)".'),
]
ThreadsFile = Annotated[
    str | None,
    typer.Option("--threads", metavar="FILE", help="Thread list (TOML or CSV), one thread a colour block."),
]
ThreadColours = Annotated[
    list[str] | None,
    typer.Option(
        "--thread", metavar="N=COLOUR", help="Colour of block N, or of blocks 1,4; may be repeated."
    ),
]
LightName = Annotated[
    str | None,
    typer.Option(
        "--light",
        metavar="NAME|FILE",
        help="The light; see: twillight list lights.  [default: soft-studio]",
    ),
]
MachineName = Annotated[
    str | None,
    typer.Option(
        "--machine",
        metavar="NAME|FILE",
        help="The machine; see: twillight list machines.  [default: unknown]",
    ),
]
FinishName = Annotated[
    Finish | None,
    typer.Option("--finish", help="With jumps and tails as sewn, or clipped clean.  [default: off-machine]"),
]
Rotate = Annotated[
    float, typer.Option("--rotate", metavar="DEG", help="Turn the design on the cloth, clockwise.")
]
Mirror = Annotated[bool, typer.Option("--mirror", help="Swap left and right.")]
StabiliserName = Annotated[
    str | None,
    typer.Option(
        "--stabiliser",
        metavar="NAME",
        help="Under the cloth; see: twillight list stabilisers.  [default: as usual for it]",
    ),
]
HoopName = Annotated[
    str | None,
    typer.Option(
        "--hoop", metavar="NAME", help="What holds it; see: twillight list hoops.  [default: by size]"
    ),
]
Held = Annotated[
    str | None,
    typer.Option(
        "--held", metavar="HOW", help="hooped, over-stretched, floated or bonded.  [default: hooped]"
    ),
]
NeedleTension = Annotated[
    float | None,
    typer.Option("--needle-tension-n", metavar="NEWTONS", help="Needle thread tension, as a gauge reads it."),
]
TakenOut = Annotated[
    bool, typer.Option("--taken-out", help="As it lies out of the hoop; not calibrated yet.")
]
Seed = Annotated[
    int | None, typer.Option("--seed", metavar="N", help="Another number gives another piece of cloth.")
]
MaxStitches = Annotated[
    int | None,
    typer.Option("--max-stitches", metavar="N", help="Accept designs of more than 500,000 stitches."),
]
AsJson = Annotated[bool, typer.Option("--json", help="Report as one JSON object.")]
Force = Annotated[bool, typer.Option("--force", help="Replace what is there.")]
Debug = Annotated[bool, typer.Option("--debug", help="Show tracebacks.")]
