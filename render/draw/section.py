"""How wide and how high each thread is along its way: neighbours press it narrow, room lets it spread.

A thread sewn beside others of its object fills the room between them: it gives way where
they crowd it and flattens until it meets them where they leave a little room. Its section
keeps its area. A thread on its own keeps the shape it has on cloth.
"""

from __future__ import annotations

import itertools
import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numba import njit

from render.draw.apart import Apart
from render.draw.grain import noise1
from render.draw.neighbours import BIN_MM, REACH_MM, binned, look_around

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from render.draw.strands import Strands
    from render.model import Floats

# Spun and twisted thread is never quite even: its width varies by this share over such lengths (estimate).
UNEVEN_WIDTH, UNEVEN_MM = 0.10, 0.9
LEAST = 0.48  # of its half-width to one side, however crowded (estimate)
# A thread that meets its neighbour no sooner than at this share of its half-width just reaches it; further
# off it draws back again, and beyond `APART` it is as it would be alone (estimates).
MEETS, APART = 1.14, 1.36
OVERLAP = 1.03  # threads that meet interlock a little: their filaments are no smooth rods
LEAST_MM = 1e-6  # a stitch on the spot has a length, too
# Over such a length a thread gathers into its hole, to such a share of its width: alone, and pressed. A flat
# thread is about half as wide when it is round again.
TAPER_MM, TAPERED = (0.25, 0.36), (0.80, 0.52)
# Where thread comes up again and goes straight on, only the hole gathers it, not its own way back beside it.
STRAIGHT_MM, STRAIGHT = 0.22, 0.62
SAME_HOLE_MM = 0.06  # so close, two ends are in one hole
WAIST = 0.65  # by which threads that share holes lie closer there: a needle leaves room for some (estimate)
EVERY = 4  # samples of height from one look for neighbours to the next
HALF, LONG, FIRST_LESS, FIRST_PER_MM, LAST_LESS, LAST_PER_MM, ENDS = range(7)  # columns of `Crowd.ends`


@dataclass(frozen=True, slots=True, eq=False)
class Crowd:
    """Strands and their neighbours: what the sections of the strands depend on besides where these lie now.

    `near` (K, 2) are the strands that lie next to the left and to the right at each look, -1 for none; strand
    i owns looks `looks[i]` to `looks[i+1]`, and rows `first[i]` to `first[i+1]` of its sections.
    `ends` (N, 6) is what of each strand its neighbours ask for, in columns as `HALF` and the others: half its
    width and how long it is; the share of its width that it loses in the hole at its start, if it goes down
    there, and one over the length on which it gathers into it; and the same at its end.
    """

    strands: Strands
    first: NDArray[np.int64]
    looks: NDArray[np.int64]
    near: NDArray[np.int32]
    ends: NDArray[np.float64]


def crowd_of(laid: Strands, first: NDArray[np.int64], *, pressed: bool = True) -> Crowd:
    """The strands as they are laid, strand i with rows `first[i]` to `first[i+1]` of sections.

    Without `pressed` every thread is as if alone.
    """
    piece = np.where(pressed, laid.piece, np.int32(-1)).astype(np.int32)
    crowd = np.flatnonzero(piece >= 0)
    points = np.concatenate([laid.start_mm[crowd], laid.end_mm[crowd]])
    low = points.min(0) - 2 * BIN_MM if len(points) else np.zeros(2)
    high = points.max(0) + 2 * BIN_MM if len(points) else np.ones(2)
    cols, rows = (np.ceil((high - low) / BIN_MM).astype(int) + 1).tolist()
    start, end = (np.ascontiguousarray(ends) for ends in (laid.start_mm, laid.end_mm))
    bins, listed = binned(start, end, crowd, low, (rows, cols))
    stitch, shape = laid.stitch.astype(np.int32), np.array([rows, cols])
    looks = np.concatenate([[0], np.cumsum((np.diff(first) - 2) // EVERY + 2)])
    near = np.empty((looks[-1], 2), np.int32)
    _shared_out(
        len(piece),
        lambda own: look_around(own, start, end, piece, stitch, low, shape, bins, listed, looks, near),
    )
    return Crowd(laid, first, looks, near, _ends_of(laid, pressed=pressed))


def _ends_of(laid: Strands, *, pressed: bool) -> NDArray[np.float64]:
    """The columns of `Crowd.ends`."""
    count = len(laid.stitch)
    reach, kept = np.full((count, 2), TAPER_MM[pressed]), np.full((count, 2), TAPERED[pressed])
    if pressed:
        straight = runs_on(laid)
        reach[straight], kept[straight] = STRAIGHT_MM, STRAIGHT
    length = np.hypot(*(laid.end_mm - laid.start_mm).T)
    ends = np.empty((count, ENDS))
    ends[:, HALF], ends[:, LONG] = laid.half_width_mm, length
    lasting = np.maximum(length, LEAST_MM)[:, None]
    ends[:, [FIRST_LESS, LAST_LESS]] = np.where(laid.dives, 1.0 - kept, 0.0)
    ends[:, [FIRST_PER_MM, LAST_PER_MM]] = 1.0 / np.minimum(reach, 0.45 * lasting)
    return ends


def runs_on(laid: Strands) -> NDArray[np.bool_]:
    """Which ends (N, 2) of strands go down where thread comes up again and goes straight on."""
    out = np.zeros((len(laid.stitch), 2), np.bool_)
    sewn = np.flatnonzero(laid.stitch >= 0)
    run, ends = (laid.end_mm - laid.start_mm)[sewn], laid.end_mm[sewn]
    onward = (run[1:] * run[:-1]).sum(1) > 0.0
    onward &= np.abs(laid.start_mm[sewn][1:] - ends[:-1]).max(1, initial=0.0) < SAME_HOLE_MM
    out[sewn[:-1][onward], 1] = out[sewn[1:][onward], 0] = True
    return out


def sections_mm(
    crowd: Crowd, start_mm: Floats, end_mm: Floats, out: NDArray[np.float32] | None = None
) -> NDArray[np.float32]:
    """Half-width to the left, to the right and half-height (M, 3) mm at the samples of height, evenly spaced
    along strands that lie from `start_mm` to `end_mm` (N, 2) now; in `out`, if that is given.

    Left and right are those of the direction of sewing.
    """
    out = np.empty((crowd.first[-1], 3), np.float32) if out is None else out
    every = np.arange(len(start_mm))
    _shared_out(len(every), lambda own: set_sections(crowd, every[own[0] : own[1]], start_mm, end_mm, out))
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


def _shared_out(count: int, work: Callable[[tuple[int, int]], None]) -> None:
    """Do the work for so many strands, from one to another, on all cores."""
    cores = os.cpu_count() or 1
    stops = np.linspace(0, count, 4 * cores + 1).astype(int).tolist()
    with ThreadPoolExecutor(cores) as pool:
        list(pool.map(work, itertools.pairwise(stops)))


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
    rooms, flat = np.empty(0), out.reshape(-1)
    for i in chosen:
        run_x, run_y = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]
        per_mm = 1.0 / max(np.sqrt(run_x * run_x + run_y * run_y), LEAST_MM)
        tx, ty, long = run_x * per_mm, run_y * per_mm, ends[i, LONG]
        stations = looks[i + 1] - looks[i]
        share = 1.0 / (stations - 1.0)
        if len(rooms) < 2 * stations:
            rooms = np.empty(4 * stations)
        for k in range(stations):
            t = k * share
            x, y = start[i, 0] + run_x * t, start[i, 1] + run_y * t
            # Room that a neighbour leaves where it gathers is taken in mid-stitch.
            takes = max(2.0 * _tapered(t * long, ends, i) - 1.0, 0.0)
            for side in range(2):
                j = near[looks[i] + k, side]
                rooms[2 * k + side] = _away(x, y, tx, ty, takes, j, start, end, ends)
        share_rooms(
            first[i],
            first[i + 1] - first[i],
            stations,
            ends[i],
            ends[i, HALF] * half_height[i],
            along[i],
            int(grain[i]),
            rooms,
            flat,
        )
        if bow[i] != 0.0:
            _bow(out[first[i] : first[i + 1]], bow[i])


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def share_rooms(
    at: int,
    count: int,
    stations: int,
    ends: NDArray[np.float64],
    area: float,
    along: float,
    word: int,
    rooms: NDArray[np.float64],
    out: NDArray[np.float32],
) -> None:
    """Sections of one strand, from row `at` on; room between two looks, to the left and to the right, is
    evenly shared out to the samples there."""
    length, half_width = max(ends[LONG], LEAST_MM), ends[HALF]
    share = 1.0 / (count - 1.0)
    for m in range(count):
        place = m * share
        look = place * (stations - 1.0)
        k = min(np.int32(look), np.int32(stations - 2))
        w, a = look - k, np.uintp(k + k)
        one, two, three = a + np.uintp(1), a + np.uintp(2), a + np.uintp(3)
        mm = place * length
        wave = noise1((along + mm) * (1.0 / UNEVEN_MM), word)
        half = half_width * (1.0 - UNEVEN_WIDTH * (1.0 + wave) * 0.5)
        left = _side(rooms[a] + (rooms[two] - rooms[a]) * w, half)
        right = _side(rooms[one] + (rooms[three] - rooms[one]) * w, half)
        near_start = max(1.0 - mm * ends[FIRST_PER_MM], 0.0)
        near_end = max(1.0 - (length - mm) * ends[LAST_PER_MM], 0.0)
        narrow = 1.0 - ends[FIRST_LESS] * (near_start * near_start)
        narrow *= 1.0 - ends[LAST_LESS] * (near_end * near_end)
        row = np.uintp(3 * (at + m))
        out[row], out[row + np.uintp(1)] = left * narrow, right * narrow
        out[row + np.uintp(2)] = 2.0 * area / ((left + right) * narrow)


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
        return 2.0 * REACH_MM
    line_x, line_y = end[j, 0] - start[j, 0], end[j, 1] - start[j, 1]
    dx, dy = start[j, 0] - x, start[j, 1] - y
    share = -(dx * tx + dy * ty) / (line_x * tx + line_y * ty)
    left = 1.0 - _tapered(min(max(share, 0.0), 1.0) * ends[j, LONG], ends, j)
    away = abs((dy + share * line_y) * tx - (dx + share * line_x) * ty)
    return float(min(away + takes * ends[j, HALF] * left, 2.0 * REACH_MM))


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _tapered(place: float, ends: NDArray[np.float64], i: int) -> float:
    """Share of its width that strand i keeps near the holes that it goes down into."""
    near_start = max(1.0 - place * ends[i, FIRST_PER_MM], 0.0)
    near_end = max(1.0 - (ends[i, LONG] - place) * ends[i, LAST_PER_MM], 0.0)
    narrow = 1.0 - ends[i, FIRST_LESS] * (near_start * near_start)
    return float(narrow * (1.0 - ends[i, LAST_LESS] * (near_end * near_end)))


@njit(cache=True, nogil=True, forceinline=True)
def _side(room: float, half: float) -> float:
    """Half-width to one side with a neighbour's middle line `room` mm away."""
    share = 0.5 * room / half
    drawn_back = MEETS * OVERLAP - (MEETS * OVERLAP - 1.0) * (share - MEETS) / (APART - MEETS)
    pressed = max(share * OVERLAP, LEAST)
    return half if share >= APART else half * (drawn_back if share > MEETS else pressed)
