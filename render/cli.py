"""The command line: read the options, call the library, say what came out.

Only this module knows typer. Nothing heavy is imported before a command runs, so that
`--help` and shell completion answer at once.
"""

from __future__ import annotations

import contextlib
import json
import os
import sys
import time
import traceback
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated, Any, TextIO

import typer

from render.asked import check_output, read_file, view_of
from render.errors import OutputError, TwillightError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from render.model import Picture

EPILOG = """\b
Exit codes:
  0    done
  2    the command makes no sense as typed, or would replace a file
  65   the stitch file, or another file or value handed in, cannot be used
  70   a fault of this program
  74   the result cannot be written
  130  stopped with Ctrl-C
"""

app = typer.Typer(
    help="Shows, before a needle moves, how a machine-embroidery design will really sew out.",
    epilog=EPILOG,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)


class Finish(StrEnum):
    """How much tidying the piece has had."""

    OFF_MACHINE = "off-machine"
    CLEANED = "cleaned"


class Listed(StrEnum):
    """What `list` can show."""

    FABRICS = "fabrics"
    THREADS = "threads"
    LIGHTS = "lights"
    MACHINES = "machines"
    STABILISERS = "stabilisers"
    HOOPS = "hoops"
    FORMATS = "formats"


def _fabric_names() -> list[str]:
    from render.materials.fabrics import fabric_names

    return list(fabric_names())


def _print_version(asked: bool) -> None:
    if asked:
        from render import __version__

        print(f"twillight {__version__}")
        raise typer.Exit


@app.callback(invoke_without_command=True)
def twillight(
    context: typer.Context,
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    if context.invoked_subcommand is None:
        print(context.get_help())


@app.command(epilog=EPILOG)
def draw(
    design: Annotated[str, typer.Argument(metavar="DESIGN", help="The stitch file; - reads standard input.")],
    output: Annotated[
        str,
        typer.Option(
            "--output", "-o", metavar="OUT", help="The picture: .png, .jpg, .tif or .webp; - sends a PNG on."
        ),
    ],
    job: Annotated[
        str | None, typer.Option(metavar="FILE", help="Job file (TOML): cloth, threads, machine, customer.")
    ] = None,
    fabric: Annotated[
        str | None,
        typer.Option(
            metavar="NAME|FOLDER",
            help="The cloth; see: twillight list fabrics.  [default: pique]",
            autocompletion=_fabric_names,
        ),
    ] = None,
    fabric_colour: Annotated[
        str | None, typer.Option(metavar="COLOUR", help='Its colour: "#1f3a6b", navy, "lab(30 5 -30)".')
    ] = None,
    threads: Annotated[
        str | None, typer.Option(metavar="FILE", help="Thread list (TOML or CSV), one thread a colour block.")
    ] = None,
    thread: Annotated[
        list[str] | None,
        typer.Option(metavar="N=COLOUR", help="Colour of block N, or of blocks 1,4; may be repeated."),
    ] = None,
    light: Annotated[
        str | None,
        typer.Option(
            metavar="NAME|FILE", help="The light; see: twillight list lights.  [default: soft-studio]"
        ),
    ] = None,
    machine: Annotated[
        str | None,
        typer.Option(
            metavar="NAME|FILE", help="The machine; see: twillight list machines.  [default: unknown]"
        ),
    ] = None,
    finish: Annotated[
        Finish | None,
        typer.Option(help="With jumps and tails as sewn, or clipped clean.  [default: off-machine]"),
    ] = None,
    dpi: Annotated[float | None, typer.Option(help="Dots per inch.  [default: 300]")] = None,
    width_px: Annotated[int | None, typer.Option(help="Width of the picture instead of --dpi.")] = None,
    margin_mm: Annotated[float, typer.Option(help="Cloth shown around the design.")] = 6.0,
    crop_hoop: Annotated[
        str | None,
        typer.Option(metavar="WxH", help="Show this area in mm around the centre, such as 100x100."),
    ] = None,
    rotate: Annotated[
        float, typer.Option(metavar="DEG", help="Turn the design on the cloth, clockwise.")
    ] = 0.0,
    mirror: Annotated[bool, typer.Option("--mirror", help="Swap left and right.")] = False,
    transparent: Annotated[
        bool, typer.Option("--transparent", help="Leave out the cloth: the stitches and their shadow.")
    ] = False,
    stabiliser: Annotated[
        str | None,
        typer.Option(
            metavar="NAME",
            help="Under the cloth; see: twillight list stabilisers.  [default: as usual for it]",
        ),
    ] = None,
    hoop: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="What holds it; see: twillight list hoops.  [default: by size]"),
    ] = None,
    held: Annotated[
        str | None,
        typer.Option(metavar="HOW", help="hooped, over-stretched, floated or bonded.  [default: hooped]"),
    ] = None,
    needle_tension_n: Annotated[
        float | None, typer.Option(help="Needle thread tension in newtons, as a gauge reads it.")
    ] = None,
    taken_out: Annotated[
        bool, typer.Option("--taken-out", help="As it lies out of the hoop; not calibrated yet.")
    ] = False,
    as_programmed: Annotated[
        bool, typer.Option("--as-programmed", help="On cloth that lies still: no pull, no push.")
    ] = False,
    seed: Annotated[int | None, typer.Option(help="Another number gives another piece of cloth.")] = None,
    max_stitches: Annotated[int | None, typer.Option(help="Accept larger files than usual.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Report as one JSON object.")] = False,
    force: Annotated[bool, typer.Option("--force", help="Replace the picture if it is there.")] = False,
    debug: Annotated[bool, typer.Option("--debug", help="Show tracebacks.")] = False,
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
    if transparent and output != "-" and picture_format(output) == "JPEG":
        account["notes"].append("JPEG knows no transparency: the cut-out lies on white")
    account |= {"output": output, "seconds": round(time.perf_counter() - started, 3)}
    _say(account, as_json=as_json, stream=sys.stderr if output == "-" else sys.stdout)


@app.command("list")
def list_(
    what: Annotated[
        Listed,
        typer.Argument(
            metavar="WHAT", help="fabrics, threads, lights, machines, stabilisers, hoops or formats."
        ),
    ],
    as_json: Annotated[bool, typer.Option("--json", help="As one JSON array.")] = False,
) -> None:
    """Show what there is to choose from."""
    from render.choices import CHOICES

    choices = CHOICES[what.value]()
    width = max(len(name) for name, _ in choices)
    with _standard_output():
        if as_json:
            print(json.dumps([{"name": name, "title": title} for name, title in choices], ensure_ascii=False))
        else:
            print("\n".join(f"{name:<{width}}  {title}" for name, title in choices))


def _write(picture: Picture, output: str, *, force: bool) -> None:
    from render.write.picture import encode_picture, write_picture

    if output == "-":
        with _standard_output():
            sys.stdout.buffer.write(encode_picture(picture, "PNG"))
    else:
        write_picture(picture, output, force=force)


def _say(account: dict[str, Any], *, as_json: bool, stream: TextIO) -> None:
    from render.report import summary
    from render.terminal import shows_colours, swatch

    with _standard_output():
        if as_json:
            print(json.dumps(account, ensure_ascii=False, indent=2), file=stream)
            return
        for line in summary(account, swatch if shows_colours(stream) else lambda _: ""):
            print(line, file=stream)
        where = "standard output" if account["output"] == "-" else account["output"]
        print(f"{where}: {_size(account['picture'])}, {account['seconds']:.1f} s", file=stream)


@contextlib.contextmanager
def _standard_output() -> Iterator[None]:
    """Write what is printed, or fail in our own words."""
    try:
        yield
        sys.stdout.flush()
    except OSError as error:
        # Keep Python from trying, and complaining, once more at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if isinstance(error, BrokenPipeError):  # whoever read it has seen enough
            raise typer.Exit(OutputError.exit_code) from None
        raise OutputError(f"cannot write to standard output: {error.strerror}") from error


def _size(picture: dict[str, Any]) -> str:
    return (
        f"{picture['width_px']} x {picture['height_px']} px at {picture['dpi']:g} dpi, "
        f"{picture['width_mm']:.1f} x {picture['height_mm']:.1f} mm"
    )


def _fail(message: str, code: int, *, debug: bool) -> int:
    if debug:
        traceback.print_exc()
    print(f"twillight: {' '.join(message.split())}", file=sys.stderr)
    return code


def _misuse(error: typer.TyperException) -> str:
    """What typer says of a command that makes no sense, and where to read more."""
    context = getattr(error, "ctx", None)
    command = context.command_path if context is not None else "twillight"
    reason = error.format_message().rstrip(".").replace("Value error, ", "")
    return f"{reason} ({command} --help tells more)"


def run(arguments: list[str] | None = None) -> int:
    """Run the command line and return its exit code; an error is one line on standard error."""
    debug = "--debug" in (sys.argv if arguments is None else arguments)
    try:
        code = app(arguments, prog_name="twillight", standalone_mode=False) or 0
    except TwillightError as error:
        return _fail(str(error), error.exit_code, debug=debug)
    except typer.TyperException as error:
        return _fail(_misuse(error), 2, debug=debug)
    except (typer.Abort, KeyboardInterrupt):
        code = 130
    except MemoryError:
        return _fail("there is not enough memory for this picture: lower --dpi", 70, debug=debug)
    except Exception as error:  # noqa: BLE001 - the last resort
        reason = f"{type(error).__name__}: {error}" if str(error) else type(error).__name__
        return _fail(
            f"this is a fault of twillight, not of your files ({reason}); --debug shows where",
            70,
            debug=debug,
        )
    if code == 130:
        return _fail("stopped", 130, debug=False)
    return int(code)


def main() -> None:
    """The command `twillight`."""
    for stream in (sys.stdout, sys.stderr):
        # A console that lacks a sign shows a question mark instead of failing.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    sys.exit(run())


if __name__ == "__main__":
    main()
