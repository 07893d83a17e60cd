"""Rows: stitches grouped by the way the thread turns back and forth.

A row is a straight stretch; a short step to the next row is a connector. Rows that run
side by side, each against the one before, form a chain: satin is a chain of rows of one
stitch, a fill one of rows of many. A chain ends where its spacing jumps or it turns back.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.compiled import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats, Ints

CONNECTOR_MM = 4.5  # a longer step between rows is sewing of its own (estimate)
NEAREST_ROW_MM, FARTHEST_ROW_MM = 0.05, 3.6  # distances of rows of one object (estimate)
LEAST_ROWS = 4  # fewer rows side by side are a running stitch that turns (estimate)
# But so few that lie close, of several stitches each, are a narrow piece of the fill that their thread sews
# besides (estimate).
LEAST_CLOSE_ROWS, CLOSE_ROWS_MM = 3, 0.65
BENT = 1.15  # way along a row to the distance of its ends (estimate)
JUMPED = 1.8  # spacing that changes by this factor is another object (estimate)
OPEN_MM = 0.9  # rows this far apart show what is below: underlay, or a thin fill (estimate)
ODD_STITCHES = 3  # so few do not part an object (estimate)


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """R rows in order: stitches `first` to `last`, whether a connector led there, the ends
    of the row without it, and `chain`, the number of the chain it belongs to (-1: none)."""

    first: Ints
    last: Ints
    joined: NDArray[np.bool_]
    start_mm: Floats
    end_mm: Floats
    chain: Ints


def rows_of(start_mm: Floats, end_mm: Floats, piece: NDArray[np.int64]) -> Rows:
    """Rows of all stitches; no row crosses from one `piece` (S,) of thread to the next."""
    row, connector = walk(np.ascontiguousarray(start_mm), np.ascontiguousarray(end_mm), piece)
    first = np.flatnonzero(np.diff(row, prepend=-1) > 0)
    last = np.concatenate([first[1:], [len(row)]]) - 1
    joined = connector[first] & (last > first)
    begin = np.where(joined, first + 1, first)
    a, b = start_mm[begin], end_mm[last]
    # Rows may bend a little, as in a curved fill, but not round a corner.
    passed = np.concatenate([[0.0], np.cumsum(np.hypot(*(end_mm - start_mm).T))])
    straight = passed[last + 1] - passed[begin] < BENT * np.hypot(*(b - a).T)
    linked = side_by_side(a, b, piece[first], joined[1:], last > begin) & straight[:-1] & straight[1:]
    linked &= ~parted(a, b, linked)
    chain = _numbered(linked, _close(a, b, last > begin), piece[first])
    chain = bridged(chain, a, b, first, last, piece[first])
    return Rows(first, last, joined, a, b, chain)


@njit(cache=True, nogil=True)
def walk(
    start: NDArray[np.float64], end: NDArray[np.float64], piece: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Number of the row of each stitch, and which stitches only step to the next row.

    A stitch that turns by over 30 degrees starts a row. It is a connector when it is short,
    the stitches before and after it run against each other, and it goes along with neither.
    """
    n = len(start)
    row = np.zeros(n, np.int64)
    connector = np.zeros(n, np.bool_)
    ux, uy = np.zeros(n), np.zeros(n)
    for i in range(n):
        x, y = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]
        length = np.sqrt(x * x + y * y)
        ux[i], uy[i] = x / length, y / length
    number = 0
    turned = 1.0
    for i in range(1, n):
        turn = ux[i] * ux[i - 1] + uy[i] * uy[i - 1]
        if piece[i] != piece[i - 1]:
            number += 1
        elif not connector[i - 1]:
            if i + 1 < n and piece[i + 1] == piece[i]:
                x, y = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]
                against = ux[i + 1] * ux[i - 1] + uy[i + 1] * uy[i - 1]
                onward = ux[i + 1] * ux[i] + uy[i + 1] * uy[i]
                short = x * x + y * y < CONNECTOR_MM * CONNECTOR_MM
                zigzag = turn < -0.5 and turned < -0.5
                connector[i] = short and not zigzag and against < -0.7 and turn < 0.95 and onward < 0.95
            if connector[i] or turn < 0.87:
                number += 1
        turned = turn
        row[i] = number
    return row, connector


def side_by_side(
    a: Floats, b: Floats, piece: Ints, joined: NDArray[np.bool_], many: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Which rows (R - 1,) have the next one beside them, running against them.

    `joined` (R - 1,) is true where a connector leads there, `many` (R,) for rows of several
    stitches. Rows of a fill may differ in length by any amount, at a hole or a bay; without a
    connector a long row beside a short one leads away from it.
    """
    run = b - a
    size = np.maximum(np.hypot(*run.T), 1e-9)
    u, p, q = run / size[:, None], size[:-1], size[1:]
    against = (u[:-1] * u[1:]).sum(1)
    middle = (a[1:] + b[1:]) / 2 - a[:-1]
    far = b[1:] - a[:-1]
    # The far end of a zigzag row is twice as far from the row before as its middle is.
    apart = np.maximum(np.abs(_cross(u[:-1], middle)), np.abs(_cross(u[:-1], far)) / 2)
    # A column that turns about its inner edge steps only at the outer one, every other time.
    stepped = (apart > NEAREST_ROW_MM) | (piece[1:] != piece[:-1])
    ended = np.concatenate([[True], stepped, [True]])
    stepped |= ended[:-2] & ended[2:]
    beside = np.abs((u[:-1] * middle).sum(1) - p / 2) < 0.6 * np.maximum(p, q) + 0.5
    short, differ = np.minimum(p, q), np.abs(p - q)
    return np.asarray(
        (piece[1:] == piece[:-1])
        & (short > 0.25)
        & (against < -0.17)
        & stepped
        & (apart < FARTHEST_ROW_MM)
        & beside
        & ((differ < np.where(joined, 3.0 + short, 0.8 + 0.6 * short)) | (joined & many[:-1] & many[1:]))
    )


def advance(a: Floats, b: Floats) -> Floats:
    """Signed way (R - 2,) from each row's middle to that of the next but one, across the rows.

    Its sign tells on which side of the thread's first row the rows go on.
    """
    run = b - a
    u = run / np.maximum(np.hypot(*run.T), 1e-9)[:, None]
    across = u[:-1] - u[1:]
    across /= np.maximum(np.hypot(*across.T), 1e-9)[:, None]
    middle = (a + b) / 2
    sign = np.where(np.arange(len(a) - 2) % 2 == 0, 1.0, -1.0)
    return np.asarray(sign * _cross(across[:-1], middle[2:] - middle[:-2]))


def parted(a: Floats, b: Floats, linked: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which links (R - 1,) between rows part two chains: the spacing jumps or the way turns back."""
    n = len(a)
    found = np.zeros(max(n - 1, 0), bool)
    if n < 5:
        return found
    way = advance(a, b)
    held = linked[:-1] & linked[1:]
    # Compare the way up to row i with the way on from it.
    before, after = way[:-2], way[2:]
    whole = held[:-2] & held[2:]
    small = np.minimum(np.abs(before), np.abs(after))
    large = np.maximum(np.abs(before), np.abs(after))
    back = (before * after < 0) & (small > 0.1)
    jump = (large > JUMPED * small) & (large > OPEN_MM / 2) & (np.abs(large - small) > 0.25)
    strength = np.where(whole & (back | jump), np.log((large + 1e-3) / (small + 1e-3)) + 3.0 * back, 0.0)
    padded = np.concatenate([[0, 0], strength, [0, 0]])
    highest = np.max([padded[k : k + len(strength)] for k in range(5)], axis=0)
    peaks = np.flatnonzero((strength > 0) & (strength == highest)) + 2
    # Of the two links at the row, part the one whose own step is not like the way before.
    middle = (a + b) / 2
    step = np.hypot(*np.diff(middle, axis=0).T)
    for i in peaks.tolist():
        usual = abs(way[i - 2]) / 2
        first = abs(step[i - 1] - usual) > abs(step[i - 1] - abs(way[i]) / 2)
        found[i - 1 if first and abs(way[i - 2]) > abs(way[i]) else i] = True
    return found


def _close(a: Floats, b: Floats, many: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which rows (R - 1,) of several stitches have the next one, of several too, close beside them."""
    u = (b - a) / np.maximum(np.hypot(*(b - a).T), 1e-9)[:, None]
    apart = np.abs(_cross(u[:-1], (a[1:] + b[1:]) / 2 - a[:-1]))
    return np.asarray(many[:-1] & many[1:] & (apart < CLOSE_ROWS_MM))


def _numbered(linked: NDArray[np.bool_], close: NDArray[np.bool_], piece: Ints) -> NDArray[np.int64]:
    """The chain (R,) of each row from which rows are linked to the next, all of them `close` or not; -1 for
    short chains. `piece` (R,) of thread is that of the row."""
    group = np.concatenate([[0], np.cumsum(~linked)])
    size, own = np.bincount(group), piece[np.flatnonzero(np.diff(group, prepend=-1))]
    together = np.bincount(group[1:], linked & close, len(size)) == size - 1
    together &= np.isin(own, own[size >= LEAST_ROWS])
    enough = size >= np.where(together, LEAST_CLOSE_ROWS, LEAST_ROWS)
    return np.asarray(np.where(enough, np.cumsum(enough) - 1, -1)[group], np.int64)


def bridged(
    chain: NDArray[np.int64], a: Floats, b: Floats, first: Ints, last: Ints, piece: Ints
) -> NDArray[np.int64]:
    """Join chains that only a few odd stitches part, as at a sharp corner or a short row.

    The next chain must go on where the one before it stops, the same way, with about the same
    spacing and as many stitches a row. Odd stitches between them go with them.
    """
    members = np.flatnonzero(chain >= 0)
    if not len(members):
        return chain
    heads = members[np.diff(chain[members], prepend=-1) > 0]
    tails = np.concatenate([members[np.flatnonzero(np.diff(chain[members]) > 0)], members[-1:]])
    total = np.concatenate([[0], np.cumsum(last - first + 1)])
    stitches = (total[tails + 1] - total[heads]) / (tails + 1 - heads)
    way = np.concatenate([advance(a, b), [0.0, 0.0]])
    out = chain.copy()
    for k in range(len(heads) - 1):
        i, j = int(tails[k]), int(heads[k + 1])
        if piece[i] != piece[j] or total[j] - total[i + 1] > ODD_STITCHES:
            continue
        here, there = way[i - 2], way[j]
        spacing = max(abs(here), abs(there))
        near = np.hypot(*(a[j] - b[i])) < 2 * spacing + 0.5 if j == i + 1 else True
        gap = (a[j] + b[j] - a[i] - b[i]) / 2
        close = np.hypot(*gap) < 1.5 * spacing * (j - i) + 0.5
        alike = abs(np.log(stitches[k] / stitches[k + 1])) < 0.5
        same = abs(np.log(max(abs(here), 1e-3) / max(abs(there), 1e-3))) < np.log(JUMPED)
        turned = (b[i] - a[i]) @ (b[j] - a[j]) * (-1) ** (j - i) > 0 and here * there > 0
        if near and close and alike and same and turned:
            out[i : j + 1] = out[i]
            out[j : tails[k + 1] + 1] = out[i]
    return out


def _cross(u: Floats, v: Floats) -> Floats:
    return np.asarray(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
