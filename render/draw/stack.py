"""How high each thread lies: strands settle on what was sewn before them, in order.

Heights are mm above the cloth's mean surface. One sequential pass over a coarse map of
the top surface; the heights it fixes make every tile of the picture independent.
"""

from __future__ import annotations

import itertools
import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numba import njit

from render.draw.cords import CONTINUES, lift_loose, loose_parts
from render.draw.dimples import EDGE_CELLS, dimples_mm
from render.draw.section import crowd_of, sections_mm
from render.model import freeze

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from render.draw.strands import Strands

# Not a binary fraction: no needle point then falls on a border between two cells, which
# would go to the one or the other side as the design is turned.
CELL_MM = 0.0977
# Over such a length a thread goes down into its hole, by such a share of its half-height: one that
# is as if alone, and one pressed by others.
DIVE_MM, HOLE_SINK = (0.30, 0.34), (0.40, 0.75)
PER_MM = 1.0 / CELL_MM
# Places across a thread and how high it is there, in half-widths and half-heights, by how many cells
# lie to either side of its middle: the widest are 8 mm.
MOST_STEPS = 60
ACROSS = np.arange(-MOST_STEPS, MOST_STEPS + 1) / (np.arange(MOST_STEPS + 1)[:, None] + 0.5)
ACROSS = np.array([np.roll(row, steps - MOST_STEPS) for steps, row in enumerate(ACROSS)])
HIGH = 1.0 + np.sqrt(np.maximum(1.0 - ACROSS * ACROSS, 0.0))
REST_SHARE = 0.6  # how far to the side, in half-widths, a thread finds a lower place to rest
ROUNDING = 12  # passes that take the corners off a strand: it bends over about 0.5 mm (estimate)
SINK_SHARE = 0.25  # share of its height by which it presses into threads below


@dataclass(frozen=True, slots=True, eq=False)
class Stack:
    """Heights of strands, and what they press into the cloth.

    `height_mm` (M,) float32 holds the thread's underside at evenly spaced samples;
    strand i owns `first[i]` to `first[i+1]`; `section_mm` (M, 3) are half-width to the left and
    to the right and half-height there, see `sections_mm`. `dimple_mm` (rows, cols) float32 is how
    far the cloth is pressed down on a grid of `CELL_MM` whose middle is the anchor.
    """

    height_mm: NDArray[np.float32]
    section_mm: NDArray[np.float32]
    first: NDArray[np.int64]
    dimple_mm: NDArray[np.float32]

    def __post_init__(self) -> None:
        freeze(self, height_mm=(-1,), section_mm=(-1, 3), first=(-1,), dimple_mm=(-1, -1))


@dataclass(frozen=True, slots=True, eq=False)
class Rise:
    """What is laid on the surface while sewing: `height_mm` (rows, cols) on the map that strands
    settle on, `before` which strand."""

    before: int
    height_mm: NDArray[np.float32]

    def __post_init__(self) -> None:
        freeze(self, height_mm=(-1, -1))


def stack_strands(strands: Strands, rises: Sequence[Rise] = (), *, press: bool = True) -> Stack:
    """Settle all strands in order on a level cloth, which is raised on the way.

    As if the cloth had not moved: however it moves, it carries all that lies on it along, and what lies on
    what stays. How threads press each other and the cloth is told where they lie in the end.
    Without `press` the cloth stays level and no thread gives way to another, for who measures
    what the stitches alone would cover.
    """
    top, laid = np.zeros(map_shape(strands), np.float32), strands.unmoved()
    length = np.hypot(*(laid.end_mm - laid.start_mm).T)
    count = np.maximum(3, np.ceil(length / CELL_MM).astype(np.int64) + 1)
    first = np.concatenate([[0], np.cumsum(count)])
    height = np.empty(first[-1], np.float32)
    crowd = crowd_of(laid, first, pressed=press)
    section = sections_mm(crowd, laid.start_mm, laid.end_mm)
    start, end = (np.ascontiguousarray(ends) for ends in (laid.start_mm, laid.end_mm))
    loose, dip = loose_parts(strands), np.array([DIVE_MM[press], HOLE_SINK[press]])
    stops = [*sorted({rise.before for rise in rises} - {0}), len(start)]
    for begin, stop in itertools.pairwise([0, *stops]):
        for rise in rises:
            if rise.before == begin:
                top += rise.height_mm
        own = slice(begin, stop)
        settle(
            start[own],
            end[own],
            section,
            strands.dives[own],
            strands.arch_mm[own],
            dip,
            loose[own],
            first[begin : stop + 1],
            height,
            top,
        )
    if not press:
        return Stack(height, section, first, np.zeros((1, 1), np.float32))
    lift_loose(laid, first, height, top, CELL_MM)
    if strands.carried_mm is not None and strands.carried_mm.any():
        section = sections_mm(crowd, strands.start_mm, strands.end_mm)
    return Stack(height, section, first, dimples_mm(_cover_of(strands, section, first)))


def _cover_of(
    strands: Strands, section: NDArray[np.float32], first: NDArray[np.int64]
) -> NDArray[np.float32]:
    """The map (rows, cols), 1 where thread that is sewn presses on the cloth."""
    cover = np.zeros(map_shape(strands), np.float32)
    sewn, whole = np.flatnonzero(strands.stitch >= 0), np.array([0, 0, *cover.shape])
    start, end = (np.ascontiguousarray(ends) for ends in (strands.start_mm, strands.end_mm))
    cores = os.cpu_count() or 1
    with ThreadPoolExecutor(cores) as pool:  # all write the same, so it matters not who comes first
        some = np.array_split(sewn, cores)
        list(pool.map(lambda own: mark_cover(start, end, section, first, own, whole, cover), some))
    return cover


def map_shape(strands: Strands) -> tuple[int, int]:
    """Rows and columns of the height map: odd, a cell centred on the anchor, with an empty edge.

    It has room for strands as they were laid and as they lie.
    """
    laid = strands.unmoved()
    points = np.abs(np.concatenate([strands.start_mm, strands.end_mm, laid.start_mm, laid.end_mm]))
    reach = points.max(0) if len(points) else np.zeros(2)
    cols, rows = (2 * (np.ceil(reach / CELL_MM).astype(int) + EDGE_CELLS) + 1).tolist()
    return rows, cols


@njit(cache=True, nogil=True, error_model="numpy")
def settle(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    section: NDArray[np.float32],
    dives: NDArray[np.bool_],
    arch: NDArray[np.float64],
    dip: NDArray[np.float64],
    loose: NDArray[np.int8],
    first: NDArray[np.int64],
    height: NDArray[np.float32],
    top: NDArray[np.float32],
) -> None:
    """Fill `height` for each strand in turn, raising `top` on the way.

    `section` is that of `sections_mm`, `dip` that of `_dive`, `loose` that of `loose_parts`.
    """
    rows, cols = top.shape
    longest = 0
    for i in range(len(start)):
        longest = max(longest, first[i + 1] - first[i])
    hull = np.empty(longest, np.int64)
    begun = 0
    for i in range(len(start)):
        at, n = first[i], first[i + 1] - first[i]
        run_x, run_y = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]
        length = np.sqrt(run_x * run_x + run_y * run_y)
        if length < 1e-6:
            for k in range(n):
                height[at + k] = 0.0
            continue
        side_x, side_y = -run_y / length, run_x / length
        for k in range(n):
            t = k / (n - 1.0)
            left, right, b = section[at + k]
            middle, a = 0.5 * (right - left), 0.5 * (right + left)
            x = start[i, 0] + run_x * t
            y = start[i, 1] + run_y * t
            lowest = 1e9
            for j in range(-2, 3):
                d = middle + 0.5 * REST_SHARE * a * j
                c = int(np.floor((x + side_x * d) / CELL_MM + 0.5)) + cols // 2
                r = int(np.floor((y + side_y * d) / CELL_MM + 0.5)) + rows // 2
                lowest = min(lowest, top[r, c])
            z = max(lowest - SINK_SHARE * 2.0 * b, 0.0) + arch[i] * 4.0 * t * (1.0 - t)
            height[at + k] = z
        _dive(height, at, n, length, dives[i, 0], dives[i, 1], section[at, 2], section[at + n - 1, 2], dip)
        _pull_taut(height, at, n, hull)
        # Pieces of one loose thread do not lie on each other: they come to count when all of it lies.
        if loose[i] == CONTINUES:
            continue
        while begun <= i:
            _lay_down(begun, start, end, section, first, height, top)
            begun += 1


@njit(cache=True, nogil=True, error_model="numpy")
def _lay_down(
    i: int,
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    section: NDArray[np.float32],
    first: NDArray[np.int64],
    height: NDArray[np.float32],
    top: NDArray[np.float32],
) -> None:
    """Raise the surface by settled strand i."""
    rows, cols = top.shape
    at, n = first[i], first[i + 1] - first[i]
    run_x, run_y = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]
    length = np.sqrt(run_x * run_x + run_y * run_y)
    if length < 1e-6:
        return
    side_x, side_y = -run_y / length * PER_MM, run_x / length * PER_MM
    for k in range(n):
        t = k / (n - 1.0)
        left, right, b = section[at + k]
        middle, a = 0.5 * (right - left), 0.5 * (right + left)
        steps = min(int(np.ceil(a * (PER_MM / 0.7))), MOST_STEPS)
        across, high = ACROSS[steps], HIGH[steps]
        x = (start[i, 0] + run_x * t) * PER_MM
        y = (start[i, 1] + run_y * t) * PER_MM
        z = height[at + k]
        for j in range(2 * steps + 1):
            d = middle + across[j] * a
            c = np.uintp(int(np.floor(x + side_x * d + 0.5)) + cols // 2)
            r = np.uintp(int(np.floor(y + side_y * d + 0.5)) + rows // 2)
            top[r, c] = max(top[r, c], z + b * high[j])


@njit(cache=True, nogil=True)
def mark_cover(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    section: NDArray[np.float32],
    first: NDArray[np.int64],
    chosen: NDArray[np.int64],
    within: NDArray[np.int64],
    cover: NDArray[np.float32],
) -> None:
    """Mark what chosen strands cover of the rows and columns `within` (top, left, bottom, right)."""
    rows, cols = cover.shape
    for i in chosen:
        at, n = first[i], first[i + 1] - first[i]
        run_x, run_y = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]
        length = np.sqrt(run_x * run_x + run_y * run_y)
        if length < 1e-6:
            continue
        side_x, side_y = -run_y / length, run_x / length
        for k in range(n):
            t = k / (n - 1.0)
            left, right = section[at + k, 0], section[at + k, 1]
            middle, a = 0.5 * (right - left), 0.5 * (right + left)
            steps = int(np.ceil(a / (0.7 * CELL_MM)))
            x = start[i, 0] + run_x * t
            y = start[i, 1] + run_y * t
            for j in range(-steps, steps + 1):
                d = middle + j / (steps + 0.5) * a
                c = int(np.floor((x + side_x * d) / CELL_MM + 0.5)) + cols // 2
                r = int(np.floor((y + side_y * d) / CELL_MM + 0.5)) + rows // 2
                if within[0] <= r < within[2] and within[1] <= c < within[3]:
                    cover[r, c] = 1.0


@njit(cache=True, nogil=True, error_model="numpy")
def _dive(
    height: NDArray[np.float32],
    at: int,
    n: int,
    length: float,
    dive_start: bool,
    dive_end: bool,
    b_start: float,
    b_end: float,
    dip: NDArray[np.float64],
) -> None:
    """Bend the ends down to where the thread goes through; `dip` is over which length and how deep."""
    reach = min(dip[0], 0.45 * length)
    for k in range(n):
        s = length * k / (n - 1.0)
        near_start = near_end = 0.0
        if dive_start and s < reach:
            near_start = (1.0 - s / reach) ** 2
        if dive_end and length - s < reach:
            near_end = (1.0 - (length - s) / reach) ** 2
        b, u = (b_start, near_start) if near_start > near_end else (b_end, near_end)
        height[at + k] -= dip[1] * b * u


@njit(cache=True, nogil=True, error_model="numpy")
def _pull_taut(height: NDArray[np.float32], at: int, n: int, hull: NDArray[np.int64]) -> None:
    """Lift a strand to its upper convex hull, then round off the corners: thread under
    tension spans hollows and never bends sharply over a bump."""
    count = 0
    for k in range(n):
        while count >= 2:
            i, j = hull[count - 2], hull[count - 1]
            rise = (height[at + j] - height[at + i]) * (k - i)
            if rise <= (height[at + k] - height[at + i]) * (j - i):
                count -= 1
            else:
                break
        hull[count] = k
        count += 1
    for h in range(count - 1):
        i, j = hull[h], hull[h + 1]
        low, high = height[at + i], height[at + j]
        for k in range(i + 1, j):
            height[at + k] = low + (high - low) * (k - i) / (j - i)
    for _ in range(ROUNDING):
        before = height[at]
        for k in range(1, n - 1):
            here = height[at + k]
            height[at + k] = 0.25 * (before + height[at + k + 1]) + 0.5 * here
            before = here
