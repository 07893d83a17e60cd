"""Which strands lie in which part of a picture, each asked for each."""

from __future__ import annotations

from typing import Any

from numpy.typing import NDArray


def meeting(boxes: NDArray[Any], rows: NDArray[Any], columns: NDArray[Any]) -> list[list[int]]:
    """Which boxes (left, top, right, bottom) overlap each part between such rows and columns, row by row."""
    return [
        [
            i
            for i, (left, top, right, bottom) in enumerate(boxes.tolist())
            if min(right, stop) > max(left, begin) and min(bottom, low) > max(top, high)
        ]
        for high, low in rows.tolist()
        for begin, stop in columns.tolist()
    ]
