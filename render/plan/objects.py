"""Objects: runs of stitches of one character, named."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.model import SewnObject
from render.plan.measure import measures_of
from render.plan.patterns import BEAN, CROSS, E_STITCH, PLAIN, patterns_of
from render.plan.rows import Rows, rows_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats, Ints, StitchKind

TIE_MM, TIE_STITCHES = 1.0, 8  # a tie is at most so many stitches, each at most this long (estimate)
SPLIT_ROW_MM, LONGEST_SPLIT_MM = 6.5, 16.0  # satin is split where a stitch would snag, from about 7 mm
SPLIT_STITCHES = 3.6  # rows of more stitches are fill (estimate)
_PATTERNS: dict[int, StitchKind] = {BEAN: "bean", E_STITCH: "e-stitch", CROSS: "cross-stitch"}


@dataclass(frozen=True, slots=True)
class Span:
    """Stitches `first` to `last` of one kind; `chain` is that of their rows, -1 for none."""

    first: int
    last: int
    kind: StitchKind
    chain: int


def objects_of(
    start_mm: Floats, end_mm: Floats, thread_breaks: NDArray[np.bool_], block: Ints
) -> tuple[SewnObject, ...]:
    """All objects in sewing order, covered ones not yet told apart.

    Objects end where the thread does, at a change of block, and where its character changes.
    """
    piece = np.cumsum(thread_breaks | _new(block), dtype=np.int64)
    pattern = patterns_of(start_mm, end_mm, piece, block)
    # Rows are sought in plain stitches only: a change of pattern parts them like a break.
    rows = rows_of(start_mm, end_mm, np.cumsum(_new(pattern) | _new(piece), dtype=np.int64))
    spans = _spans(rows, pattern, piece)
    spans = [part for span in spans for part in _without_ties(span, start_mm, end_mm, piece)]
    measures = measures_of([(s.first, s.last, s.kind) for s in spans], rows, start_mm, end_mm)
    return tuple(
        SewnObject(
            index=index,
            kind=span.kind,
            first=span.first,
            last=span.last,
            colour_block=int(block[span.first]),
            row_spacing_mm=size.row_spacing_mm,
            angle_deg=size.angle_deg,
            width_mm=size.width_mm,
            length_mm=size.length_mm,
            serves="running" if span.kind == "tie" else None,
        )
        for index, (span, size) in enumerate(zip(spans, measures, strict=True))
    )


def _new(number: Ints) -> NDArray[np.bool_]:
    """True where a number is not that of the one before."""
    return np.asarray(np.diff(number, prepend=number[:1]) != 0)


def _spans(rows: Rows, pattern: NDArray[np.int8], piece: Ints) -> list[Span]:
    """The stretches of one pattern or one chain, each with its kind."""
    of_stitch = np.repeat(np.arange(len(rows.first)), rows.last - rows.first + 1)
    chain = np.where(pattern == PLAIN, rows.chain[of_stitch], -1)
    cut = np.flatnonzero(_new(chain) | _new(pattern) | _new(piece))
    first = np.concatenate([[0], cut])
    last = np.concatenate([cut, [len(chain)]]) - 1
    kinds = _chain_kinds(rows)
    return [
        Span(a, b, kinds[c] if c >= 0 else _PATTERNS.get(p, "running"), c)
        for a, b, c, p in zip(
            first.tolist(), last.tolist(), chain[first].tolist(), pattern[first].tolist(), strict=True
        )
    ]


def _chain_kinds(rows: Rows) -> list[StitchKind]:
    """Satin, split satin or fill, from how the rows of each chain are made."""
    mine = rows.chain >= 0
    chain = rows.chain[mine]
    total = np.maximum(np.bincount(chain), 1)
    count = (rows.last - rows.first + 1 - rows.joined)[mine]
    joined = np.bincount(chain, rows.joined[mine]) / total
    single = np.bincount(chain, count == 1) / total
    stitches = np.bincount(chain, count) / total
    reach = np.bincount(chain, np.hypot(*(rows.end_mm - rows.start_mm)[mine].T)) / total
    satin = (joined < 0.34) & (single > 0.7)
    split = (joined < 0.1) & (stitches < SPLIT_STITCHES) & (reach > SPLIT_ROW_MM) & (reach < LONGEST_SPLIT_MM)
    return ["satin" if s else "split-satin" if p else "fill" for s, p in zip(satin, split, strict=True)]


def _without_ties(span: Span, start: Floats, end: Floats, piece: Ints) -> list[Span]:
    """A span with the ties at its ends split off, where the thread itself starts or ends."""
    first, last = span.first, span.last
    begins = first == 0 or bool(piece[first] != piece[first - 1])
    ends = last + 1 == len(piece) or bool(piece[last] != piece[last + 1])
    if not (begins or ends):
        return [span]
    size = last - first + 1
    if size <= TIE_STITCHES:
        way = end[first : last + 1] - start[first : last + 1]
        tiny = bool((np.hypot(*way.T) <= TIE_MM).all())
        if tiny and size > 1 and bool(((way[1:] * way[:-1]).sum(1) < 0).any()) and _lone(span, begins, ends):
            return [Span(first, last, "tie", -1)]
    if span.chain >= 0 or span.kind in ("e-stitch", "cross-stitch"):
        return [span]
    head = _tie_reach(start, end, first, last) if begins else 0
    tail = _tie_reach(end[::-1], start[::-1], len(piece) - 1 - last, len(piece) - 1 - first) if ends else 0
    if head + tail >= size:
        return [span]
    parts = [Span(first + head, last - tail, span.kind, -1)]
    if head:
        parts.insert(0, Span(first, first + head - 1, "tie", -1))
    if tail:
        parts.append(Span(last - tail + 1, last, "tie", -1))
    return parts


def _lone(span: Span, begins: bool, ends: bool) -> bool:
    """A short satin by itself is a small satin, not a tie."""
    return span.chain < 0 or not (begins and ends)


def _tie_reach(start: Floats, end: Floats, first: int, last: int) -> int:
    """How many stitches from an end are a tie: short ones, up to the last that turns back."""
    stop = min(last + 1, first + TIE_STITCHES + 1)
    way = end[first:stop] - start[first:stop]
    length = np.hypot(*way.T)
    reach = 0
    for k in range(min(len(way) - 1, TIE_STITCHES)):
        if length[k] > TIE_MM:
            break
        if way[k] @ way[k + 1] < -0.5 * length[k] * length[k + 1]:
            reach = k + 1 + int(length[k + 1] <= TIE_MM)
    return min(reach, last - first + 1)
