"""Stitches that retrace or cross each other on purpose: bean runs, E-stitches, cross-stitches."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from render.model import Floats, Ints

    Meeting = Callable[[Ints, Ints], NDArray[np.bool_]]

PLAIN, BEAN, E_STITCH, CROSS = 0, 1, 2, 3

RETRACE_MM = 0.15  # a stitch back along the one before ends this close to its start
LEAST_BEAN, LEAST_LEGS, LEAST_CROSS = 6, 3, 4  # stitches, legs, strokes that make a pattern (estimate)
LEG_MM = 0.6  # shorter legs are ties (estimate)
LEG_SPACING_MM = 0.7  # legs closer together are split satin (estimate)
LEAST_STROKE_MM = 0.7
ALIKE = 0.25  # lengths of strokes or legs of one pattern, as logarithm of their ratio (estimate)


def patterns_of(start_mm: Floats, end_mm: Floats, piece: Ints, block: Ints) -> NDArray[np.int8]:
    """The pattern (S,) each stitch belongs to, PLAIN where it is none of them.

    `piece` and `block` number the unbroken thread and the colour block of each stitch.
    """
    found = np.full(len(start_mm), PLAIN, np.int8)
    if len(start_mm) < 3:
        return found
    back = np.zeros(len(start_mm), bool)
    back[:-1] = (np.hypot(*(end_mm[1:] - start_mm[:-1]).T) < RETRACE_MM) & (piece[1:] == piece[:-1])
    found[_crosses(start_mm, end_mm, piece, block)] = CROSS
    found[_legs(start_mm, end_mm, piece, back)] = E_STITCH
    found[_beans(back)] = BEAN
    return found


def _reaching(marked: NDArray[np.bool_], least: int) -> NDArray[np.bool_]:
    """Only those runs of marks that hold at least so many."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], marked, [False]]).astype(np.int8)))
    first, stop = edges[::2], edges[1::2]
    long = stop - first >= least
    return _between(first[long], stop[long], len(marked))


def _between(first: Ints, stop: Ints, n: int) -> NDArray[np.bool_]:
    """True from each `first` up to, not including, its `stop`."""
    step = np.zeros(n + 1, np.int64)
    np.add.at(step, first, 1)
    np.add.at(step, stop, -1)
    return np.cumsum(step)[:n] > 0


def _beans(back: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Stitches sewn forward, back and forward again, two of them or more in a row."""
    triple = np.flatnonzero(back[:-1] & back[1:])
    return _reaching(_between(triple, np.minimum(triple + 3, len(back)), len(back)), LEAST_BEAN)


def _legs(start: Floats, end: Floats, piece: Ints, back: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Legs out and back at every step along a line, with the steps between them."""
    n = len(back)
    run = end - start
    length = np.maximum(np.hypot(*run.T), 1e-9)
    beside = np.concatenate([[False], back[:-1]]) | np.concatenate([back[1:], [False]])
    leg = np.flatnonzero(back & ~beside & (length > LEG_MM))
    if len(leg) < LEAST_LEGS:
        return np.zeros(n, bool)
    here, there = leg[:-1], leg[1:]
    apart = there - here
    step = start[there] - end[np.minimum(here + 1, n - 1)]
    # The way from leg to leg leads straight on; a satin that turns about its inner edge goes out and back.
    total = np.concatenate([[0.0], np.cumsum(length)])
    way = total[there] - total[np.minimum(here + 2, n)]
    along = np.abs((step * run[here]).sum(1)) / (np.maximum(np.hypot(*step.T), 1e-9) * length[here])
    linked = (
        (apart >= 3)
        & (apart <= 5)
        & (piece[here] == piece[there])
        & (np.abs(np.log(length[there] / length[here])) < 2 * ALIKE)
        & ((run[here] * run[there]).sum(1) > 0)
        & (along < 0.8)
        & (np.hypot(*step.T) > LEG_SPACING_MM)
        & (way < 1.3 * np.hypot(*step.T) + 0.1)
    )
    linked = _reaching(linked, LEAST_LEGS - 1)
    return _between(here[linked], there[linked] + 2, n)


def _crosses(start: Floats, end: Floats, piece: Ints, block: Ints) -> NDArray[np.bool_]:
    """Strokes of equal length that cross in their middles at a right angle, and the steps between."""
    n = len(start)
    run, middle = end - start, (start + end) / 2
    length = np.maximum(np.hypot(*run.T), 1e-9)

    def square(i: Ints, j: Ints) -> NDArray[np.bool_]:
        aslant = np.abs((run[i] * run[j]).sum(1)) / (length[i] * length[j])
        return np.asarray((aslant < 0.4) & (np.abs(np.log(length[i] / length[j])) < ALIKE))

    def meeting(i: Ints, j: Ints) -> NDArray[np.bool_]:
        return np.asarray(square(i, j) & (np.hypot(*(middle[i] - middle[j]).T) < 0.2 * length[i]))

    at = np.arange(n)
    crossed, zigzag = np.zeros(n, bool), np.zeros(n, bool)
    for step in (1, 2, 3):
        near = piece[at[step:]] == piece[at[:-step]]
        crossing = meeting(at[:-step], at[step:]) & near
        crossed[:-step] |= crossing
        crossed[step:] |= crossing
        if step == 1:
            corner = square(at[:-1], at[1:]) & near
            zigzag[:-1] |= corner
            zigzag[1:] |= corner
    stroke = np.flatnonzero(zigzag & ~crossed & (length > LEAST_STROKE_MM))
    crossed[stroke] = _crossed_anywhere(stroke, middle[stroke], block[stroke], meeting)
    crossed &= length > LEAST_STROKE_MM
    # The step from one stroke to the next lies along the side of the cross.
    gap = ~crossed
    gap[1:-1] &= crossed[:-2] & crossed[2:] & (piece[:-2] == piece[2:])
    gap[[0, -1]] = False
    return _reaching(crossed | gap, LEAST_CROSS)


def _crossed_anywhere(stroke: Ints, middle: Floats, block: Ints, meeting: Meeting) -> NDArray[np.bool_]:
    """Whether another of the strokes, sewn at any time with the same thread, crosses this one.

    Strokes are sorted into cells; in each neighbouring cell the first and the last are tried,
    for a cell holds no more than the two strokes of one cross.
    """
    found = np.zeros(len(stroke), bool)
    if not len(stroke):
        return found
    cell = np.floor((middle - middle.min(0)) / 0.6).astype(np.int64) + 1
    wide = int(cell[:, 0].max()) + 2
    tall = int(cell[:, 1].max()) + 2
    key = (block.astype(np.int64) * tall + cell[:, 1]) * wide + cell[:, 0]
    order = np.argsort(key, kind="stable")
    ordered = key[order]
    for shift in (-wide - 1, -wide, -wide + 1, -1, 0, 1, wide - 1, wide, wide + 1):
        for side, back in (("left", 0), ("right", 1)):
            place = np.searchsorted(ordered, key + shift, side) - back  # type: ignore[call-overload]
            place = np.clip(place, 0, len(order) - 1)
            other = order[place]
            there = (ordered[place] == key + shift) & (other != np.arange(len(stroke)))
            found |= there & meeting(stroke, stroke[other])
    return found
