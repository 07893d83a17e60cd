"""From records to stitches: what lies on top, what is dragged or cut, where threads change."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from render.errors import InputError
from render.model import ColourBlock, Command, Cut, Travel

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Design, Floats, Ints, Machine

SAME_POINT_MM = 0.05  # half a machine unit: nothing was moved
SAME_STEP_MM = 0.25  # pieces of one split stitch differ by rounding of 0.1 mm only
LONGEST_MM = 36.3  # three of a tape's largest steps; even pieces that go further are a move (estimate)
DRAGGED_MM = 0.3  # shorter than the thread is wide: no travel, the needle goes in the same spot
UNSURE_JUMPS = 3  # machines cut after this many jump records or never (common practice, no source)
CUT_FROM_MM = 3.0  # from which jumps are cut as machines come that go by length, see `render.read.formats`
_HALTS = (Command.COLOUR_CHANGE, Command.STOP)


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

    Needle points on the same spot make no stitch. Raises InputError when nothing is sewn.
    """
    command = design.command
    points = np.flatnonzero(command == Command.STITCH)
    jumps, trims, changes, stops = (
        _passed(command, points, what)
        for what in (Command.JUMP, Command.TRIM, Command.COLOUR_CHANGE, Command.STOP)
    )
    needle = _needle_blocks(command)
    block_of = needle.block[np.searchsorted(needle.record, points)]
    start, end = xy_mm[points[:-1]], xy_mm[points[1:]]
    way = np.hypot(*(end - start).T)
    halted = changes + stops > 0
    free = (jumps > 0) & (trims == 0) & ~halted & bool(design.long_stitches_split)
    split = free & (way <= LONGEST_MM) & _even_steps(xy_mm, points)
    sewn = ((jumps == 0) & (trims == 0) & ~halted) | split
    stitch = np.flatnonzero(sewn & (way >= SAME_POINT_MM))
    if not len(stitch):
        raise InputError(f"{design.name} holds no stitch: export the design again from where it was made")
    # The last stitch before each way from needle point to needle point.
    last = np.cumsum(sewn & (way >= SAME_POINT_MM)) - 1

    def travel(i: int) -> Travel:
        (x0, y0), (x1, y1) = start[i].tolist(), end[i].tolist()
        cut, reason = _cut(
            design,
            machine,
            jumps=int(jumps[i]),
            way_mm=float(way[i]),
            trimmed=bool(trims[i]),
            halted=bool(halted[i]),
        )
        return Travel((x0, y0), (x1, y1), int(last[i]), int(block_of[i + 1]), cut, reason)

    travelled = np.flatnonzero(~sewn & ((way >= DRAGGED_MM) | (trims > 0) | halted))
    travels = tuple(travel(i) for i in travelled.tolist())
    sequins = np.flatnonzero(command == Command.SEQUIN)
    return Trace(
        start_mm=np.array(start[stitch]),
        end_mm=np.array(end[stitch]),
        thread_breaks=np.concatenate([[True], np.diff(np.cumsum(~sewn)[stitch]) > 0]),
        colour_block=block_of[1:][stitch],
        travels=travels,
        blocks=_blocks(block_of[1:][stitch], needle.ends_with),
        sequins_mm=np.array(xy_mm[sequins]),
        sequin_block=needle.block[np.searchsorted(needle.record, sequins)],
        trims=_trims(travels, int((halted & (trims == 0)).sum()), machine),
        notes=_notes(design, int(split.sum()), int((free & ~split).sum()), len(sequins)),
    )


def _trims(travels: tuple[Travel, ...], by_hand: int, machine: Machine) -> int:
    """Cuts the machine makes by itself: not those at a halt without a trim code."""
    if machine.trimmer is False:
        return 0
    return sum(travel.cut == "yes" for travel in travels) - by_hand


def _passed(command: Ints, points: Ints, what: Command) -> Ints:
    """How many such commands lie between each two neighbouring needle points."""
    return np.diff(np.cumsum(command == what)[points])


@dataclass(frozen=True, slots=True, eq=False)
class _Blocks:
    """The colour block of each record that sews (`record`, `block`), and what ends all but the last."""

    record: Ints
    block: Ints
    ends_with: tuple[Literal["colour-change", "stop"], ...]


def _needle_blocks(command: Ints) -> _Blocks:
    """Number the blocks: halts with nothing sewn between them, before or after all are one or none."""
    record = np.flatnonzero((command == Command.STITCH) | (command == Command.SEQUIN))
    changes, stops = (np.diff(np.cumsum(command == what)[record]) for what in _HALTS)
    ends = np.flatnonzero(changes + stops)
    block = np.concatenate([[0], np.cumsum(changes + stops > 0)])[: len(record)]
    return _Blocks(
        record, block.astype(np.int32), tuple("colour-change" if changes[i] else "stop" for i in ends)
    )


def _blocks(block: Ints, ends_with: tuple[Literal["colour-change", "stop"], ...]) -> tuple[ColourBlock, ...]:
    edges = np.searchsorted(block, np.arange(len(ends_with) + 2)).tolist()
    kinds: tuple[Literal["colour-change", "stop", "end"], ...] = (*ends_with, "end")
    return tuple(ColourBlock(i, edges[i], edges[i + 1] - 1, kind) for i, kind in enumerate(kinds))


def _even_steps(xy_mm: Floats, points: Ints) -> NDArray[np.bool_]:
    """Where jumps and the stitch that ends them are equal steps on one line: a long stitch
    that the format had to take apart. A move ends in a stitch without a step."""
    step = np.diff(xy_mm, axis=0)[points[0] : points[-1]] if len(points) else np.zeros((0, 2))
    if not len(step):
        return np.zeros(0, bool)
    first = points[:-1] - points[0]
    number = np.repeat(np.arange(len(first)), np.diff(points))
    moved = np.hypot(*step.T) > 1e-9
    count = np.bincount(number, moved)
    mean = np.stack([np.bincount(number, step[:, k]) for k in (0, 1)], 1) / np.maximum(count, 1)[:, None]
    apart = np.where(moved, np.abs(step - mean[number]).max(1), 0.0)
    ends_moving = moved[points[1:] - points[0] - 1]
    return np.asarray((count > 1) & ends_moving & (np.maximum.reduceat(apart, first) <= SAME_STEP_MM))


def _cut(
    design: Design, machine: Machine, *, jumps: int, way_mm: float, trimmed: bool, halted: bool
) -> tuple[Cut, str]:
    """Whether the thread is cut there, and by which rule."""
    if halted:
        return "yes", "change of thread or stop"
    if machine.trimmer is False:
        return "no", "the machine has no trimmer"
    if trimmed or design.trim_rule == "every-jump":
        return "yes", "trim"
    if design.trim_rule == "explicit":
        return "no", "jump without a trim code"
    if design.trim_rule == "never":
        return "no", "the format has no trims"
    return _cut_at_jumps(design, machine, jumps, way_mm)


def _cut_at_jumps(design: Design, machine: Machine, jumps: int, way_mm: float) -> tuple[Cut, str]:
    """Whether a machine cuts at jumps where the format has no code for it."""
    by_length, known_mm = design.trim_rule == "by-length", machine.trims_from_mm
    from_mm = CUT_FROM_MM if by_length and known_mm is None else known_mm
    if from_mm is not None and way_mm >= from_mm - SAME_POINT_MM:
        if machine.trimmer or known_mm is not None:
            return "yes", f"trim at a jump of {way_mm:.1f} mm"
        return "depends", f"a jump of {way_mm:.1f} mm cut on some machines only"
    if by_length:
        return "no", f"a jump of only {way_mm:.1f} mm"
    count, needed = f"{jumps} jump{'s' if jumps > 1 else ''} in a row", machine.trims_after_jumps
    if needed is not None:
        return ("yes", f"trim after {count}") if jumps >= needed else ("no", f"only {count}")
    if machine.trimmer:
        return "no", "the machine cuts at trim codes only"
    if jumps >= UNSURE_JUMPS:
        return "depends", f"{count} cut on some machines only"
    return "no", f"only {count}"


def _notes(design: Design, split: int, moves: int, sequins: int) -> tuple[str, ...]:
    notes = []
    if split:
        notes.append(
            f"{design.format.upper()} writes long stitches in pieces: {split} of even steps up to "
            f"{LONGEST_MM:g} mm that end in a step are drawn as one stitch, {moves} other moves as travels"
        )
    if sequins:
        notes.append(f"{sequins} sequin{'s are' if sequins > 1 else ' is'} sewn on and not drawn")
    return tuple(notes)
