"""How the process gets its memory: what is freed is kept for what is asked for next.

A picture asks for tens of megabytes again for each of its parts, and stacking many stitches for more. glibc
hands large blocks back to the system as soon as they are freed, and each page that comes anew must be
cleared, which costs as much as reckoning many pixels: a fifth of all of drawing (measured).
"""

from __future__ import annotations

import sys
from functools import cache

# Parameters of mallopt, as malloc.h of glibc numbers them.
TRIM_THRESHOLD, MMAP_MAX = -1, -4
KEPT_BYTES = 1 << 30  # at the end of the heap; no process kept as much


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
