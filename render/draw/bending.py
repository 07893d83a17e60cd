"""How a thread bends along its way: taut over what lies below it, and down into its holes."""

from __future__ import annotations

from math import comb
from typing import TYPE_CHECKING

import numpy as np

from render.apart import Apart, Lent
from render.compiled import njit
from render.draw.across import lanes

if TYPE_CHECKING:
    from numpy.typing import NDArray

# How the end of a thread lies: among others; among others, and it comes up again and goes straight on; in a
# line of single stitches; or as if alone, which does not plunge.
AMONG, STRAIGHT, IN_LINE, ALONE = range(4)
# Over such a length a thread goes down into its hole, by such a share of its half-height: one that
# is as if alone, and one pressed by others.
DIVE_MM, HOLE_SINK = (0.30, 0.34), (0.40, 0.35)
# Once it is taut, a pressed thread bends down into its hole over such a length, by so many of its
# half-heights: there it is round, and most of it goes below the face of the cloth. What lies on other thread,
# so high or higher, is held up by that and bends down by less. What comes up again and goes straight on
# does both at once: it bends sharply, and not so far; the less so a line of single stitches (estimates).
PLUNGES = np.array([[0.32, 1.05], [0.12, 0.4], [0.40, 0.9]])
HELD_UP, HELD_UP_MM = 0.9, 0.05
# What comes up again and goes straight on lies in a fill, whose threads hold each other up: of how far a
# thread would hang below its mean it is held up by such a share, and by so much at most (by eye: single
# stitches of a fill shone by themselves; pressed down elsewhere, thread below would show through).
EVENED, HELD_MM = 0.7, 0.05
ROUNDING = 12  # passes that take the corners off a strand: it bends over about 0.5 mm (estimate)
# All passes in one: shares of samples up to so far away, of which a pass has a quarter, a half, a quarter.
SHARES = np.array([comb(2 * ROUNDING, k) / 4.0**ROUNDING for k in range(ROUNDING + 1)], np.float32)
_f = np.float32


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Lent)
def dive(
    height: NDArray[np.float32],
    n: int,
    length: float,
    dive_start: bool,
    dive_end: bool,
    b_start: float,
    b_end: float,
    dip: NDArray[np.float64],
) -> None:
    """Bend the ends of n samples down to where the thread goes through; `dip` is over which length and how
    deep."""
    length = max(length, 1e-6)
    reach = min(dip[0], 0.45 * length)
    near = min(int(reach / length * (n - 1)) + 1, n)
    for k in range(near):
        u = max(1.0 - length * k / ((n - 1) * reach), 0.0)
        if dive_start:
            height[k] -= dip[1] * b_start * u * u
        if dive_end:
            height[n - 1 - k] -= dip[1] * b_end * u * u


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Lent)
def plunge(
    taut: NDArray[np.float32],
    n: int,
    length: float,
    dives: NDArray[np.bool_],
    ways: NDArray[np.int8],
    b_start: float,
    b_end: float,
) -> None:
    """Bend the ends of a taut thread down further, each in its way, see `PLUNGES`."""
    dive(taut, n, length, dives[0], False, b_start, b_end, PLUNGES[ways[0]])
    dive(taut, n, length, False, dives[1], b_start, b_end, PLUNGES[ways[1]])


@njit(cache=True, nogil=True, inline="always")
def held_up(height_mm: float) -> float:
    """Share of its dive that a thread takes which lies so high at its hole."""
    return 1.0 - HELD_UP * min(max(height_mm / HELD_UP_MM, 0.0), 1.0)


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Lent)
def even_out(taut: NDArray[np.float32], n: int) -> None:
    """Hold n samples of a taut thread up where they hang lowest, as in a fill."""
    mean = _f(0.0)
    for k in range(n):
        mean += taut[k]
    mean /= _f(n)
    for k in range(n):
        taut[k] += min(max(_f(EVENED) * (mean - taut[k]), _f(0.0)), _f(HELD_MM))


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Lent)
def pull_taut(
    around: NDArray[np.float32], n: int, hull: NDArray[np.int64], taut: NDArray[np.float32]
) -> None:
    """Lift a strand to its upper convex hull, then round off the corners: thread under
    tension spans hollows and never bends sharply over a bump.

    Its n samples are those of `around` from number `ROUNDING` on, which has as much room behind them; the
    result is in `taut`, which has room for whole lanes.
    """
    lift(around[ROUNDING:], n, hull)
    # Ends stay where they are, as if what lies beyond were the same upside down.
    begin, end = ROUNDING, ROUNDING + n - 1
    low, high = _f(2.0) * around[begin], _f(2.0) * around[end]
    for m in range(1, ROUNDING):
        around[begin - m] = low - around[begin + m]
        around[end + m] = high - around[end - m]
    round_off(around, n, taut)
    taut[0], taut[n - 1] = around[begin], around[end]


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Lent)
def lift(height: NDArray[np.float32], n: int, hull: NDArray[np.int64]) -> None:
    """Lift n samples to their upper convex hull."""
    count = 0
    for k in range(n):
        here = height[k]
        while count >= 2:
            i, j = hull[count - 2], hull[count - 1]
            low = height[i]
            if (height[j] - low) * _f(k - i) <= (here - low) * _f(j - i):
                count -= 1
            else:
                break
        hull[count] = k
        count += 1
    for h in range(count - 1):
        i, j = hull[h], hull[h + 1]
        low, per_step = height[i], (height[j] - height[i]) / _f(max(j - i, 1))
        for k in range(i + 1, j):
            height[k] = low + per_step * _f(k - i)


@njit(cache=True, nogil=True, error_model="numpy", pipeline_class=Apart)
def round_off(around: NDArray[np.float32], n: int, out: NDArray[np.float32]) -> None:
    """All passes of `ROUNDING` over n samples, and those that fill the last lanes."""
    for k in range(lanes(n)):
        total = SHARES[ROUNDING] * around[np.uintp(k + ROUNDING)]
        for m in range(ROUNDING):
            total += SHARES[m] * (around[np.uintp(k + m)] + around[np.uintp(k + 2 * ROUNDING - m)])
        out[np.uintp(k)] = total
