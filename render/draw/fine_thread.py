"""How much thread lies over each place, told in cells as fine as a large picture's pixels.

Rows of a lower fill show darkly through the thin thread above them, as a net that cells of the map which
stitches press on spread out. Where pixels are finer than those, the thread over a part is laid anew in cells
a whole number of times as fine: the strands are laid as many times as large.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from render.draw.across import CELL_MM
from render.draw.laid import lay_thread, smooth_rows
from render.draw.stack import OPAQUE_MM
from render.draw.thickness import thickness_at

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.draw.stack import Stack
    from render.draw.strands import Strands

# Light spreads about as far in clear thread as over a cell so fine: in finer ones the scenes of
# tests/reference are no nearer to the traced ones.
FINEST = 3


def times_as_fine(stacked: Stack, px_per_mm: float) -> int:
    """How many cells a cell of the map is taken apart into, each way, for pixels of that size; none where
    that has more than thread, such as foam."""
    times = min(max(1, int(CELL_MM * px_per_mm)), FINEST)
    return 1 if times > 1 and (stacked.thread_mm >= OPAQUE_MM).any() else times


def fine_thickness(
    strands: Strands,
    stacked: Stack,
    chosen: NDArray[np.int64],
    frame: NDArray[np.float64],
    times: int,
    out: NDArray[np.float32],
) -> None:
    """Fill `out` as `thickness_at` does, from cells so many times as fine; `frame` is in cells of the map,
    and the `chosen` strands, rising, are all that lie there."""
    x, y, step = frame * times
    rows, cols = (2 * times * (side // 2) + 1 for side in stacked.thread_mm.shape)
    # Cells around the first and the last row, as far as there are any, and one more to smooth them with.
    low = min(max(int(np.floor(y)) + rows // 2 - 2, 0), rows)
    stop = min(max(int(np.ceil(y + (len(out) - 1) * step)) + rows // 2 + 3, low), rows)
    sewn = chosen[strands.stitch[chosen] >= 0]
    section, first = _refined(stacked, sewn, times)
    start, end = (np.ascontiguousarray(ends[sewn]) * times for ends in (strands.start_mm, strands.end_mm))
    steps, thread = np.zeros((stop - low, cols), np.uint16), np.zeros((stop - low, cols), np.float32)
    lay_thread(start, end, section, first, np.arange(len(sewn)), (rows, cols), low, steps)
    if stop - low > 2:
        smooth_rows(steps, 1, stop - low - 1, thread, np.empty(steps.shape, np.uint8))
    thickness_at(thread, np.array([x, y + rows // 2 - low - (stop - low) // 2, step]), out)
    out /= times


def _refined(
    stacked: Stack, chosen: NDArray[np.int64], times: int
) -> tuple[NDArray[np.float32], NDArray[np.int64]]:
    """Sections of the chosen strands, so many times as large and as close to each other, and the first row of
    each."""
    count = (stacked.first[1:] - stacked.first[:-1])[chosen]
    first = np.concatenate([[0], np.cumsum((count - 1) * times + 1)])
    owner = np.repeat(np.arange(len(chosen)), np.diff(first))
    whole, part = np.divmod(np.arange(first[-1]) - first[owner], times)
    before = stacked.first[chosen][owner] + whole
    after = before + (part > 0)
    share = (part / times).astype(np.float32)[:, None]
    sections = stacked.section_mm[before] * (1 - share) + stacked.section_mm[after] * share
    return sections * np.float32(times), first
