"""How the ends of strands lie, by looking for the stitches before and after."""

from __future__ import annotations

from typing import Any

import numpy as np


def straight_on(strands: Any, i: int) -> list[bool]:
    """Whether strand i comes straight on from the stitch before, and goes straight on in the one after."""
    out = []
    for step in (-1, 1):
        j = next((j for j in range(len(strands.stitch)) if strands.stitch[j] == strands.stitch[i] + step), -1)
        if min(j, strands.stitch[i]) < 0:
            out.append(False)
            continue
        one, two = (i, j) if step > 0 else (j, i)
        meets = np.abs(strands.end_mm[one] - strands.start_mm[two]).max() < 0.06
        ways = [strands.end_mm[k] - strands.start_mm[k] for k in (i, j)]
        out.append(bool(meets and ways[0] @ ways[1] > 0))
    return out


def kept_width(strands: Any, i: int, place_mm: float, length_mm: float, c: Any) -> float:
    """Share of its width that pressed strand i keeps near its holes."""
    kept = 1.0
    for away, goes, straight in zip(
        (place_mm, length_mm - place_mm), strands.dives[i], straight_on(strands, i), strict=True
    ):
        way = c.IN_LINE if strands.piece[i] < 0 else c.STRAIGHT if straight else c.AMONG
        reach, share = c.TAPER_MM[way], c.TAPERED[way]
        near = max(1 - away / reach, 0) ** 2
        kept *= 1 - (1 - share) * near * goes
    return kept
