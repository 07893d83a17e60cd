"""`twillight animate`: the design being sewn, stitch by stitch, as a film or a storyboard."""

from __future__ import annotations

import json
import time
from typing import TYPE_CHECKING, Annotated, Any

import typer

from render.asked import read_file
from render.cli.film_order import check_counts, check_files, film_order
from render.cli.options import (
    FILMS,
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
    ThreadColours,
    ThreadsFile,
)
from render.cli.say import standard_output

if TYPE_CHECKING:
    from render.animation import Film
    from render.animation.storyboard import KeyMoment


def animate(
    design: DesignFile,
    output: Annotated[
        str | None,
        typer.Option("--output", "-o", metavar="OUT", help=f"The film: {FILMS}; the PNG is animated."),
    ] = None,
    sheet: Annotated[
        str | None,
        typer.Option(metavar="PICTURE", help="A storyboard of the moments that matter, with their numbers."),
    ] = None,
    moments: Annotated[
        int | None, typer.Option(metavar="N", help="Storyboard: so many moments, evenly spread, instead.")
    ] = None,
    size: Annotated[
        str, typer.Option(metavar="NAME|WxH", help="phone, square, wide, or pixels such as 720x900.")
    ] = "square",
    seconds: Annotated[
        float | None, typer.Option(metavar="S", help="Seconds of the whole film.  [default: 20]")
    ] = None,
    speed: Annotated[
        float | None, typer.Option(metavar="X", help="X times as fast as the machine; 1 is its own time.")
    ] = None,
    stitches_per_second: Annotated[
        float | None, typer.Option(metavar="N", help="So many stitches in each second.")
    ] = None,
    fps: Annotated[
        float | None,
        typer.Option(metavar="N", help="Frames a second.  [default: 20 or 30, as usual for the format]"),
    ] = None,
    first: Annotated[int | None, typer.Option("--from", metavar="N", help="Begin with this stitch.")] = None,
    last: Annotated[int | None, typer.Option("--to", metavar="M", help="End with this stitch.")] = None,
    hold: Annotated[float, typer.Option(metavar="S", help="Seconds that the finished piece is shown.")] = 2.0,
    needle: Annotated[bool, typer.Option("--needle", help="Show a small needle with its shadow.")] = False,
    caption: Annotated[
        bool, typer.Option("--caption", help="Name colour, stitch and time at the machine.")
    ] = False,
    plays: Annotated[int, typer.Option(metavar="N", help="GIF and PNG: play so often; 0 is for ever.")] = 0,
    margin_mm: Annotated[
        float, typer.Option(metavar="MM", help="Cloth shown around the design at least.")
    ] = 6.0,
    job: JobFile = None,
    fabric: FabricName = None,
    fabric_colour: FabricColour = None,
    threads: ThreadsFile = None,
    thread: ThreadColours = None,
    light: LightName = None,
    machine: MachineName = None,
    finish: FinishName = None,
    rotate: Rotate = 0.0,
    mirror: Mirror = False,
    stabiliser: StabiliserName = None,
    hoop: HoopName = None,
    held: Held = None,
    needle_tension_n: NeedleTension = None,
    in_hoop: Annotated[
        bool,
        typer.Option("--in-hoop", help="Leave the piece in the hoop at the end, where it is calibrated."),
    ] = False,
    as_programmed: Annotated[
        bool, typer.Option("--as-programmed", help="On cloth that lies still: no pull, no push.")
    ] = False,
    seed: Seed = None,
    max_stitches: MaxStitches = None,
    as_json: AsJson = False,
    force: Force = False,
    debug: Debug = False,
) -> None:
    """Show DESIGN being sewn, stitch by stitch.

    To spot needless jumps and bad order, and to sell it.
    """
    started = time.perf_counter()
    check_files(output, sheet, force=force)
    order = film_order(
        output,
        size,
        fps,
        pace={"seconds": seconds, "speed": speed, "stitches_per_s": stitches_per_second},
        hold_s=hold,
        first=first,
        last=last,
        needle=needle,
        caption=caption,
        rotate_deg=rotate,
        mirror=mirror,
        margin_mm=margin_mm,
    )
    check_counts(plays, moments, sheet)
    from render.animation import film_of
    from render.animation.storyboard import key_moments
    from render.materials.job import make_job

    asked = make_job(
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
        in_hoop=in_hoop,
        as_programmed=as_programmed or None,
        seed=seed,
    )
    film = film_of(read_file(design, max_stitches), asked, order)
    account: dict[str, Any] = {"notes": list(film.ready.notes)}
    chosen = key_moments(film, moments) if sheet is not None else ()
    if output is not None:
        account |= _write_film(film, output, plays, force=force)
    if sheet is not None:
        account |= _write_sheet(film, sheet, chosen, force=force)
    account["machine_s"] = round(float(film.timeline.machine_s[-1]), 1)
    account["seconds_taken"] = round(time.perf_counter() - started, 3)
    _say(account, as_json=as_json)


def _write_film(film: Film, output: str, plays: int, *, force: bool) -> dict[str, Any]:
    from render.animation.frames import frames_of, key_pictures
    from render.terminal import Progress
    from render.write.films import Shape
    from render.write.video import film_file

    cols, rows = film.window.cols, film.window.rows
    shape = Shape(cols, rows, film.order.fps, plays)
    count = film.timeline.frames
    with (
        Progress(time_left=True) as progress,
        film_file(output, shape, palette_from=key_pictures(film), force=force) as writer,
    ):
        for done, pixels in enumerate(frames_of(film), 1):
            writer.add(pixels)
            progress(done / count)
    return {
        "film": {
            "output": output,
            "width_px": cols,
            "height_px": rows,
            "frames": count,
            "fps": film.order.fps,
            "seconds": round(count / film.order.fps, 3),
        }
    }


def _write_sheet(film: Film, sheet: str, chosen: tuple[KeyMoment, ...], *, force: bool) -> dict[str, Any]:
    from render.animation.storyboard import storyboard
    from render.write.picture import write_picture

    write_picture(storyboard(film, chosen), sheet, force=force)
    return {
        "sheet": {"output": sheet, "moments": [{"title": m.title, "stitches": m.stitches} for m in chosen]}
    }


def _say(account: dict[str, Any], *, as_json: bool) -> None:
    with standard_output():
        if as_json:
            print(json.dumps(account, ensure_ascii=False, indent=2))
            return
        for note in account["notes"]:
            print(f"note: {note}")
        minutes, seconds = divmod(round(account["machine_s"]), 60)
        print(f"at the machine: {minutes} min {seconds:02d} s")
        if "film" in account:
            film = account["film"]
            print(
                f"{film['output']}: {film['width_px']} x {film['height_px']} px, {film['frames']} frames, "
                f"{film['seconds']:g} s, made in {account['seconds_taken']:.1f} s"
            )
        if "sheet" in account:
            print(f"{account['sheet']['output']}: {len(account['sheet']['moments'])} moments")
