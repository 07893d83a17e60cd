"""How high each thread lies: strands settle on what was sewn before them, in order.

Heights are mm above the cloth's mean surface. One sequential pass over a coarse map of
the top surface; the heights it fixes make every tile of the picture independent.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from numba import njit

from render.draw.apart import Apart
from render.draw.bending import DIVE_MM, HOLE_SINK, PLUNGES, dive, held_up, pull_taut
from render.draw.cords import CONTINUES, lift_loose, loose_parts
from render.draw.dimples import PIT_MM, dimples_mm
from render.draw.laid import (
    CELL_MM,
    HIGH,
    MOST_STEPS,
    PER_MM,
    laid_maps,
    map_shape,
)
from render.draw.section import crowd_of, runs_on, sections_mm
from render.draw.thickness import FINE
from render.model import freeze

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from render.draw.strands import Strands

REST_SHARE = 0.6  # how far to the side, in half-widths, a thread finds a lower place to rest
OPAQUE_MM = 1.0  # of thread: as good as what nothing shows through
SINK_SHARE = 0.25  # share of its height by which it presses into threads below


@dataclass(frozen=True, slots=True, eq=False)
class Stack:
    """Heights of strands, and what they press into the cloth.

    `height_mm` (M,) float32 holds the thread's underside at evenly spaced samples;
    strand i owns `first[i]` to `first[i+1]`; `section_mm` (M, 3) are half-width to the left and
    to the right and half-height there, see `sections_mm`. `dimple_mm` (rows, cols) float32 is how
    far the cloth is pressed down on a grid of `CELL_MM` whose middle is the anchor, needle holes by
    `pit_mm` more; `thread_mm` on the same grid how much thread, or what is as opaque, lies over each place
    (none known: a single cell).
    """

    height_mm: NDArray[np.float32]
    section_mm: NDArray[np.float32]
    first: NDArray[np.int64]
    dimple_mm: NDArray[np.float32]
    pit_mm: float = PIT_MM
    thread_mm: NDArray[np.float32] = field(default_factory=lambda: np.zeros((1, 1), np.float32))

    def __post_init__(self) -> None:
        freeze(self, height_mm=(-1,), section_mm=(-1, 3), first=(-1,), dimple_mm=(-1, -1))
        freeze(self, thread_mm=(-1, -1))


@dataclass(frozen=True, slots=True, eq=False)
class Rise:
    """What is laid on the surface while sewing: `height_mm` (rows, cols) on the map that strands
    settle on, `before` which strand."""

    before: int
    height_mm: NDArray[np.float32]

    def __post_init__(self) -> None:
        freeze(self, height_mm=(-1, -1))


def stack_strands(
    strands: Strands, rises: Sequence[Rise] = (), *, press: bool = True, pit_mm: float = PIT_MM
) -> Stack:
    """Settle all strands in order on a level cloth, which is raised on the way; needle holes are so deep.

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
    straight = runs_on(laid)
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
            press,
            straight[own],
            height,
            top,
        )
    if not press:
        return Stack(height, section, first, np.zeros((1, 1), np.float32), pit_mm)
    lift_loose(laid, first, height, top, CELL_MM)
    if strands.carried_mm is not None and strands.carried_mm.any():
        section = sections_mm(crowd, strands.start_mm, strands.end_mm)
    cover, thread_mm = laid_maps(strands, section, first)
    dimple_mm = dimples_mm(cover, pit_mm)
    for rise in rises:
        thread_mm[rise.height_mm > 0.0] += OPAQUE_MM
    return Stack(height, section, first, dimple_mm, pit_mm, thread_mm)


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
    plunge: bool,
    straight: NDArray[np.bool_],
    height: NDArray[np.float32],
    top: NDArray[np.float32],
) -> None:
    """Fill `height` for each strand in turn, raising `top` on the way.

    `section` is that of `sections_mm`, `dip` that of `dive`, `loose` that of `loose_parts`; whether threads
    `plunge` into their holes, and which are those of `runs_on`.
    """
    longest = 0
    for i in range(len(start)):
        longest = max(longest, first[i + 1] - first[i])
    hull, sections, surface = np.empty(longest, np.int64), section.reshape(-1), top.reshape(-1)
    begun = 0
    for i in range(len(start)):
        at, n = first[i], first[i + 1] - first[i]
        run_x, run_y = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]
        length = np.sqrt(run_x * run_x + run_y * run_y)
        if length < 1e-6:
            for k in range(n):
                height[at + k] = 0.0
            continue
        way = (start[i, 0], start[i, 1], run_x, run_y, -run_y / length, run_x / length)
        rest(at, n, way, arch[i], sections, surface, top.shape, height)
        last = at + n - 1
        b_start, b_end = section[at, 2], section[last, 2]
        if plunge:
            b_start *= held_up(max(height[at], height[at + 1]))
            b_end *= held_up(max(height[last], height[last - 1]))
        dive(height, at, n, length, dives[i, 0], dives[i, 1], b_start, b_end, dip)
        pull_taut(height, at, n, hull)
        if plunge:
            for end_of in range(2):
                plunge_mm = PLUNGES[int(straight[i, end_of])]
                down = end_of == 0 and dives[i, 0], end_of == 1 and dives[i, 1]
                dive(height, at, n, length, down[0], down[1], b_start, b_end, plunge_mm)
        # Pieces of one loose thread do not lie on each other: they come to count when all of it lies.
        if loose[i] == CONTINUES:
            continue
        while begun <= i:
            _lay_down(begun, start, end, section, first, height, top)
            begun += 1


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def rest(
    at: int,
    n: int,
    way: tuple[float, float, float, float, float, float],
    arch_mm: float,
    section: NDArray[np.float32],
    top: NDArray[np.float32],
    shape: tuple[int, int],
    height: NDArray[np.float32],
) -> None:
    """Fill n heights, from number `at` on, where a strand rests on the lowest of five places across it.

    `way` is where it starts, its run, and the direction to its side; `top` the surface, of a `shape`.
    """
    x0, y0, run_x, run_y, side_x, side_y = way
    share, rows, cols = 1.0 / (n - 1.0), shape[0], shape[1]
    for k in range(n):
        t, row = k * share, np.uintp(3 * (at + k))
        left, right, b = section[row], section[row + np.uintp(1)], section[row + np.uintp(2)]
        middle, a = 0.5 * (right - left), 0.5 * (right + left)
        x, y, lowest = x0 + run_x * t, y0 + run_y * t, 1e9
        for j in range(-2, 3):
            d = middle + 0.5 * REST_SHARE * a * j
            lowest = min(lowest, _height_at(top, rows, cols, x + side_x * d, y + side_y * d))
        z = max(lowest - SINK_SHARE * 2.0 * b, 0.0) + arch_mm * 4.0 * t * (1.0 - t)
        height[np.uintp(at + k)] = z


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _height_at(top: NDArray[np.float32], rows: int, cols: int, x_mm: Any, y_mm: Any) -> Any:
    """Height of the surface between the middles of four cells, at a place from the map's middle."""
    # So few places in a cell that sums of products are exact in any order: a turned design lies the same.
    x = np.rint(x_mm * PER_MM * FINE) * (1.0 / FINE) + cols // 2
    y = np.rint(y_mm * PER_MM * FINE) * (1.0 / FINE) + rows // 2
    # Never below 0, so that cutting off is rounding down.
    c, r = np.int32(x), np.int32(y)
    one, right, down = np.uintp(1), x - c, y - r
    above = np.uintp(r * cols + c)
    below = above + np.uintp(cols)
    upper = top[above] * (1.0 - right) + top[above + one] * right
    lower = top[below] * (1.0 - right) + top[below + one] * right
    return upper * (1.0 - down) + lower * down


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
    share, surface = PER_MM / (n - 1.0), top.reshape(-1)
    # Half a cell on and never below 0, so that cutting off is rounding to the nearest.
    x0, y0 = start[i, 0] * PER_MM + (cols // 2 + 0.5), start[i, 1] * PER_MM + (rows // 2 + 0.5)
    for k in range(n):
        left, right, b = section[at + k]
        middle, a = 0.5 * (right - left), 0.5 * (right + left)
        steps = min(int(np.ceil(a * (PER_MM / 0.7))), MOST_STEPS)
        high, step, z = HIGH[steps], a / (steps + 0.5), height[at + k]
        x, y = x0 + run_x * (k * share) + side_x * middle, y0 + run_y * (k * share) + side_y * middle
        for j in range(-steps, steps + 1):
            c, r = np.int64(x + side_x * step * j), np.int64(y + side_y * step * j)
            cell = np.uintp(r * cols + c)
            surface[cell] = max(surface[cell], z + b * high[np.uintp(j + steps)])
