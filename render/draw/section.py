"""How wide and how high each thread is along its way: neighbours press it narrow, room lets it spread.

A thread sewn beside others of its object fills the room between them: it gives way where
they crowd it and flattens until it meets them where they leave a little room. Its section
keeps its area. A thread on its own keeps the shape it has on cloth.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart
from render.compiled import njit
from render.draw.across import LEAST_MM, lanes
from render.draw.crowd import (
    APART,
    FIRST_LESS,
    FIRST_PER_MM,
    HALF,
    LAST_LESS,
    LAST_PER_MM,
    LONG,
    MEETS,
    shared_out,
)
from render.draw.grain import line_noise
from render.draw.neighbours import REACH_MM

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.crowd import Crowd
    from render.model import Floats

# Spun and twisted thread is never quite even: its width varies by this share over such lengths (estimate).
UNEVEN_WIDTH, UNEVEN_MM = 0.10, 0.9
LEAST = 0.48  # of its half-width to one side, however crowded (estimate)
OVERLAP = 1.03  # threads that meet interlock a little: their filaments are no smooth rods
WAIST = 0.3  # by which threads that share holes lie closer there: a needle leaves room for some (estimate)
_f, _i = np.float32, np.int32


def sections_mm(
    crowd: Crowd, start_mm: Floats, end_mm: Floats, out: NDArray[np.float32] | None = None
) -> NDArray[np.float32]:
    """Half-width to the left, to the right and half-height (M, 3) mm at the samples of height, evenly spaced
    along strands that lie from `start_mm` to `end_mm` (N, 2) now; in `out`, if that is given.

    Left and right are those of the direction of sewing.
    """
    out = np.empty((crowd.first[-1], 3), np.float32) if out is None else out
    every, start_mm, end_mm = np.arange(len(start_mm)), *map(np.ascontiguousarray, (start_mm, end_mm))
    shared_out(len(every), lambda own: set_sections(crowd, every[own[0] : own[1]], start_mm, end_mm, out))
    return out


def set_sections(
    crowd: Crowd, chosen: NDArray[np.int64], start_mm: Floats, end_mm: Floats, out: NDArray[np.float32]
) -> None:
    """Set the rows of `out` that belong to the chosen strands, see `sections_mm`."""
    strands = crowd.strands
    spread(
        chosen,
        np.ascontiguousarray(start_mm),
        np.ascontiguousarray(end_mm),
        strands.half_height_mm,
        crowd.looks,
        crowd.near,
        strands.along_mm,
        strands.grain,
        crowd.ends,
        crowd.first,
        np.zeros(len(start_mm)) if strands.bow_mm is None else strands.bow_mm,
        out,
    )


@njit(cache=True, nogil=True, error_model="numpy")
def spread(
    chosen: NDArray[np.int64],
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    half_height: NDArray[np.float64],
    looks: NDArray[np.int64],
    near: NDArray[np.int32],
    along: NDArray[np.float64],
    grain: NDArray[np.uint32],
    ends: NDArray[np.float64],
    first: NDArray[np.int64],
    bow: NDArray[np.float64],
    out: NDArray[np.float32],
) -> None:
    """Fill `out` (M, 3) for the chosen strands, see `sections_mm`; `looks`, `near` and `ends` as there."""
    longest = most = 0
    for i in chosen:
        longest, most = max(longest, first[i + 1] - first[i]), max(most, looks[i + 1] - looks[i])
    rooms, rows = np.empty(2 * most, np.float32), np.empty((3, lanes(longest)), np.float32)
    lefts, rights, highs = rows[0], rows[1], rows[2]
    for i in chosen:
        run_x, run_y = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]
        per_mm = 1.0 / max(np.sqrt(run_x * run_x + run_y * run_y), LEAST_MM)
        tx, ty, long = run_x * per_mm, run_y * per_mm, ends[i, LONG]
        stations = looks[i + 1] - looks[i]
        share = 1.0 / (stations - 1.0)
        for k in range(stations):
            t = k * share
            x, y = start[i, 0] + run_x * t, start[i, 1] + run_y * t
            # Room that a neighbour leaves where it gathers is taken in mid-stitch.
            takes = max(2.0 * _tapered(t * long, ends, i) - 1.0, 0.0)
            for side in range(2):
                j = near[looks[i] + k, side]
                rooms[2 * k + side] = _away(x, y, tx, ty, takes, j, start, end, ends)
        at, n = first[i], first[i + 1] - first[i]
        wave = along[i] * (1.0 / UNEVEN_MM)
        begin = np.uint32(np.int64(np.floor(wave))), _f(wave - np.floor(wave)), grain[i]
        share_rooms(n, stations, ends[i], ends[i, HALF] * half_height[i], begin, rooms, lefts, rights, highs)
        for k in range(n):
            out[at + k, 0], out[at + k, 1], out[at + k, 2] = lefts[k], rights[k], highs[k]
        if bow[i] != 0.0:
            _bow(out[at : at + n], bow[i])


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def share_rooms(
    count: int,
    stations: int,
    ends: NDArray[np.float64],
    area: float,
    begin: tuple[Any, Any, Any],
    rooms: NDArray[np.float32],
    lefts: NDArray[np.float32],
    rights: NDArray[np.float32],
    highs: NDArray[np.float32],
) -> None:
    """Sections of one strand of so many samples, and what fills the last lanes; room between two looks, to
    the left and to the right, is evenly shared out to the samples there. Its unevenness begins with a lattice
    point, so far on, of a word."""
    length, half_width, twice = _f(max(ends[LONG], LEAST_MM)), _f(ends[HALF]), _f(2.0 * area)
    first_less, first_per_mm = _f(ends[FIRST_LESS]), _f(ends[FIRST_PER_MM])
    last_less, last_per_mm = _f(ends[LAST_LESS]), _f(ends[LAST_PER_MM])
    share = _f(1.0) / _f(count - 1)
    for m in range(lanes(count)):
        place = _f(min(_i(m), _i(count - 1))) * share
        look = place * _f(stations - 1)
        k = min(_i(look), _i(stations - 2))
        w, a = look - _f(k), np.uintp(k + k)
        one, two, three = a + np.uintp(1), a + np.uintp(2), a + np.uintp(3)
        mm = place * length
        wave = line_noise(begin[0], begin[1] + mm * _f(1.0 / UNEVEN_MM), begin[2])
        half = half_width * (_f(1.0) - _f(0.5 * UNEVEN_WIDTH) * (_f(1.0) + wave))
        left = _side(rooms[a] + (rooms[two] - rooms[a]) * w, half)
        right = _side(rooms[one] + (rooms[three] - rooms[one]) * w, half)
        near_start = max(_f(1.0) - mm * first_per_mm, _f(0.0))
        near_end = max(_f(1.0) - (length - mm) * last_per_mm, _f(0.0))
        narrow = _f(1.0) - first_less * (near_start * near_start)
        narrow *= _f(1.0) - last_less * (near_end * near_end)
        lefts[m], rights[m] = left * narrow, right * narrow
        highs[m] = twice / ((left + right) * narrow)


@njit(cache=True, nogil=True)
def _bow(rows: NDArray[np.float32], bow: float) -> None:
    """Shift the sections of a strand to the left, most in its middle."""
    for m in range(len(rows)):
        square = (2.0 * m / (len(rows) - 1.0) - 1.0) ** 2
        aside = bow * (1.0 - WAIST * square * square)
        rows[m, 0] += aside
        rows[m, 1] -= aside


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _away(
    x: float,
    y: float,
    tx: float,
    ty: float,
    takes: float,
    j: int,
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    ends: NDArray[np.float64],
) -> float:
    """How far the line of strand j lies to the side of a point of another that runs along tx, ty, and what
    that `takes` of the room j leaves where it gathers; -1 is none."""
    if j < 0:
        return REACH_MM
    line_x, line_y = end[j, 0] - start[j, 0], end[j, 1] - start[j, 1]
    dx, dy = start[j, 0] - x, start[j, 1] - y
    share = -(dx * tx + dy * ty) / (line_x * tx + line_y * ty)
    left = 1.0 - _tapered(min(max(share, 0.0), 1.0) * ends[j, LONG], ends, j)
    away = abs((dy + share * line_y) * tx - (dx + share * line_x) * ty)
    return float(min(away + takes * ends[j, HALF] * left, REACH_MM))


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _tapered(place: float, ends: NDArray[np.float64], i: int) -> float:
    """Share of its width that strand i keeps near the holes that it goes down into."""
    near_start = max(1.0 - place * ends[i, FIRST_PER_MM], 0.0)
    near_end = max(1.0 - (ends[i, LONG] - place) * ends[i, LAST_PER_MM], 0.0)
    narrow = 1.0 - ends[i, FIRST_LESS] * (near_start * near_start)
    return float(narrow * (1.0 - ends[i, LAST_LESS] * (near_end * near_end)))


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _side(room: Any, half: Any) -> Any:
    """Half-width to one side with a neighbour's middle line `room` mm away."""
    share = _f(0.5) * room / half
    back = _f((MEETS * OVERLAP - 1.0) / (APART - MEETS))
    drawn_back = _f(MEETS * OVERLAP) - back * (share - _f(MEETS))
    pressed = max(share * _f(OVERLAP), _f(LEAST))
    return half if share >= _f(APART) else half * (drawn_back if share > _f(MEETS) else pressed)
