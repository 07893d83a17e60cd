"""What a plan says of stitches, against what is known of them."""

from __future__ import annotations

import numpy as np

from render.model import SewPlan


def kinds_of(planned: SewPlan) -> list[str]:
    """The kind of every stitch."""
    return [planned.objects[i].kind for i in planned.object_index]


def right_share(planned: SewPlan, truth: tuple[str, ...]) -> float:
    """Share of stitches given the right kind."""
    assert len(truth) == len(planned.start_mm)
    return float(np.mean(np.array(kinds_of(planned)) == np.array(truth)))


def angle_apart(a: float, b: float) -> float:
    """Degrees between two directions that point either way."""
    return abs((a - b + 90) % 180 - 90)
