"""The pictures of `twillight scene`: their names, drawing those that are missing, and their sheet."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from render.model import Picture
    from render.scene.sets import ColourSet

Planned = list[tuple[str, str, Path]]
Drawer = Callable[[list["ColourSet"]], "list[Picture]"]
SCENES_AT_ONCE = 2  # one is sewn while another is drawn; each holds up to a gigabyte


def planned(output: str, names: list[str], sets: tuple[ColourSet, ...], *, force: bool) -> Planned:
    """Garment, colour set and file of every picture; one picture is the output itself.

    Raises UsageError, or OutputError, for what could not be written.
    """
    from render.scene.sets import file_word
    from render.write.files import check_destination
    from render.write.picture import picture_format

    check_destination(output, force=force)
    picture_format(output)
    names = list(dict.fromkeys(names))
    words = [file_word(one.name) for one in sets] or [""]
    if len(names) * len(words) == 1:
        return [(names[0], words[0], Path(output))]
    base = Path(output)
    return [
        (name, word, base.with_name(f"{base.stem}-{name}{'-' + word if word else ''}{base.suffix}"))
        for name in names
        for word in words
    ]


def draw_all(
    drawers: dict[str, Drawer], sets: tuple[ColourSet, ...], plan: Planned, *, force: bool
) -> dict[str, Any]:
    """Draw what is not there yet, all colours of a garment together and garments side by side; each is
    written as soon as it is drawn, so that a run that was stopped goes on where it was."""
    from concurrent.futures import ThreadPoolExecutor, as_completed

    from render.scene.sets import file_word
    from render.terminal import Progress
    from render.write.picture import write_picture

    def draw_and_write(name: str) -> list[Picture]:
        missing = [(word, path) for where, word, path in plan if where == name]
        if len(plan) > 1 and not force:
            missing = [(word, path) for word, path in missing if not path.exists()]
        words = {word for word, _ in missing}
        pictures = (
            drawers[name]([asked for asked in sets if file_word(asked.name) in words]) if missing else []
        )
        for picture, (_, path) in zip(pictures, missing, strict=True):
            write_picture(picture, path, force=force)
        return pictures

    with Progress() as progress, ThreadPoolExecutor(SCENES_AT_ONCE) as pool:
        tasks = [pool.submit(draw_and_write, name) for name in drawers]
        try:
            for count, task in enumerate(as_completed(tasks)):
                task.result()
                progress((count + 1) / len(drawers))
        except BaseException:
            # What is being drawn is written; nothing else is begun.
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    pictures = [picture for task in tasks for picture in task.result()]
    return {"drawn": len(pictures), "notes": list(dict.fromkeys(n for one in pictures for n in one.notes))}


def write_sheet(output: str, title: str, plan: Planned, *, force: bool) -> None:
    import numpy as np
    from PIL import Image

    from render.scene.sheet import contact_sheet
    from render.write.picture import write_picture

    shown = []
    for name, word, path in plan:
        with Image.open(path) as image:
            shown.append((f"{name}, {word.replace('-', ' ')}" if word else name, np.asarray(image)))
    write_picture(contact_sheet(title, shown), output, force=force)
