"""Running and bean stitches along a path."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from digitize.parts import Part, Points
from digitize.shapes import resample

STITCH_MM = 2.5  # common practice, no source


def running(path: Sequence[Any] | Points, stitch_mm: float = STITCH_MM) -> list[Part]:
    """Single stitches of at most `stitch_mm` along `path`."""
    return [Part("running", resample(path, stitch_mm))]


def bean(path: Sequence[Any] | Points, stitch_mm: float = 1.8) -> list[Part]:
    """Each stitch sewn forwards, back and forwards again: a bold line."""
    points = resample(path, stitch_mm)
    thrice = np.stack([points[1:], points[:-1], points[1:]], axis=1).reshape(-1, 2)
    return [Part("bean", np.concatenate([points[:1], thrice]))]
