"""From records to stitches: what lies on top, what is dragged or cut, where threads change."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, cast

import numpy as np

from render.errors import InputError
from render.model import ColourBlock, Command, Cut, Travel

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Design, Floats, Ints, Machine

SAME_POINT_MM = 0.05  # half a machine unit: nothing was moved
SAME_STEP_MM = 0.25  # pieces of one split stitch differ by rounding of 0.1 mm only
DRAGGED_MM = 0.3  # shorter than the thread is wide: no travel, the needle goes in the same spot
UNSURE_JUMPS = 3  # machines cut after this many jump records or never (common practice, no source)


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """Stitches in sewing order, and all that interrupts them."""

    start_mm: Floats
    end_mm: Floats
    thread_breaks: NDArray[np.bool_]
    colour_block: Ints
    travels: tuple[Travel, ...]
    blocks: tuple[ColourBlock, ...]
    sequins_mm: Floats
    sequin_block: Ints
    trims: int
    notes: tuple[str, ...]


def trace(design: Design, machine: Machine, xy_mm: Floats) -> Trace:
    """Follow the thread from needle point to needle point; `xy_mm` is the design's, turned.

    A stop starts a new block as a colour change does: what is sewn after it can be
    addressed by itself, though the file gives it the same colour.
    """
    command = design.command
    points = np.flatnonzero(command == Command.STITCH)
    if len(points) < 2:
        raise InputError(f"{design.name} holds no stitch: export it again")
    counts = {c: np.concatenate([[0], np.cumsum(command == c)]) for c in Command}

    def between(c: Command) -> Ints:
        return np.asarray(counts[c][points[1:]] - counts[c][points[:-1]])

    jumps, trims = between(Command.JUMP), between(Command.TRIM)
    ended = between(Command.COLOUR_CHANGE) + between(Command.STOP)
    block_of_point = (counts[Command.COLOUR_CHANGE] + counts[Command.STOP])[points]
    start, end = xy_mm[points[:-1]], xy_mm[points[1:]]
    way = np.hypot(*(end - start).T)
    split = (jumps > 0) & (trims == 0) & (ended == 0)
    if design.long_stitches_split:
        split &= _even_steps(xy_mm, points, jumps)
    else:
        split &= False
    sewn = ((jumps == 0) & (trims == 0) & (ended == 0)) | split
    stitch = sewn & (way >= SAME_POINT_MM)
    index = np.cumsum(stitch) - 1
    order = np.flatnonzero(stitch)
    breaks = (
        np.concatenate([[True], np.diff(np.cumsum(~sewn)[order]) > 0]) if len(order) else np.zeros(0, bool)
    )
    travels = tuple(
        _travel(
            design,
            machine,
            start[i],
            end[i],
            int(index[i]),
            int(block_of_point[i + 1]),
            jumps=int(jumps[i]),
            trimmed=bool(trims[i]),
            change=bool(ended[i]),
        )
        for i in np.flatnonzero(~sewn & ((way >= DRAGGED_MM) | (trims > 0) | (ended > 0)))
    )
    if not len(order):
        raise InputError(f"{design.name} holds no stitch, only moves: export it again")
    block = block_of_point[1:][order].astype(np.int32)
    sequins = np.flatnonzero(command == Command.SEQUIN)
    sequin_block = (counts[Command.COLOUR_CHANGE] + counts[Command.STOP])[sequins].astype(np.int32)
    ends = np.flatnonzero((command == Command.COLOUR_CHANGE) | (command == Command.STOP))
    return Trace(
        np.array(start[order]),
        np.array(end[order]),
        breaks,
        block,
        travels,
        _blocks(block, command[ends]),
        np.array(xy_mm[sequins]).reshape(-1, 2),
        sequin_block,
        sum(t.reason == "trim" for t in travels) + int(((trims > 0) & (ended > 0)).sum()),
        _notes(design, int(split.sum()), len(sequins)),
    )


def _even_steps(xy_mm: Floats, points: Ints, jumps: Ints) -> NDArray[np.bool_]:
    """Where jumps and the stitch that ends them are equal steps on one line: a long stitch
    that the format had to take apart."""
    even = np.zeros(len(jumps), bool)
    for i in np.flatnonzero(jumps > 0):
        steps = np.diff(xy_mm[points[i] : points[i + 1] + 1], axis=0)
        steps = steps[np.hypot(*steps.T) > 1e-9] if np.hypot(*steps[-1]) > 1e-9 else steps[:0]
        even[i] = len(steps) > 1 and bool(np.abs(steps - steps.mean(axis=0)).max() <= SAME_STEP_MM)
    return even


def _travel(
    design: Design,
    machine: Machine,
    start: Floats,
    end: Floats,
    after: int,
    block: int,
    *,
    jumps: int,
    trimmed: bool,
    change: bool,
) -> Travel:
    cut, reason = _cut(design, machine, jumps=jumps, trimmed=trimmed, change=change)
    ends = (float(start[0]), float(start[1])), (float(end[0]), float(end[1]))
    return Travel(*ends, after, block, cast("Cut", cut), reason)


def _cut(design: Design, machine: Machine, *, jumps: int, trimmed: bool, change: bool) -> tuple[str, str]:
    """Whether the thread is cut there, and by which rule."""
    if change:
        return "yes", "change of thread or stop"
    if machine.trimmer is False:
        return "no", "the machine has no trimmer"
    if trimmed:
        return "yes", "trim"
    if design.trim_rule == "every-jump":
        return "yes", "trim"
    if design.trim_rule == "explicit":
        return "no", "jump without a trim code"
    if design.trim_rule == "never":
        return "no", "the format has no trims"
    needed = machine.trims_after_jumps
    if machine.trimmer and needed is not None:
        return ("yes", "trim") if jumps >= needed else ("no", f"fewer than {needed} jumps in a row")
    if jumps >= UNSURE_JUMPS:
        return "depends", f"{jumps} jumps in a row cut on some machines only"
    return "no", f"{jumps} jump{'s' if jumps > 1 else ''} in a row"


def _blocks(block: Ints, ends: Ints) -> tuple[ColourBlock, ...]:
    found = []
    for i in range(len(ends) + 1):
        first, stop = (int(v) for v in np.searchsorted(block, [i, i + 1]))
        kind = "end" if i == len(ends) else "stop" if ends[i] == Command.STOP else "colour-change"
        found.append(ColourBlock(i, first, stop - 1, kind))  # type: ignore[arg-type]
    return tuple(found)


def _notes(design: Design, split: int, sequins: int) -> tuple[str, ...]:
    notes = []
    if split:
        notes.append(
            f"{split} long stitch{'es' if split > 1 else ''} that {design.format.upper()} writes in pieces: "
            "even steps on one line ending in a stitch are drawn as one stitch"
        )
    if sequins:
        notes.append(f"{sequins} sequins are sewn on and not drawn")
    return tuple(notes)
