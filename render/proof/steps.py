"""What happens at the machine, in order, with how long it takes: sewing, and what hands do."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from render.inspect.applique import hand_work
from render.inspect.production import sewing_time_s
from render.materials.production import usual_effort

if TYPE_CHECKING:
    from collections.abc import Iterator

    from render.inspect import Piece
    from render.model import ColourBlock, Production, StitchKind

Action = Literal["load", "foam", "sew", "change", "re-thread", "lay", "trim", "wait", "finish"]
HANDS: tuple[Action, ...] = ("load", "foam", "re-thread", "lay", "trim", "wait", "finish")


@dataclass(frozen=True, slots=True)
class Step:
    """One step: `starts_s` on the machine's clock, which starts with the first stitch.

    `block` is the colour block that is sewn, or after which (before which, for foam) hands or the
    machine act, 0 for loading and finishing; a sewing step has its `stitches`, first and last, both
    included, (0, -1) otherwise, and what they are, the most first. Loading and finishing are off
    the clock. A `change` is the machine's own; `wait` is a stop whose reason nobody gave.
    """

    number: int
    action: Action
    block: int
    starts_s: float
    seconds: float
    stitches: tuple[int, int] = (0, -1)
    kinds: tuple[StitchKind, ...] = ()

    @property
    def by_hand(self) -> bool:
        """Whether hands do it, not the machine."""
        return self.action in HANDS


def sewing_steps(piece: Piece, production: Production) -> tuple[Step, ...]:
    """The steps of one piece; those between loading and finishing take its run time, together."""
    effort = usual_effort()
    clips = sum(
        effort.short_clip_s if mm < effort.scissors_mm else effort.clip_s for mm in production.clipped_mm
    )
    found = [Step(0, "load", 0, 0.0, effort.hooping_s), *_between(piece), Step(0, "finish", 0, 0.0, clips)]
    steps, clock = [], 0.0
    for number, step in enumerate(found, 1):
        steps.append(replace(step, number=number, starts_s=clock))
        clock += 0.0 if step.action == "load" else step.seconds
    return tuple(steps)


def _between(piece: Piece) -> Iterator[Step]:
    """Sewing and halts, not numbered nor timed yet."""
    plan, effort = piece.plan, usual_effort()
    hands = hand_work(piece)
    foam = {block for block, treatment in piece.job.blocks.items() if treatment.kind == "foam"}
    own_trims = _trims_within(piece)
    halts = max(len(plan.blocks) - 1, 1)
    at_halts_s = (plan.trims - sum(own_trims.values())) * effort.trim_s / halts
    if 0 in foam:
        yield Step(0, "foam", 1, 0.0, 0.0)
    for block in plan.blocks:
        sewing_s = _sewing_s(piece, block) + own_trims[block.index] * effort.trim_s
        last = block.index == len(plan.blocks) - 1
        yield Step(
            0,
            "sew",
            block.index + 1,
            0.0,
            sewing_s + (at_halts_s if len(plan.blocks) == 1 else 0.0),
            (block.first, block.last),
            _kinds(piece, block),
        )
        seconds = at_halts_s + (
            effort.colour_change_s if block.ends_with == "colour-change" else effort.stop_s
        )
        work = [what for number, what in hands if number == block.index]
        for count, what in enumerate(work):
            yield Step(0, what, block.index + 1, 0.0, 0.0 if last or count else seconds)
        if not last:
            seconds = 0.0 if work else seconds
            laid = block.index + 1 in foam
            yield from _halt(piece, block, seconds, explained=laid)
            if laid:
                yield Step(0, "foam", block.index + 2, 0.0, 0.0 if _rethreads(piece, block) else seconds)


def _halt(piece: Piece, block: ColourBlock, seconds: float, *, explained: bool) -> Iterator[Step]:
    """The change to the next thread, or a stop that nothing else explains."""
    if _rethreads(piece, block):
        by_hand = piece.job.machine.needles == 1
        yield Step(0, "re-thread" if by_hand else "change", block.index + 1, 0.0, seconds)
    elif seconds and not explained:
        yield Step(0, "wait", block.index + 1, 0.0, seconds)


def _rethreads(piece: Piece, block: ColourBlock) -> bool:
    """Whether another thread sews the next block."""
    before, after = piece.threads[block.index : block.index + 2]
    return replace(before, label="", needle=None) != replace(after, label="", needle=None)


def _sewing_s(piece: Piece, block: ColourBlock) -> float:
    own = slice(block.first, block.last + 1)
    machine = piece.job.machine
    length = np.hypot(*(piece.plan.end_mm[own] - piece.plan.start_mm[own]).T)
    return sewing_time_s(length, machine.cap_speed_spm if piece.cap else machine.speed_spm, usual_effort())


def _trims_within(piece: Piece) -> Counter[int]:
    """Cuts that the machine makes by itself within each colour block, not where it halts."""
    if piece.job.machine.trimmer is False:
        return Counter()
    plan = piece.plan
    starts = {block.first for block in plan.blocks[1:]}
    return Counter(
        travel.colour_block
        for travel in plan.travels
        if travel.cut == "yes" and travel.after_stitch + 1 not in starts
    )


def _kinds(piece: Piece, block: ColourBlock) -> tuple[StitchKind, ...]:
    """What a block is sewn in, by how many stitches; ties go without saying where there is more."""
    count: Counter[StitchKind] = Counter()
    for part in piece.plan.objects:
        if part.colour_block == block.index:
            count[part.kind] += part.last - part.first + 1
    kinds = tuple(kind for kind, _ in count.most_common())
    return tuple(kind for kind in kinds if kind != "tie") or kinds
