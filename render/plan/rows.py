"""Rows: stitches grouped by the way the thread turns back and forth.

A row is a stretch without reversal; a short step to the next row is a connector. Satin is
rows of one stitch, fill rows of many, running one long row.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numba import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Floats, Ints

CONNECTOR_MM = 3.0  # a longer step between rows is sewing of its own (estimate)
NEAREST_ROW_MM, FARTHEST_ROW_MM = 0.08, 3.6  # distances of rows of one object (estimate)
ODD_STITCHES = 3  # so few do not part an object (estimate)


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """R rows in order: stitches `first` to `last`, whether a connector led there, the ends
    of the row, and `chain`, the number of the row group it belongs to (-1: none)."""

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
    chained = chain(a, b, begin, last, piece[first], start_mm, end_mm)
    return Rows(first, last, joined, a, b, bridged(chained, last - begin + 1, piece[first]))


def bridged(chain: NDArray[np.int64], stitches: Ints, piece: Ints) -> NDArray[np.int64]:
    """Join groups that only a few odd stitches part, as at a sharp corner or a pointed end.

    Groups are joined when their rows hold about as many stitches; odd stitches at an end
    of a group go with it.
    """
    out = chain.copy()
    members = np.flatnonzero(chain >= 0)
    if not len(members):
        return out
    count = np.bincount(chain[members], stitches[members]) / np.maximum(np.bincount(chain[members]), 1)
    rows = np.bincount(chain[members])
    before = np.concatenate([[0], np.cumsum(stitches)])
    for i, j in pairwise(members.tolist()):
        odd = before[j] - before[i + 1]
        if chain[i] == chain[j] or piece[i] != piece[j] or odd > ODD_STITCHES:
            continue
        alike = abs(np.log(count[chain[i]] / count[chain[j]])) < 0.5
        if alike or min(rows[chain[i]], rows[chain[j]]) < 3:
            keep = out[i]
            out[i:j] = keep
            out[chain == chain[j]] = keep
    return out


@njit(cache=True, nogil=True)
def walk(
    start: NDArray[np.float64], end: NDArray[np.float64], piece: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Number of the row of each stitch, and which stitches only step to the next row.

    A stitch that turns by over 120 degrees starts a row. A short stitch that turns by over
    50 degrees may be a connector: it is one if the stitch after it runs against the row.
    """
    n = len(start)
    row = np.zeros(n, np.int64)
    connector = np.zeros(n, np.bool_)
    number = 0
    dx, dy = 0.0, 0.0
    for i in range(n):
        x, y = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]
        length = np.sqrt(x * x + y * y)
        x, y = x / length, y / length
        if i > 0 and piece[i] != piece[i - 1]:
            number += 1
            dx, dy = x, y
        elif i > 0:
            along = x * dx + y * dy
            if connector[i - 1] and row[i - 1] == number:
                dx, dy = x, y
            elif along < -0.5:
                number += 1
                dx, dy = x, y
            elif along < 0.64 and length < CONNECTOR_MM and i + 1 < n and piece[i + 1] == piece[i]:
                nx, ny = end[i + 1, 0] - start[i + 1, 0], end[i + 1, 1] - start[i + 1, 1]
                size = np.sqrt(nx * nx + ny * ny)
                if (nx * dx + ny * dy) / size < -0.7:
                    number += 1
                    connector[i] = True
                else:
                    dx, dy = x, y
            else:
                dx, dy = x, y
        else:
            dx, dy = x, y
        row[i] = number
    return row, connector


@njit(cache=True, nogil=True)
def chain(
    a: NDArray[np.float64],
    b: NDArray[np.float64],
    begin: NDArray[np.int64],
    last: NDArray[np.int64],
    piece: NDArray[np.int64],
    start: NDArray[np.float64],
    end: NDArray[np.float64],
) -> NDArray[np.int64]:
    """Number the groups of neighbouring rows that run back and forth side by side."""
    n = len(a)
    group = np.full(n, -1, np.int64)
    number = -1
    for i in range(n - 1):
        if piece[i] != piece[i + 1]:
            continue
        ux, uy = b[i, 0] - a[i, 0], b[i, 1] - a[i, 1]
        vx, vy = b[i + 1, 0] - a[i + 1, 0], b[i + 1, 1] - a[i + 1, 1]
        p, q = np.sqrt(ux * ux + uy * uy), np.sqrt(vx * vx + vy * vy)
        if p < 0.3 or q < 0.3:
            continue
        straight = True
        for row in range(2):
            way = 0.0
            for k in range(begin[i + row], last[i + row] + 1):
                way += np.sqrt((end[k, 0] - start[k, 0]) ** 2 + (end[k, 1] - start[k, 1]) ** 2)
            straight = straight and way < 1.04 * (p if row == 0 else q)
        against = (ux * vx + uy * vy) / (p * q)
        # Distance of the second row's middle and of its far end from the first row's line.
        mx, my = 0.5 * (a[i + 1, 0] + b[i + 1, 0]) - a[i, 0], 0.5 * (a[i + 1, 1] + b[i + 1, 1]) - a[i, 1]
        ex, ey = b[i + 1, 0] - a[i, 0], b[i + 1, 1] - a[i, 1]
        apart = max(abs(mx * uy - my * ux), 0.5 * abs(ex * uy - ey * ux)) / p
        near = NEAREST_ROW_MM < apart < FARTHEST_ROW_MM
        if straight and against < -0.6 and near:
            if group[i] < 0:
                number += 1
                group[i] = number
            group[i + 1] = group[i]
    return group
