"""The pictures of `twillight scene`: their names, drawing those that are missing, and their sheet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from render.words import printable

if TYPE_CHECKING:
    from threading import Event

    from render.model import Picture
    from render.scene.sets import ColourSet

# Draws in the sets it is given, and tells the share done.
Drawer = Callable[[list["ColourSet"], Callable[[float], None]], "list[Picture]"]
SCENES_AT_ONCE = 2  # one is sewn while another is drawn; each holds up to a gigabyte


@dataclass(frozen=True, slots=True)
class PlannedPicture:
    """A picture to come: the garment or `photo`, the set of colours as a word or nothing, and the file."""

    scene: str
    colours: str
    file: Path


def planned(
    output: str, names: list[str], sets: tuple[ColourSet, ...], *, force: bool
) -> list[PlannedPicture]:
    """Every picture that will be there; a lone one is the output itself.

    Raises UsageError, or OutputError, for what could not be written.
    """
    from render.scene.sets import file_word
    from render.write.files import check_destination
    from render.write.picture import check_picture_name

    check_destination(output, force=force)
    check_picture_name(output)
    names = list(dict.fromkeys(names))
    words = [file_word(one.name) for one in sets] or [""]
    if len(names) * len(words) == 1:
        return [PlannedPicture(names[0], words[0], Path(output))]
    base = Path(output)
    plan = [
        PlannedPicture(
            name, word, base.with_name(f"{base.stem}-{name}{'-' + word if word else ''}{base.suffix}")
        )
        for name in names
        for word in words
    ]
    for one in plan:
        check_destination(one.file, force=True)  # what is there already is kept
    return plan


def draw_all(
    drawers: dict[str, Drawer], sets: tuple[ColourSet, ...], plan: list[PlannedPicture], *, force: bool
) -> dict[str, Any]:
    """Draw what is not there yet, all colours of a garment together and garments side by side; each is
    written as soon as it is drawn, so that a run that was stopped goes on where it was."""
    from concurrent.futures import CancelledError
    from threading import Event

    from render.scene.sets import file_word
    from render.terminal import Progress
    from render.write.picture import write_picture

    stopped = Event()
    shares = dict.fromkeys(drawers, 0.0)

    def draw_and_write(name: str, progress: Progress) -> list[Picture]:
        def told(share: float) -> None:
            if stopped.is_set():
                raise CancelledError
            shares[name] = share
            progress(sum(shares.values()) / len(shares))

        missing = [one for one in plan if one.scene == name]
        if len(plan) > 1 and not force:
            missing = [one for one in missing if not one.file.exists()]
        words = {one.colours for one in missing}
        wanted = [asked for asked in sets if file_word(asked.name) in words]
        pictures = drawers[name](wanted, told) if missing else []
        for picture, one in zip(pictures, missing, strict=True):
            write_picture(picture, one.file, force=force)
        return pictures

    with Progress() as progress:
        if len(drawers) == 1:
            # Without a thread of its own, drawing ends when the program is told to end.
            pictures = [picture for name in drawers for picture in draw_and_write(name, progress)]
        else:
            pictures = _side_by_side(list(drawers), lambda name: draw_and_write(name, progress), stopped)
    return {"drawn": len(pictures), "notes": list(dict.fromkeys(n for one in pictures for n in one.notes))}


def _side_by_side(names: list[str], draw: Callable[[str], list[Picture]], stopped: Event) -> list[Picture]:
    """The pictures of all names. When one fails, those that are being drawn are finished and written; when
    the program is told to end, they stop where they hear that they are `stopped`."""
    from concurrent.futures import ThreadPoolExecutor, as_completed

    with ThreadPoolExecutor(SCENES_AT_ONCE) as pool:
        tasks = [pool.submit(draw, name) for name in names]
        try:
            for task in as_completed(tasks):
                task.result()
        except BaseException as error:
            if not isinstance(error, Exception):
                stopped.set()
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    return [picture for task in tasks for picture in task.result()]


def write_sheet(output: str, title: str, plan: list[PlannedPicture], *, force: bool) -> None:
    """All pictures of the plan small on one page."""
    import numpy as np
    from PIL import Image

    from render.errors import InputError
    from render.scene.sheet import contact_sheet
    from render.write.picture import write_picture

    shown = []
    for one in plan:
        caption = f"{one.scene}, {one.colours.replace('-', ' ')}" if one.colours else one.scene
        try:
            with Image.open(one.file) as image:
                mode = "RGBA" if image.has_transparency_data else "RGB"
                shown.append((caption, np.asarray(image.convert(mode))))
        except (OSError, SyntaxError, ValueError):
            raise InputError(
                f"{one.file} was there already and is no whole picture: take it away, or use --force"
            ) from None
    write_picture(contact_sheet(printable(title), shown), output, force=force)
