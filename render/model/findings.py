"""What the inspection finds, by which limits, and what the order takes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Severity = Literal["note", "check", "fix"]
Limits = Mapping[str, float]  # from where on the inspector speaks up, for one cloth and thread, by name


@dataclass(frozen=True, slots=True)
class Limit:
    """A number from where on a check speaks up, what it means, and where it comes from.

    `but` has other values for groups of cloths and sizes of thread (`materials/groups.py`); that of a group
    comes before that of a size. A shop may set any of them.
    """

    usual: float
    means: str
    but: Mapping[str, float] = field(default_factory=dict)
    source: str = "common practice, no source; numbers set by hand (estimate)"


@dataclass(frozen=True, slots=True, kw_only=True)
class ProblemKind:
    """How a kind of problem is told to those who did not ask for an inspection.

    `remark` is the sentence that a customer reads, a key of the words of each language; empty for what is
    the shop's own affair. It tells the largest size, or the `smallest`; notes count only for a kind that is
    never more (`only_noted`), and nothing does once what is loose has been `clipped`. `called` is the kind's
    name and `said` the sentence by language, where the words of a language have neither.
    """

    remark: str = ""
    smallest: bool = False
    only_noted: bool = False
    clipped: bool = False
    called: Mapping[str, str] = field(default_factory=dict)
    said: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that would spoil a garment or cost time, as it lies on the finished cloth, mm.

    `where_mm` is a point in it, `box_mm` (left, top, right, bottom) holds it, `size_mm` is the
    length that decides it, None for kinds without one; each kind says in its own module what
    is measured. `stitches` first and last, both included; of a travel the last stitch before it
    and the first after. `cause` and `remedy` are sentences for a stitcher.
    """

    kind: str
    severity: Severity
    where_mm: tuple[float, float]
    box_mm: tuple[float, float, float, float]
    size_mm: float | None
    objects: tuple[int, ...]
    stitches: tuple[int, int]
    colour_block: int
    cause: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Production:
    """What sewing the piece once takes: seconds, and metres of thread.

    `needle_thread_m` has one entry a colour block, `clipped_mm` one a dragged thread that somebody
    has to clip, its length.
    """

    run_time_s: float
    trims: int
    colour_changes: int
    stops: int
    needle_thread_m: tuple[float, ...]
    bobbin_thread_m: float
    clipped_mm: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Waiver:
    """A finding that is meant so: problems of this kind there are left out; `why` is the shop's own."""

    kind: str
    where_mm: tuple[float, float] | None
    within_mm: float
    why: str
