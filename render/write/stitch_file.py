"""Stitch files for the machine: a design in any embroidery format that the library writes."""

from __future__ import annotations

import io
import os
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from render.errors import UsageError
from render.model import Command

if TYPE_CHECKING:
    from render.model import Colour, Design

# Not for machines: a pattern of another craft, and a plotter's moves.
_NO_MACHINE = ("pmv", "gcode")
# What a writer would take from the clock, so that a design always makes the same file.
_SETTINGS: dict[str, dict[str, Any]] = {"jef": {"date": "20260101120000"}}
_UNITS_PER_MM = 10
# Formats without stops, whose writers do not write one as a change to the same thread themselves.
_NO_STOPS = ("vp3", "xxx")


@cache
def _writers() -> dict[str, tuple[str, Any]]:
    """Format and writer by file ending."""
    from pyembroidery import EmbPattern

    return {
        ending: (row["extension"], row["writer"])
        for row in EmbPattern.supported_formats()
        if row.get("writer") and row.get("category") == "embroidery" and row["extension"] not in _NO_MACHINE
        for ending in row["extensions"]
    }


def stitch_endings() -> tuple[str, ...]:
    """The file endings that can be written, without their dot."""
    return tuple(_writers())


def stitch_format(path: str | os.PathLike[str]) -> str:
    """The ending that names a stitch format in a file name. Raises UsageError for others."""
    ending = Path(path).suffix[1:].lower()
    if ending not in _writers():
        listed = ", ".join(f".{known}" for known in sorted(stitch_endings()))
        raise UsageError(
            f"{Path(path).name!r} names no stitch format that can be written: end it in {listed}"
        )
    return ending


def encode_stitches(design: Design, ending: str) -> bytes:
    """The bytes of a stitch file; points are kept to 0.1 mm. The same design makes the same bytes."""
    import pyembroidery

    commands = {
        Command.STITCH: pyembroidery.STITCH,
        Command.JUMP: pyembroidery.JUMP,
        Command.TRIM: pyembroidery.TRIM,
        Command.COLOUR_CHANGE: pyembroidery.COLOR_CHANGE,
        Command.STOP: pyembroidery.STOP,
        Command.SEQUIN: pyembroidery.SEQUIN_EJECT,
    }
    pattern = pyembroidery.EmbPattern()
    pattern.extras["name"] = Path(design.name).stem
    for colour in _threads(design):
        red, green, blue = (round(255 * part) for part in colour or (0.0, 0.0, 0.0))
        pattern.add_thread({"hex": f"{red:02x}{green:02x}{blue:02x}"})
    for (x, y), command in zip((design.xy_mm * _UNITS_PER_MM).round().tolist(), design.command, strict=True):
        pattern.add_stitch_absolute(commands[Command(command)], x, y)
    pattern.add_command(pyembroidery.END)
    form, writer = _writers()[ending]
    if form in _NO_STOPS:
        pattern.interpolate_stop_as_duplicate_color()
    stream = io.BytesIO()
    pyembroidery.EmbPattern.write_embroidery(writer, pattern, stream, dict(_SETTINGS.get(form, {})))
    return stream.getvalue()


def _threads(design: Design) -> list[Colour | None]:
    """The colours that a thread is changed to: a block after a stop goes on with the one before."""
    halts = design.command[np.isin(design.command, (Command.COLOUR_CHANGE, Command.STOP))]
    begins = [Command.COLOUR_CHANGE, *halts.tolist()]
    return [
        colour
        for colour, halt in zip(design.colours_srgb, begins, strict=False)
        if halt == Command.COLOUR_CHANGE
    ]
