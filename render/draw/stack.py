"""How high each thread lies: strands settle on what was sewn before them, in order.

Heights are mm above the cloth's mean surface. One sequential pass over a coarse map of
the top surface; the heights it fixes make every tile of the picture independent.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart
from render.compiled import njit
from render.draw.across import CELL_MM, LEAST_MM, lanes, places, room_for, sample_at, way_of
from render.draw.bending import (
    ALONE,
    DIVE_MM,
    HOLE_SINK,
    ROUNDING,
    STRAIGHT,
    dive,
    even_out,
    held_up,
    plunge,
    pull_taut,
)
from render.draw.cords import CONTINUES, loose_parts
from render.draw.crowd import crowd_of
from render.draw.dimples import Bedding, dimples_in_steps
from render.draw.laid import laid_maps, map_shape
from render.draw.lifting import lift_loose
from render.draw.section import sections_mm
from render.draw.thickness import FINE
from render.model import freeze, lock

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from render.draw.strands import Strands

REST_SHARE = 0.6  # how far to the side, in half-widths, a thread finds a lower place to rest
OPAQUE_MM = 1.0  # of thread: as good as what nothing shows through
SINK_SHARE = 0.25  # share of its height by which it presses into threads below
_f, _i = np.float32, np.int32


@dataclass(frozen=True, slots=True, eq=False)
class Stack:
    """Heights of strands, and what they press into the cloth.

    `height_mm` (M,) float32 holds the thread's underside at evenly spaced samples;
    strand i owns `first[i]` to `first[i+1]`; `section_mm` (M, 3) are half-width to the left and
    to the right and half-height there, see `sections_mm`. `dimple_steps` (rows, cols) int16 is how
    far the cloth is pressed down, in steps of 1 / `dimples.STEPS_PER_MM` mm, on a grid of `CELL_MM` whose
    middle is the anchor, by its `bedding`; `thread_mm` on the same grid how much thread, or what is as
    opaque, lies over each place (none known: a single cell).
    """

    height_mm: NDArray[np.float32]
    section_mm: NDArray[np.float32]
    first: NDArray[np.int64]
    dimple_steps: NDArray[np.int16]
    bedding: Bedding = field(default_factory=Bedding)
    thread_mm: NDArray[np.float32] = field(default_factory=lambda: np.zeros((1, 1), np.float32))

    def __post_init__(self) -> None:
        lock(
            self, height_mm=(-1,), section_mm=(-1, 3), first=(-1,), dimple_steps=(-1, -1), thread_mm=(-1, -1)
        )


@dataclass(frozen=True, slots=True, eq=False)
class Rise:
    """What is laid on the surface while sewing: `height_mm` (rows, cols) on the map that strands
    settle on, `before` which strand."""

    before: int
    height_mm: NDArray[np.float32]

    def __post_init__(self) -> None:
        freeze(self, height_mm=(-1, -1))


def stack_strands(
    strands: Strands, rises: Sequence[Rise] = (), *, press: bool = True, bedding: Bedding | None = None
) -> Stack:
    """Settle all strands in order on a level cloth, which is raised on the way.

    As if the cloth had not moved: however it moves, it carries all that lies on it along, and what lies on
    what stays. How threads press each other and the cloth is told where they lie in the end.
    Without `press` the cloth stays level and no thread gives way to another, for who measures
    what the stitches alone would cover.
    """
    top, laid = np.zeros(map_shape(strands), np.float32), strands.unmoved()
    bedding = bedding or Bedding()
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
            crowd.ways[own],
            height,
            top,
        )
    if not press:
        return Stack(height, section, first, np.zeros((1, 1), np.int16), bedding)
    lift_loose(laid, first, height, top, CELL_MM)
    if strands.carried_mm is not None and strands.carried_mm.any():
        section = sections_mm(crowd, strands.start_mm, strands.end_mm, section)
    # In the memory of the surface that they settled on: fresh memory costs as much as what fills it.
    cover, thread_mm = laid_maps(strands, section, first, top)
    dimple_steps = dimples_in_steps(cover, bedding)
    for rise in rises:
        thread_mm[rise.height_mm > 0.0] += OPAQUE_MM
    return Stack(height, section, first, dimple_steps, bedding, thread_mm)


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
    ways: NDArray[np.int8],
    height: NDArray[np.float32],
    top: NDArray[np.float32],
) -> None:
    """Fill `height` for each strand in turn, raising `top` on the way.

    `section` is that of `sections_mm`, `dip` that of `dive`, `loose` that of `loose_parts`, `ways` that of
    `Crowd`.
    """
    rows, cols = top.shape
    sections, surface = section.reshape(-1), top.reshape(-1)
    below = surface[cols:]
    x, y, step, count, high, cells, bulge = room_for(section, first, np.arange(len(start)))
    # What a strand is worked out in has room around it.
    around, taut = np.zeros(len(x) + 2 * ROUNDING, np.float32), np.empty(len(x), np.float32)
    line, hull = around[ROUNDING:], np.empty(len(x), np.int64)
    begun = 0
    for i in range(len(start)):
        at, n = first[i], first[i + 1] - first[i]
        way = way_of(i, start, end, rows, cols)
        length = way[0]
        if length < LEAST_MM:
            height[at : at + n] = 0.0
            continue
        rest(at, n, way, arch[i], sections, surface, below, cols, x, y, step, count, high, cells, bulge, line)
        last = at + n - 1
        b_start, b_end = section[at, 2], section[last, 2]
        among = ways[i, 0] != ALONE
        if among:
            b_start *= held_up(max(line[0], line[1]))
            b_end *= held_up(max(line[n - 1], line[n - 2]))
        dive(line, n, length, dives[i, 0], dives[i, 1], b_start, b_end, dip)
        pull_taut(around, n, hull, taut)
        if ways[i, 0] == STRAIGHT or ways[i, 1] == STRAIGHT:
            even_out(taut, n)
        if among:
            plunge(taut, n, length, dives[i], ways[i], b_start, b_end)
        for k in range(n):
            height[at + k] = taut[k]
        # Pieces of one loose thread do not lie on each other: they come to count when all of it lies.
        if loose[i] == CONTINUES:
            continue
        # What goes straight on goes through one hole with what came before it: down beside it, not over it.
        stop = i if i + 1 < len(start) and ways[i + 1, 0] == STRAIGHT else i + 1
        for j in range(begun, stop):
            at, n = first[j], first[j + 1] - first[j]
            way = way_of(j, start, end, rows, cols)
            if way[0] >= LEAST_MM:
                rows_of = places(at, n, way, cols, sections, x, y, step, count, high, cells, bulge)
                lay_down(at, n, rows_of, way[1], cells, bulge, high, height, surface)
        begun = stop


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def rest(
    at: int,
    n: int,
    way: tuple[Any, Any, Any, Any, Any, Any, Any, Any],
    arch_mm: float,
    section: NDArray[np.float32],
    top: NDArray[np.float32],
    below: NDArray[np.float32],
    cols: int,
    x: NDArray[np.float32],
    y: NDArray[np.float32],
    right: NDArray[np.float32],
    down: NDArray[np.float32],
    sunk: NDArray[np.float32],
    cells: NDArray[np.int32],
    wide: NDArray[np.float32],
    line: NDArray[np.float32],
) -> None:
    """Fill n heights, and what fills the last lanes, where a strand rests on the lowest of five places
    across it.

    `way` is that of `way_of`, the strand's sections begin with row `at`; `top` is the surface, so many
    `cols` wide, and `below` all of it but its first row; the others are room for a row. Where to look is
    worked out first: in one loop the compiler would do so for one place at a time.
    """
    cell, side_x, side_y = _i(way[1]), way[6], way[7]
    for k in range(lanes(n)):
        _, x[k], y[k], wide[k], b = sample_at(k, at, n, way, section)
        sunk[k], line[k] = _f(2.0 * SINK_SHARE) * b, _f(1e9)
    for m in range(5):
        share = _f(_i(m) - _i(2)) * _f(0.5 * REST_SHARE)
        for k in range(lanes(n)):
            d = share * wide[k]
            # Between the middles of four cells; so few places in a cell that their shares are exact.
            place_x = np.rint((x[k] + side_x * d) * _f(FINE)) * _f(1.0 / FINE)
            place_y = np.rint((y[k] + side_y * d) * _f(FINE)) * _f(1.0 / FINE)
            left, above = np.floor(place_x), np.floor(place_y)
            cells[k] = _i(cell + _i(_i(above) * _i(cols)) + _i(left))
            right[k], down[k] = place_x - left, place_y - above
        for k in range(lanes(n)):
            here, u, v = np.uintp(cells[k]), right[k], down[k]
            one, both = here + np.uintp(1), u * v
            # Opposite corners first: a design that is turned by a quarter then lies the same.
            falling = top[here] * (_f(1.0) - u - v + both) + below[one] * both
            line[k] = min(line[k], falling + (top[one] * (u - both) + below[here] * (v - both)))
    for k in range(lanes(n)):
        t = _f(min(_i(k), _i(n - 1))) * (_f(1.0) / _f(n - 1))
        arch = _f(arch_mm) * _f(4.0) * t * (_f(1.0) - t)
        line[k] = max(line[k] - sunk[k], _f(0.0)) + arch


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def lay_down(
    at: int,
    n: int,
    count: int,
    cell: int,
    cells: NDArray[np.int32],
    bulge: NDArray[np.float32],
    high: NDArray[np.float32],
    height: NDArray[np.float32],
    surface: NDArray[np.float32],
) -> None:
    """Raise the surface by a settled strand, which starts in a `cell`, at its `places`; how high it lies
    there is in `bulge` then."""
    wide = lanes(n)
    for k in range(n):
        high[k] += height[np.uintp(at + k)]
    for m in range(count):
        for k in range(wide):
            bulge[np.uintp(m * wide + k)] += high[k]
    for m in range(count):
        for k in range(n):
            place = np.uintp(m * wide + k)
            here = np.uintp(cell + cells[place])
            surface[here] = max(surface[here], bulge[place])
