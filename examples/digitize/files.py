"""Stitch files and the account of what was meant, from a finished sewing."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import numpy as np
import pyembroidery

from digitize.sewing import COLOUR_CHANGE, STITCH, STOP, TRIM, Sewing, Thread

FORMATS = ("dst", "pes", "exp", "jef", "vp3")
SETTINGS: dict[str, dict[str, Any]] = {
    "dst": {"extended header": True},  # keeps the thread colours
    "pes": {"version": 6},
    "jef": {"date": "20260101120000"},  # a fixed date, so that the file is the same every time
}
_COMMANDS = {
    STITCH: pyembroidery.STITCH,
    TRIM: pyembroidery.TRIM,
    STOP: pyembroidery.STOP,
    COLOUR_CHANGE: pyembroidery.COLOR_CHANGE,
}


def stitch_file(sewing: Sewing, extension: str, name: str) -> bytes:
    """The design as a file of one of `FORMATS`."""
    pattern = pyembroidery.EmbPattern()
    pattern.extras["name"] = name
    for thread in sewing.threads:
        pattern.add_thread({"hex": thread.colour, "description": thread.label})
    for x, y, command in sewing.records:
        pattern.add_stitch_absolute(_COMMANDS.get(command, pyembroidery.JUMP), x, y)
    pattern.add_command(pyembroidery.END)
    if extension == "vp3":  # whose writer drops stops: they are blocks of the same thread
        pattern.interpolate_stop_as_duplicate_color()
    out = io.BytesIO()
    writer = {row["extension"]: row.get("writer") for row in pattern.supported_formats()}[extension]
    pyembroidery.EmbPattern.write_embroidery(writer, pattern, out, SETTINGS.get(extension, {}))
    return out.getvalue()


def truth(sewing: Sewing) -> str:
    """JSON: number of stitches, and every object with its kind, stitches and measures.

    `first` and `last` count stitches from 0 in sewing order: thread on top between two
    needle points, whatever pieces a format makes of a long one.
    """
    rows = [
        {
            "name": meant.name,
            "kind": meant.part.kind,
            "serves": meant.part.serves,
            "first": meant.first,
            "last": meant.last,
            "block": meant.block,
            "row_spacing_mm": meant.part.row_spacing_mm,
            "angle_deg": None if meant.part.angle_deg is None else round(meant.part.angle_deg, 1),
            "width_mm": meant.part.width_mm,
        }
        for meant in sewing.meant
    ]
    lines = ",\n".join("  " + json.dumps(row) for row in rows)
    left, top = sewing.needle_points_mm().min(axis=0)
    right, bottom = sewing.needle_points_mm().max(axis=0)
    box = json.dumps(np.round([left, top, right, bottom], 1).tolist())
    return f'{{"stitches": {sewing.stitches}, "box_mm": {box}, "objects": [\n{lines}\n]}}\n'


def thread_list(threads: list[Thread]) -> str:
    """TOML: one thread a colour block, in sewing order; each colour keeps its needle."""
    needles = {label: i + 1 for i, label in enumerate(dict.fromkeys(thread.label for thread in threads))}
    rows = [
        f'[[thread]]\ncolour = "{thread.colour}"\nkind = "{thread.kind}"\nsize = "{thread.size}"\n'
        f'label = "{thread.label}"\nneedle = {needles[thread.label]}\n'
        for thread in threads
    ]
    return "# One thread a colour block, in sewing order.\n\n" + "\n".join(rows)


def write_design(sewing: Sewing, folder: Path, name: str) -> None:
    """All files of a design into `folder`: each format, the truth, the thread list."""
    for extension in FORMATS:
        (folder / f"{name}.{extension}").write_bytes(stitch_file(sewing, extension, name))
    (folder / f"{name}.truth.json").write_text(truth(sewing), "utf-8")
    (folder / f"{name}.threads.toml").write_text(thread_list(sewing.block_threads), "utf-8")
