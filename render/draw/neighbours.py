"""Which threads of an object lie beside each other.

Lengths in mm, strands as straight lines from `start` to `end (N, 2)`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.apart import Apart
from render.compiled import njit
from render.draw.across import LEAST_MM, lanes

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Lie = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int32], NDArray[np.int32]]
    Grid = tuple[NDArray[np.float64], float, tuple[int, int], NDArray[np.int64], NDArray[np.int32]]

ALIKE = 0.85  # cosine of the angle up to which threads side by side press each other
BEYOND_MM = 0.25  # past its end a neighbour still presses: its hole holds the cloth
LEAST_REACH_MM, REACH_MM = 0.4, 0.84  # a neighbour further off counts as none, however coarse the thread
LINE = 8  # numbers of a neighbour
_f, _i = np.float32, np.int32


@njit(cache=True, nogil=True)
def binned(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    crowd: NDArray[np.int64],
    low: NDArray[np.float64],
    bin_mm: float,
    shape: tuple[int, int],
) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
    """Which strands of the crowd run through which bin: those of k are `listed[bins[k]:bins[k + 1]]`."""
    per_mm = 1.0 / bin_mm
    bins = np.zeros(shape[0] * shape[1] + 1, np.int64)
    listed = np.empty(0, np.int32)
    for filling in range(2):
        for i in crowd:
            run_x, run_y = end[i, 0] - start[i, 0], end[i, 1] - start[i, 1]
            steps = int(np.ceil(np.sqrt(run_x * run_x + run_y * run_y) * 2.0 * per_mm)) + 1
            last = -1
            for k in range(steps):
                share = k / max(steps - 1, 1)
                col = int((start[i, 0] + run_x * share - low[0]) * per_mm)
                row = int((start[i, 1] + run_y * share - low[1]) * per_mm)
                # A straight line never comes back to a bin.
                if row * shape[1] + col == last:
                    continue
                last = row * shape[1] + col
                if filling:
                    listed[bins[last]] = i
                    bins[last] += 1
                else:
                    bins[last + 1] += 1
        if not filling:
            bins = np.cumsum(bins)
            listed = np.empty(bins[-1], np.int32)
    # Each bin's place has moved to its end.
    bins[1:] = bins[:-1].copy()
    bins[0] = 0
    return bins, listed


@njit(cache=True, nogil=True, error_model="numpy")
def look_around(
    own: tuple[int, int],
    lie: Lie,
    grid: Grid,
    looks: NDArray[np.int64],
    near: NDArray[np.int32],
) -> None:
    """Fill `near` (K, 2) for the strands from `own[0]` to `own[1]`, see `Crowd`.

    `lie` is where strands start and end, their pieces and stitches; `grid` the corner of the bins, their
    side, which is also how far off neighbours lie at most, how many there are, and what `binned` made of
    them. What is looked up is looked up in this one loop: of arrays that functions within it were given,
    references would be counted each time.
    """
    start, end, piece, stitch = lie
    low, reach_mm, shape, bins, listed = grid
    per_mm, widest = 1.0 / reach_mm, reach_mm + BEYOND_MM
    # Which strand has asked for a strand and a bin last; and the strands around the one at hand, each with
    # its line: from where that one starts, where it starts, its run, its length; one over how far its run
    # goes along; and if it comes from the same hole, where its other end lies.
    asked, looked = np.full(len(piece), -1, np.int32), np.full(len(bins), -1, np.int32)
    around, lines = np.empty(len(piece), np.int32), np.empty((len(piece), LINE), np.float32)
    flat, most = lines.reshape(-1), 0
    for i in range(own[0], own[1]):
        most = max(most, looks[i + 1] - looks[i])
    far, found = np.empty((2, lanes(most)), np.float32), np.empty((2, lanes(most)), np.int32)
    left, right, on_left, on_right = far[0], far[1], found[0], found[1]
    for i in range(own[0], own[1]):
        x0, y0 = start[i, 0], start[i, 1]
        own_x, own_y = end[i, 0] - x0, end[i, 1] - y0
        length, stations = np.sqrt(own_x * own_x + own_y * own_y), looks[i + 1] - looks[i]
        alone = piece[i] < 0 or length <= LEAST_MM
        tx, ty = own_x / max(length, LEAST_MM), own_y / max(length, LEAST_MM)
        count, last = 0, -1
        for k in range(0 if alone else stations):
            t = k / (stations - 1.0)
            col, row = int((x0 + own_x * t - low[0]) * per_mm), int((y0 + own_y * t - low[1]) * per_mm)
            if row * shape[1] + col == last:
                continue
            last = row * shape[1] + col
            # The bin and those around it; none lies at the grid's edge.
            for m in range(9):
                b = last + (m // 3 - 1) * shape[1] + m % 3 - 1
                if looked[b] == i:
                    continue
                looked[b] = i
                for slot in range(bins[b], bins[b + 1]):
                    j = listed[slot]
                    if asked[j] == i or j == i or piece[j] != piece[i]:
                        continue
                    asked[j] = i
                    from_x, from_y = start[j, 0] - x0, start[j, 1] - y0
                    run_x, run_y = end[j, 0] - start[j, 0], end[j, 1] - start[j, 1]
                    span, same_hole = np.sqrt(run_x * run_x + run_y * run_y), abs(stitch[j] - stitch[i]) == 1
                    forth = run_x * tx + run_y * ty
                    along, aside = from_x * tx + from_y * ty, from_y * tx - from_x * ty
                    over = run_y * tx - run_x * ty
                    if not _presses(along, forth, aside, over, length, span, widest, same_hole):
                        continue
                    lines[count, 0], lines[count, 1] = from_x, from_y
                    lines[count, 2], lines[count, 3] = run_x, run_y
                    lines[count, 4], lines[count, 5] = span, 1.0 / forth
                    other_x, other_y = np.inf, np.inf
                    if same_hole:
                        later = stitch[j] > stitch[i]
                        other_x = (end[j, 0] if later else start[j, 0]) - x0
                        other_y = (end[j, 1] if later else start[j, 1]) - y0
                    lines[count, 6], lines[count, 7] = other_x, other_y
                    around[count] = j
                    count += 1
        step = _f(own_x / (stations - 1.0)), _f(own_y / (stations - 1.0)), _f(tx), _f(ty)
        nearest(stations, step, _f(reach_mm), count, around, flat, left, right, on_left, on_right)
        for k in range(stations):
            near[looks[i] + k, 0], near[looks[i] + k, 1] = on_left[k], on_right[k]


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _presses(
    along: float,
    forth: float,
    aside: float,
    over: float,
    length: float,
    span: float,
    widest: float,
    same_hole: bool,
) -> bool:
    """Whether a strand may press another of such a `length`: it starts so far along and to the right of where
    that does, goes `forth` and `over` from there, and is `span` long."""
    # None that is too far to either side or along.
    near = min(aside, aside + over) <= widest and max(aside, aside + over) >= -widest
    beside = min(along, along + forth) <= length + BEYOND_MM and max(along, along + forth) >= -BEYOND_MM
    # One that goes straight on from the same needle point is no neighbour.
    alike = abs(forth) >= ALIKE * max(span, LEAST_MM) and not (same_hole and forth > 0.0)
    return near and beside and alike


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def nearest(
    stations: int,
    step: tuple[Any, Any, Any, Any],
    reach_mm: Any,
    count: int,
    around: NDArray[np.int32],
    lines: NDArray[np.float32],
    left: NDArray[np.float32],
    right: NDArray[np.float32],
    on_left: NDArray[np.int32],
    on_right: NDArray[np.int32],
) -> None:
    """Which of the `count` strands `around` lie next to a strand to its left and to its right at each
    station; -1 for none. `step` is from one to the next, and the strand's direction; `left` and `right` are
    room."""
    step_x, step_y, tx, ty = step
    wide = lanes(stations)
    for k in range(wide):
        left[k] = right[k] = reach_mm
        on_left[k] = on_right[k] = -1
    for m in range(count):
        at = np.uintp(LINE * m)
        from_x, from_y = lines[at], lines[at + np.uintp(1)]
        run_x, run_y = lines[at + np.uintp(2)], lines[at + np.uintp(3)]
        span, per_forth = lines[at + np.uintp(4)], lines[at + np.uintp(5)]
        other_x, other_y, name = lines[at + np.uintp(6)], lines[at + np.uintp(7)], around[m]
        same_hole = other_x < _f(np.inf)
        # Without branches, which no processor could foresee.
        for k in range(wide):
            x, y = step_x * _f(_i(k)), step_y * _f(_i(k))
            dx, dy = from_x - x, from_y - y
            # The line straight to the right through the point meets the strand at this share of it.
            share = -(dx * tx + dy * ty) * per_forth
            away = (dy + share * run_y) * tx - (dx + share * run_x) * ty
            # If it comes from the same hole, the side is that of its other end.
            turn = (other_y - y) * tx - (other_x - x) * ty if same_hole else away
            beyond = max(-share, share - _f(1.0)) * span
            far = abs(away) if beyond <= _f(BEYOND_MM) else _f(np.inf)
            is_left, is_right = (turn < _f(0.0)) & (far < left[k]), (turn >= _f(0.0)) & (far < right[k])
            left[k], on_left[k] = far if is_left else left[k], name if is_left else on_left[k]
            right[k], on_right[k] = far if is_right else right[k], name if is_right else on_right[k]
