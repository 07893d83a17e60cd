"""How the process gets its memory: what is freed is kept for what is asked for next.

A picture asks for tens of megabytes again for each of its parts, and stacking many stitches for more. glibc
hands large blocks back to the system as soon as they are freed, and each page that comes anew must be
cleared, which costs as much as reckoning many pixels: a fifth of all of drawing (measured).
Without the huge pages that numpy asks for fresh memory takes a third of the system's time (measured on one
virtual machine; why was not found out).
"""

from __future__ import annotations

import sys
from functools import cache

# Parameters of mallopt, as malloc.h of glibc numbers them.
TRIM_THRESHOLD, TOP_PAD, MMAP_MAX = -1, -2, -4
KEPT_BYTES = 1 << 30  # at the end of the heap; no process kept as much
# More than two heaps of a thread, of 64 MiB each: with less to spare glibc gives back each that is empty.
SPARE_BYTES = 1 << 27


@cache
def keep_freed() -> None:
    """Let this process keep what it frees, where its C library is glibc: no block is mapped by itself."""
    if not sys.platform.startswith("linux"):
        return
    import ctypes

    mallopt = getattr(ctypes.CDLL(None), "mallopt", None)
    if mallopt is not None:
        mallopt(MMAP_MAX, 0)
        mallopt(TRIM_THRESHOLD, KEPT_BYTES)
        mallopt(TOP_PAD, SPARE_BYTES)
    _without_huge_pages()


def _without_huge_pages() -> None:
    """As numpy is told by NUMPY_MADVISE_HUGEPAGE, which counts only before it is imported."""
    import numpy as np

    within = vars(np).get("_core")  # numpy may move it
    tell = getattr(getattr(within, "multiarray", None), "_set_madvise_hugepage", None)
    if tell is not None:
        tell(False)
