"""`twillight scene`: the design on a garment, as a shop shows it."""

from __future__ import annotations

import json
import time
from typing import TYPE_CHECKING, Annotated, Any

import typer

from render.asked import colour_of, read_file
from render.cli.options import (
    PICTURES,
    AsJson,
    Debug,
    DesignFile,
    FabricColour,
    Finish,
    Force,
    JobFile,
    MaxStitches,
    Mirror,
    Rotate,
    Seed,
    ThreadColours,
    ThreadsFile,
)
from render.cli.say import standard_output
from render.cli.scene_files import Drawer, draw_all, planned, write_sheet
from render.cli.scene_place import asked_place
from render.errors import UsageError

if TYPE_CHECKING:
    from render.model import Design, Job
    from render.scene.frame import Frame
    from render.scene.photo.placing import Place
    from render.scene.sets import ColourSet


def _scene_names() -> list[str]:
    from render.scene.garments import garment_names

    return list(garment_names())


def scene(
    design: DesignFile,
    output: Annotated[
        str,
        typer.Option(
            "--output",
            "-o",
            metavar="OUT",
            help=f"The picture: {PICTURES}. Of several pictures this is the contact sheet, "
            "and each one lies beside it under its own name.",
        ),
    ],
    on: Annotated[
        list[str] | None,
        typer.Option(
            "--on",
            metavar="NAME",
            help="The garment; may be repeated; see: twillight list scenes.",
            autocompletion=_scene_names,
        ),
    ] = None,
    job: JobFile = None,
    fabric: Annotated[
        str | None,
        typer.Option(
            metavar="NAME|FOLDER|FILE",
            help="The cloth; see: twillight list fabrics.  [default: what such a garment is of]",
        ),
    ] = None,
    fabric_colour: FabricColour = None,
    trim_colour: Annotated[
        str | None, typer.Option("--trim-colour", metavar="COLOUR", help="Of buttons, cords and borders.")
    ] = None,
    threads: ThreadsFile = None,
    thread: ThreadColours = None,
    colour_sets: Annotated[
        str | None,
        typer.Option("--colour-sets", metavar="FILE", help="Sets of garment and thread colours (TOML)."),
    ] = None,
    light: Annotated[
        str | None,
        typer.Option(
            metavar="NAME|FILE", help="The light; see: twillight list lights.  [default: the scene's own]"
        ),
    ] = None,
    finish: Annotated[
        Finish | None,
        typer.Option(help="With jumps and tails as sewn, or clipped.  [default: cleaned, or the job's]"),
    ] = None,
    photo: Annotated[
        str | None,
        typer.Option(metavar="FILE", help="Your own photo of the blank garment, instead of --on."),
    ] = None,
    place: Annotated[
        str | None, typer.Option(metavar="FILE", help="Where on the photo, as --save-place wrote it (TOML).")
    ] = None,
    corners: Annotated[
        str | None,
        typer.Option(
            metavar="PIXELS", help='Four corners, clockwise from the top left: "812,640 1460,668 …".'
        ),
    ] = None,
    corners_mm: Annotated[
        str | None, typer.Option(metavar="WxH", help="Size of what has these corners, if not the design.")
    ] = None,
    points: Annotated[
        str | None, typer.Option(metavar="PIXELS", help='Two points seen squarely: "700,400 1500,410".')
    ] = None,
    distance_mm: Annotated[
        float | None, typer.Option(metavar="MM", help="How far apart these two points are.")
    ] = None,
    centre: Annotated[
        str | None, typer.Option(metavar="PIXELS", help='Middle of the design, with --points: "1210,905".')
    ] = None,
    cylinder_mm: Annotated[
        float | None, typer.Option(metavar="MM", help="Radius of a cap or sleeve that the design goes round.")
    ] = None,
    folds: Annotated[bool, typer.Option("--folds", help="Follow the photo's own folds.")] = False,
    mask: Annotated[
        str | None, typer.Option(metavar="FILE", help="A picture that is white where the garment shows.")
    ] = None,
    save_place: Annotated[
        str | None, typer.Option(metavar="FILE", help="Keep the placement for other designs.")
    ] = None,
    shape: Annotated[
        str, typer.Option("--shape", metavar="NAME", help="square, portrait, landscape or wide.")
    ] = "landscape",
    width_px: Annotated[int, typer.Option(metavar="PX", help="Width of the picture.")] = 2000,
    background: Annotated[
        str | None, typer.Option(metavar="COLOUR", help="What is seen around the garment.")
    ] = None,
    vignette: Annotated[
        float | None,
        typer.Option(metavar="SHARE", help="How dark the corners get, 0 to 1.  [default: a little]"),
    ] = None,
    transparent: Annotated[
        bool, typer.Option("--transparent", help="The garment alone, cut out, where it stands free.")
    ] = False,
    with_flat: Annotated[
        bool, typer.Option("--with-flat", help="Beside the design as it lies flat, both widths told.")
    ] = False,
    rotate: Rotate = 0.0,
    mirror: Mirror = False,
    seed: Seed = None,
    max_stitches: MaxStitches = None,
    as_json: AsJson = False,
    force: Force = False,
    debug: Debug = False,
) -> None:
    """Show DESIGN sewn on a garment, at true size.

    Cap, polo, towel and more, or your own photo of a blank one.
    """
    started = time.perf_counter()
    from render.materials.job import make_job
    from render.scene import frame_of
    from render.write.files import check_destination, check_not_read

    placing = asked_place(
        place,
        corners_px=corners,
        corners_mm=corners_mm,
        points_px=points,
        distance_mm=distance_mm,
        centre_px=centre,
        cylinder_mm=cylinder_mm,
        folds=folds,
    )
    _check(
        built_in=bool(on),
        photo=photo is not None,
        for_built_in=bool(transparent or trim_colour or background or with_flat),
        for_photo=(placing, mask, save_place) != (None, None, None),
    )
    if save_place is not None:
        check_destination(save_place, force=force)
    sets = _sets(colour_sets, trim_colour)
    plan = planned(output, on or ["photo"], sets, force=force)
    for path in (output, *(str(one.file) for one in plan)):
        check_not_read(path, photo, mask)
    backdrop_srgb = colour_of(background, "--background")
    frame = frame_of(shape, width_px, transparent=transparent, backdrop_srgb=backdrop_srgb, vignette=vignette)
    order = make_job(
        job,
        fabric=fabric,
        fabric_colour=fabric_colour,
        threads=threads,
        thread=tuple(thread or ()),
        light=light,
        finish=finish.value if finish else None if job else "cleaned",
        seed=seed,
    )
    stitch_file = read_file(design, max_stitches)
    turned: dict[str, Any] = {"rotate_deg": rotate, "mirror": mirror}
    own = {"own_fabric": bool(fabric or job), "own_light": bool(light or job), **turned}
    drawers = (
        {name: _on_garment(stitch_file, order, name, frame, own, with_flat=with_flat) for name in on or ()}
        if photo is None
        else {"photo": _on_photo(stitch_file, order, photo, placing, mask, turned)}
    )
    drawn = draw_all(drawers, sets, plan, force=force)
    _save_place(placing, save_place, force=force)
    if len(plan) > 1:
        write_sheet(output, stitch_file.name, plan, force=force)
    pictures = [{"scene": one.scene, "set": one.colours, "file": str(one.file)} for one in plan]
    seconds = round(time.perf_counter() - started, 3)
    _say({"output": output, "pictures": pictures, **drawn, "seconds": seconds}, as_json=as_json)


def _check(*, built_in: bool, photo: bool, for_built_in: bool, for_photo: bool) -> None:
    """Refuse at once what makes no sense together."""
    if photo and (built_in or for_built_in):
        raise UsageError("--photo brings its own garment: leave out --on and what is for built-in scenes")
    if for_photo and not photo:
        raise UsageError("a placement and a mask belong to a --photo: name it, or leave them out")
    if not built_in and not photo:
        names = ", --on ".join(_scene_names())
        raise UsageError(f"name what the design is sewn on: --on {names}, or a --photo")


def _sets(path: str | None, trim_colour: str | None) -> tuple[ColourSet, ...]:
    """The sets of colours in a file, or the one that an option makes; none for the usual colours."""
    from render.scene.sets import ColourSet, load_colour_sets

    trim_srgb = colour_of(trim_colour, "--trim-colour")
    if path is not None and trim_srgb is not None:
        raise UsageError("--trim-colour would be that of every set: say it in the sets, as trim")
    if path is not None:
        return load_colour_sets(path)
    return (ColourSet("", None, trim_srgb, {}),) if trim_srgb is not None else ()


def _on_garment(
    design: Design, job: Job, name: str, frame: Frame, asked: dict[str, Any], *, with_flat: bool
) -> Drawer:
    """Draws a built-in scene in the sets it is given."""
    from render.scene import draw_scenes, scene_for

    scene = scene_for(design, job, name, **asked)
    return lambda sets, progress: draw_scenes(scene, frame, sets, with_flat=with_flat, progress=progress)


def _on_photo(
    design: Design, job: Job, photo: str, placing: Place | None, mask: str | None, turned: dict[str, Any]
) -> Drawer:
    """Draws the design on the photograph in the sets it is given."""
    from render.scene import draw_on
    from render.scene.photo import OnPhoto
    from render.scene.photo.reading import read_mask, read_photo

    if placing is None:
        raise UsageError("say where on the photo the design lies: --place FILE, --corners, or --points")
    picture = read_photo(photo)
    shape = (picture.srgb.shape[0], picture.srgb.shape[1])
    target = OnPhoto(picture, placing, read_mask(mask, shape) if mask is not None else None)
    return lambda sets, progress: draw_on(design, job, target, sets, **turned, progress=progress)


def _save_place(placing: Place | None, path: str | None, *, force: bool) -> None:
    """Write the placement where one is asked for."""
    from render.scene.photo.placing import place_text
    from render.write.files import write_file

    if placing is not None and path is not None:
        write_file(place_text(placing).encode(), path, force=force)


def _say(account: dict[str, Any], *, as_json: bool) -> None:
    with standard_output():
        if as_json:
            print(json.dumps(account, ensure_ascii=False, indent=2))
            return
        for note in account["notes"]:
            print(f"note: {note}")
        for picture in account["pictures"]:
            print(picture["file"])
        kept = len(account["pictures"]) - account["drawn"]
        there = f", {kept} there already" if kept else ""
        print(f"{account['drawn']} drawn{there}, {account['seconds']:.1f} s")
