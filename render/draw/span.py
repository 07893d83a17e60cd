"""Which pixels of a row a straight strand may show in."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from render.compiled import njit

if TYPE_CHECKING:
    from numpy.typing import NDArray

LANES = 8  # pixels that are drawn at a time
SLACK_PX = 0.01  # by which a strand may reach further than reckoned; there its section decides
FAR_PX = 1e12
FRAME = 7


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def columns_in(r: Any, cols: int, frame: NDArray[np.float64]) -> tuple[Any, Any]:
    """From which column on a strand may show in row r, and in how many: `LANES` pixels at a time, where there
    are as many.

    `frame` is where the strand starts and its span, see `fill_span`.
    """
    y = r - frame[1]
    side, along = y * frame[2], y * frame[4]
    left = max(0, int(np.ceil(max(side - frame[3], along + frame[5]) + frame[0] - SLACK_PX)))
    right = min(cols - 1, int(np.floor(min(side + frame[3], along + frame[6]) + frame[0] + SLACK_PX)))
    count = min((right - left + LANES) // LANES * LANES, cols - left)
    return left, count if left <= right else 0


@njit(cache=True, nogil=True, error_model="numpy")
def fill_span(tx: float, ty: float, a: float, low: float, high: float, frame: NDArray[np.float64]) -> None:
    """Note in a strand's `frame` what of rows lies within `a` to its sides and from `low` to `high` along.

    Of a row y its sides cut what lies around y * frame[2], by frame[3] to either hand; its ends what lies
    from frame[5] to frame[6] beyond y * frame[4].
    """
    frame[2], frame[3] = (tx / ty, a / abs(ty)) if ty != 0.0 else (0.0, FAR_PX)
    one, two = (low / tx, high / tx) if tx != 0.0 else (-FAR_PX, FAR_PX)
    frame[4], frame[5], frame[6] = -ty / tx if tx != 0.0 else 0.0, min(one, two), max(one, two)
