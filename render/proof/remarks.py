"""What an inspection means to others: to the customer who signs, and to whoever stands at the machine.

A customer is told what can be seen or felt on the finished piece, in sentences without a trade
word; one for each kind of fault, with the worst size. Everything else is the shop's affair.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from render.inspect import Inspection
    from render.model import Job, Problem, ProblemKind

# Kinds that a customer sees or feels, and the sentence of each (a key of the words), the gravest first.
SEEN: dict[ProblemKind, str] = {
    "small-lettering": "small_letters",
    "narrow-column": "fine_lines",
    "buried-detail": "buried",
    "gap": "gaps",
    "thin-cover": "thin",
    "registration": "shift",
    "one-way-pull": "ripple",
    "pucker": "ripple",
    "crowding": "stiff",
    "repeated-hole": "holes",
    "wide-column": "snag",
    "long-stitch": "snag",
    "uncut-jump": "threads_left",
    "seam": "seam",
}
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

    kind: ProblemKind
    size_mm: float | None
    block: int
    from_middle_mm: tuple[float, float]
    grave: bool


def customer_remarks(found: Inspection, job: Job) -> tuple[Remark, ...]:
    """What a customer should know, one remark a sentence; what is only for the record is left out."""
    places: dict[str, list[Problem]] = {}
    for kind, words in SEEN.items():
        if kind == "uncut-jump" and job.finish == "cleaned":
            continue
        ours = [one for one in found.problems if one.kind == kind and _counts(one)]
        if ours:
            places.setdefault(words, []).extend(ours)
    return tuple(Remark(words, _worst(ours), len(ours)) for words, ours in places.items())


def _counts(one: Problem) -> bool:
    # Cloth that may ripple is only ever noted, since no measure of it is sure; a customer wants to know.
    return one.severity != "note" or one.kind == "pucker"


def _worst(problems: list[Problem]) -> float | None:
    """The size that decides: of letters and lines the smallest, of everything else the largest."""
    sizes = [one.size_mm for one in problems if one.size_mm is not None]
    small = problems[0].kind in ("small-lettering", "narrow-column")
    return None if not sizes else min(sizes) if small else max(sizes)


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
