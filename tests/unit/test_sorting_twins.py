"""Sorting strands into the parts of a picture against its slow, plain twin."""

from __future__ import annotations

import naive
import numpy as np

from render.draw.tiles import sort_in


def test_strands_are_sorted_into_the_parts_that_they_meet() -> None:
    random = np.random.default_rng(11)
    corner = random.uniform(-20.0, 90.0, (300, 2))
    # Whole numbers, so that some end just where a part begins.
    boxes = np.rint(np.concatenate([corner, corner + random.uniform(1.0, 30.0, (300, 2))], 1))
    rows = np.array([[-4.0, 36.0], [28.0, 68.0]])
    columns = np.array([[-4.0, 24.0], [16.0, 44.0], [36.0, 60.0]])
    stops, listed = sort_in(boxes, rows, columns)
    expected = naive.meeting(boxes, rows, columns)
    assert [part.tolist() for part in np.split(listed, stops[1:-1])] == expected
    assert sum(map(len, expected)) > 300
