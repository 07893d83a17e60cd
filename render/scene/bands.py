"""A picture is worked out band by band, on all cores, and tells how far it is."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

BAND_ROWS = 96
FEW_ROWS = 16  # of a band that has many sets of colours: what is held of it then stays near


def in_bands(rows: int, task: Callable[[int], None], band_rows: int = BAND_ROWS) -> None:
    """Do the task for the first row of every band, on all cores."""
    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        list(pool.map(task, range(0, rows, band_rows)))


def part_of(progress: Callable[[float], None] | None, begin: float, end: float) -> Callable[[float], None]:
    """Tells the progress of a part of the work, in [0, 1], that of the whole."""
    if progress is None:
        return lambda share: None
    return lambda share: progress(begin + (end - begin) * share)
