"""The front door: a stitch file of any machine format becomes a `Design`, or one clear error."""

from __future__ import annotations

import hashlib
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from render.errors import InputError
from render.model import Command, Design
from render.read.decoder import USUAL_STITCHES, Decoder
from render.read.endings import check_ending, unknown_code_at
from render.read.formats import StitchFormat, known_formats
from render.read.interpret import interpret
from render.read.sniff import recognise

if TYPE_CHECKING:
    from render.read.decoder import Recording

__all__ = ["StitchFormat", "known_formats", "read_design"]

MAX_BYTES = 4 * 2**20
# More stops and changes than anybody would sit through (estimate).
MAX_BLOCKS = 2_000
# Formats whose stitches are the last thing in the file, but for padding.
NOTHING_FOLLOWS = ("dst", "tap", "e01")
# Wider than the sewing fields of common machines (estimate): worth a word, not a refusal.
WIDE_MM = 600


def read_design(
    source: str | os.PathLike[str] | bytes,
    *,
    name: str = "",
    max_bytes: int = MAX_BYTES,
    max_stitches: int = USUAL_STITCHES,
) -> Design:
    """Read a stitch file: a path, "-" for standard input, or the bytes themselves.

    The content decides the format; the extension of `name` (default: the file's own name)
    is only checked against it. A hostile file is decoded in a process of its own with
    limited memory and time. Oddities, such as a file that seems cut off, become notes of
    the design. Raises InputError with one sentence: what is wrong, where, what to do.
    """
    data = source if isinstance(source, bytes) else _load(source, max_bytes)
    if not name:
        from_path = not isinstance(source, bytes) and os.fspath(source) != "-"
        name = Path(source).name if from_path else ""  # type: ignore[arg-type]
    title = name or ("standard input" if source == "-" else "stitch data")
    try:
        with Decoder(max_stitches) as decoder:
            return decode_design(decoder, data, name=name, title=title, max_bytes=max_bytes)
    except InputError as problem:
        raise InputError(f"{title} {problem}") from None


def decode_design(decoder: Decoder, data: bytes, *, name: str, title: str, max_bytes: int) -> Design:
    """Everything about one file but fetching it, by a decoder that may serve several.

    Raises InputError with a text that completes "the file …".
    """
    if not data:
        raise InputError("is empty (0 bytes): export it again")
    if len(data) > max_bytes:
        raise InputError(_too_large(len(data), max_bytes))
    form, notes = recognise(data, Path(name).suffix[1:].lower())
    recording = decoder.decode(form.reader, data)
    _check_recording(recording, form, data)
    records = interpret(recording, form)
    if len(records.colours_srgb) > MAX_BLOCKS:
        raise InputError(
            f"has {len(records.colours_srgb):,} colour blocks (read as {form.name.upper()}), "
            f"more than {MAX_BLOCKS:,}: it is damaged or of another format, export it again"
        )
    return Design(
        name=title,
        format=form.name,
        xy_mm=records.xy_mm,
        command=records.command,
        colours_srgb=records.colours_srgb,
        trim_rule=records.trim_rule,
        long_stitches_split=form.long_stitches_split,
        sha256=hashlib.sha256(data).hexdigest(),
        notes=notes + check_ending(form.name, data, recording) + records.notes + _size_note(recording),
    )


def _size_note(recording: Recording) -> tuple[str, ...]:
    """A word where the stitches span more than a machine can sew."""
    wide, high = np.ptp(recording.xy[recording.command == Command.STITCH], axis=0) / 10
    if max(wide, high) <= WIDE_MM:
        return ()
    return (
        f"measures {wide:.0f} × {high:.0f} mm, more than sewing fields are: check that the file is sound",
    )


def _check_recording(recording: Recording, form: StitchFormat, data: bytes) -> None:
    """Refuse what decoded to nothing that can be sewn, or only up to a fault inside the file."""
    points = recording.xy[recording.command == Command.STITCH]
    if recording.fault and recording.ended_at < 0 and recording.stopped_at < len(data):
        raise InputError(
            f"is damaged near byte {recording.stopped_at} (read as {form.name.upper()}): export it again"
        )
    if len(points) == 0:
        raise InputError(
            f"holds no stitches (read as {form.name.upper()}, {len(data)} bytes): export it again"
        )
    broken_off = unknown_code_at(form.name, data, recording)
    if broken_off is not None and broken_off < len(data) // 2:
        raise InputError(
            f"has an unknown code at byte {broken_off} of {len(data)} (read as {form.name.upper()}): "
            "it is damaged or of another format, export it again"
        )
    rest = data[recording.ended_at :] if recording.ended_at >= 0 else b""
    if form.name in NOTHING_FOLLOWS and len(rest) > len(data) // 2 and len(set(rest)) > 16:
        raise InputError(
            f"ends its stitches at byte {recording.ended_at} of {len(data)} (read as {form.name.upper()}): "
            "it is damaged or no stitch file, export it again"
        )
    if np.ptp(points, axis=0).max() == 0:
        raise InputError(
            f"has all {len(points)} stitches in one point (read as {form.name.upper()}): "
            "it is damaged or of another format, export it again"
        )


def _load(source: str | os.PathLike[str], max_bytes: int) -> bytes:
    """The bytes of a file or of standard input, at most one more than allowed."""
    if os.fspath(source) == "-":
        return sys.stdin.buffer.read(max_bytes + 1)
    try:
        with Path(source).open("rb") as file:
            size = os.fstat(file.fileno()).st_size
            if size > max_bytes:
                raise InputError(f"{Path(source).name} {_too_large(size, max_bytes)}")
            return file.read(max_bytes + 1)
    except FileNotFoundError:
        raise InputError(f"{source} does not exist: check the name and the folder") from None
    except IsADirectoryError:
        raise InputError(f"{source} is a folder: give the stitch file inside") from None
    except OSError as problem:
        raise InputError(f"{source} cannot be opened ({problem.strerror}): check the permissions") from None


def _too_large(size: int, max_bytes: int) -> str:
    return (
        f"is larger than the limit of {max_bytes / 2**20:.3g} MiB ({size:,} bytes or more): "
        "raise --max-stitches if it really is a stitch file"
    )
