"""How a thread bends along its way: taut over what lies below it, and down into its holes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numba import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Over such a length a thread goes down into its hole, by such a share of its half-height: one that
# is as if alone, and one pressed by others.
DIVE_MM, HOLE_SINK = (0.30, 0.34), (0.40, 0.35)
# Once it is taut, a pressed thread bends down into its hole over such a length, by so many of its
# half-heights: there it is round, and all of it goes below the face of the cloth. What lies on other thread,
# so high or higher, is held up by that and bends down by less. What comes up again and goes straight on
# does both at once: it bends sharply, and not so far (estimates).
PLUNGES = np.array([[0.24, 1.2], [0.17, 0.8]])
HELD_UP, HELD_UP_MM = 0.9, 0.05
ROUNDING = 12  # passes that take the corners off a strand: it bends over about 0.5 mm (estimate)


@njit(cache=True, nogil=True, error_model="numpy")
def dive(
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
    length = max(length, 1e-6)
    reach = min(dip[0], 0.45 * length)
    near = min(int(reach / length * (n - 1)) + 1, n)
    for k in range(near):
        u = max(1.0 - length * k / ((n - 1) * reach), 0.0)
        if dive_start:
            height[at + k] -= dip[1] * b_start * u * u
        if dive_end:
            height[at + n - 1 - k] -= dip[1] * b_end * u * u


@njit(cache=True, nogil=True, inline="always")
def held_up(height_mm: float) -> float:
    """Share of its dive that a thread takes which lies so high at its hole."""
    return 1.0 - HELD_UP * min(max(height_mm / HELD_UP_MM, 0.0), 1.0)


@njit(cache=True, nogil=True, error_model="numpy")
def pull_taut(height: NDArray[np.float32], at: int, n: int, hull: NDArray[np.int64]) -> None:
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
