"""What the records of a file mean: changes, stops, colours, and the moves a format hides."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.model import Command
from render.read import _recorder

if TYPE_CHECKING:
    from render.model import Colour, Floats, Ints, TrimRule
    from render.read.decoder import Recording
    from render.read.formats import StitchFormat


@dataclass(frozen=True, slots=True, eq=False)
class Records:
    """Records ready for a `render.model.Design`, with what was noticed on the way."""

    xy_mm: Floats
    command: Ints
    colours_srgb: tuple[Colour | None, ...]
    trim_rule: TrimRule
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Blocks:
    """Which changes stand, and the thread of each block.

    `keep (N,)` is false for changes that change nothing, `command (N,)` has each kept one
    as COLOUR_CHANGE or STOP. `changes_before` is, a block, how many colour changes the
    file has before it, and `needle` the needle set for it (-1: none).
    """

    keep: Ints
    command: Ints
    changes_before: list[int]
    needle: list[int]
    folded: int


def interpret(recording: Recording, form: StitchFormat) -> Records:
    """Give the records of one file their meaning, in one pass.

    Needle settings are colour changes. Blocks without a needle point are folded away, so
    that one colour in `colours_srgb` belongs to each block that is sewn; a stop begins a
    block of the same colour.
    """
    xy, command = recording.xy, recording.command.copy()
    if form.name == "vp3":
        xy, command = _show_hidden_moves(xy, command)
    blocks = _blocks(command, recording.needles)
    colours, notes = _colours(blocks, recording.colours, form)
    # A change that changes nothing may still have moved.
    moved = np.any(np.diff(xy, axis=0, prepend=np.zeros((1, 2))) != 0, axis=1)
    dropped_move = ~blocks.keep & moved
    kept_command = blocks.command.copy()
    kept_command[dropped_move] = Command.JUMP
    keep = blocks.keep | dropped_move
    if blocks.folded:
        notes += (f"{blocks.folded} colour changes or stops with no stitch before the next are counted once",)
    rule: TrimRule = form.trim_rule
    if rule == "every-jump" and _tells_jumps_apart(command):
        rule = "explicit"
    return Records(
        xy_mm=xy[keep] / 10.0, command=kept_command[keep], colours_srgb=colours, trim_rule=rule, notes=notes
    )


def _show_hidden_moves(xy: Floats, command: Ints) -> tuple[Floats, Ints]:
    """VP3 writes no jumps: after a cut, a change or at the start, the next stitch is the way there.

    Such a stitch becomes a jump and a needle point at its end, so no thread lies along it.
    """
    breaks = np.isin(command, (_recorder.TRIM, _recorder.COLOUR_CHANGE, _recorder.STOP, _recorder.JUMP))
    stitches = np.flatnonzero(command == _recorder.STITCH)
    # The number of breaks before each stitch rises where one lies in between.
    passed = np.cumsum(breaks)[stitches]
    first = stitches[np.diff(passed, prepend=-1) > 0]
    return np.insert(xy, first, xy[first], axis=0), np.insert(command, first, np.uint8(_recorder.JUMP))


def _tells_jumps_apart(command: Ints) -> bool:
    """Whether a file that may mark each jump as cut has one, after sewing, that it does not mark."""
    jumps = np.flatnonzero(command == _recorder.JUMP)
    sewn = np.flatnonzero(command == _recorder.STITCH)
    jumps = jumps[jumps > sewn[0]] if len(sewn) else jumps[:0]
    return bool(np.any(np.isin(command[jumps - 1], (_recorder.STITCH, _recorder.SEQUIN))))


def _blocks(command: Ints, needles: Ints) -> _Blocks:
    """Fold changes without a needle point between them into one; drop those at the ends."""
    keep = np.ones(len(command), bool)
    command = command.copy()
    sewn = np.isin(command, (_recorder.STITCH, _recorder.SEQUIN))
    points = np.cumsum(sewn)
    total = int(points[-1]) if len(points) else 0
    found = np.flatnonzero(np.isin(command, (_recorder.COLOUR_CHANGE, _recorder.STOP, _recorder.NEEDLE_SET)))
    changes, needle, needle_at, folded = 0, -1, 0, 0
    changes_before, block_needle = [0], [-1]
    standing, points_then = -1, 0
    for i in found.tolist():
        kind = int(command[i])
        if kind == _recorder.NEEDLE_SET:
            needle = int(needles[needle_at])
            needle_at += 1
        elif kind == _recorder.COLOUR_CHANGE:
            changes += 1
        command[i] = Command.STOP if kind == _recorder.STOP else Command.COLOUR_CHANGE
        before = int(points[i])
        if before == 0 or before == total:
            # Before the first or after the last stitch.
            keep[i] = False
            if before == 0:
                changes_before[0], block_needle[0] = changes, needle
        elif before == points_then:
            keep[i] = False
            folded += 1
            if command[i] == Command.COLOUR_CHANGE:
                command[standing] = Command.COLOUR_CHANGE
            changes_before[-1], block_needle[-1] = changes, needle
        else:
            standing, points_then = i, before
            changes_before.append(changes)
            block_needle.append(needle)
    return _Blocks(
        keep=keep, command=command, changes_before=changes_before, needle=block_needle, folded=folded
    )


def _colours(
    blocks: _Blocks, colours: Ints, form: StitchFormat
) -> tuple[tuple[Colour | None, ...], tuple[str, ...]]:
    """The colour of each block as far as the file knows it, and a note where they do not match."""
    known = [_srgb(int(value)) for value in colours]
    number = len(blocks.needle)
    if not any(known):
        return (None,) * number, ()
    if all(1 <= needle <= len(known) for needle in blocks.needle):
        return tuple(known[needle - 1] for needle in blocks.needle), ()
    index = list(range(number)) if any(n >= 0 for n in blocks.needle) else blocks.changes_before
    found = tuple(known[i] if i < len(known) else None for i in index)
    if max(index) < len(known):
        return found, ()
    reason = ": a stop may be written as a colour change here, which shifts the colours after it"
    return found, (
        f"{number} colour blocks but {len(known)} thread colours" + (reason if form.stop_is_change else ""),
    )


def _srgb(value: int) -> Colour | None:
    if value == _recorder.NO_COLOUR:
        return None
    return (value >> 16 & 255) / 255, (value >> 8 & 255) / 255, (value & 255) / 255
