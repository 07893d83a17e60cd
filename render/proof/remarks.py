"""What an inspection means to others: to the customer who signs, and to whoever stands at the machine.

A customer is told what can be seen or felt on the finished piece, in sentences without a trade
word, each with the worst size: those that kinds of problem name as their `remark`, the gravest first, as
`[remark]` in the English words has them. Everything else is the shop's affair.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from render.inspect import kinds
from render.proof.wording import USUAL_LANGUAGE, words_in

if TYPE_CHECKING:
    from render.inspect import Inspection
    from render.model import Job, Problem, ProblemKind

MOST_WATCHED = 6


@dataclass(frozen=True, slots=True)
class Remark:
    """Something that a customer should know: which sentence, the worst size in mm (None for kinds
    without one) and in how many places."""

    words: str
    size_mm: float | None
    places: int


@dataclass(frozen=True, slots=True)
class Watch:
    """A place to keep an eye on: kind, size, colour block, and where it is, seen from the middle of
    the design, mm, x right, y down."""

    kind: str
    size_mm: float | None
    block: int
    from_middle_mm: tuple[float, float]
    grave: bool


def customer_remarks(found: Inspection, job: Job) -> tuple[Remark, ...]:
    """What a customer should know, one remark a sentence; what is only for the record is left out."""
    known = kinds()
    places: dict[str, list[Problem]] = {}
    for one in found.problems:
        kind = known[one.kind]
        if kind.remark and _counts(one, kind) and not (kind.clipped and job.finish == "cleaned"):
            places.setdefault(kind.remark, []).append(one)
    gravest_first = list(words_in(USUAL_LANGUAGE).tables["remark"])
    return tuple(
        Remark(
            words, _worst(places[words], smallest=known[places[words][0].kind].smallest), len(places[words])
        )
        for words in sorted(places, key=gravest_first.index)
    )


def _counts(one: Problem, kind: ProblemKind) -> bool:
    # Cloth that may ripple is only ever noted, since no measure of it is sure; a customer wants to know.
    return one.severity != "note" or kind.only_noted


def _worst(problems: list[Problem], *, smallest: bool) -> float | None:
    """The size that decides: of letters and lines the smallest, of everything else the largest."""
    sizes = [one.size_mm for one in problems if one.size_mm is not None]
    return None if not sizes else min(sizes) if smallest else max(sizes)


def to_watch(found: Inspection, box_mm: tuple[float, float, float, float]) -> tuple[Watch, ...]:
    """The gravest findings for the page at the machine, at most six, one a kind and colour block."""
    left, top, right, bottom = box_mm
    seen: dict[tuple[str, int], Watch] = {}
    for one in found.problems:
        if one.severity == "note":
            continue
        x, y = one.where_mm
        away = (x - (left + right) / 2, y - (top + bottom) / 2)
        watch = Watch(one.kind, one.size_mm, one.colour_block + 1, away, one.severity == "fix")
        seen.setdefault((one.kind, one.colour_block), watch)
    return tuple(seen.values())[:MOST_WATCHED]
