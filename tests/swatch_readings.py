"""Readings of the test swatch, made up."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from render.fit.readings import Readings, gather
from render.swatch import make_swatch

Floats = NDArray[np.float64]

COLUMNS = make_swatch().columns


WIDTHS = np.array([float(column.width_mm) for column in COLUMNS])


SEEDS = range(40)


def read(
    widths_mm: Floats, seed: int, *, column_mm: float = 0.03, reading_mm: float = 0.03, **kept: Any
) -> Readings:
    """Three readings of each column to 0.01 mm, each column and each reading off by chance."""
    chance = np.random.default_rng(seed)
    columns = widths_mm + chance.normal(0, column_mm, len(COLUMNS))
    readings = np.round(columns[:, None] + chance.normal(0, reading_mm, (len(COLUMNS), 3)), 2)
    some = kept.get("only", range(len(COLUMNS)))
    return gather([(k, readings[k].tolist()) for k in some])


def where(**wanted: Any) -> list[int]:
    return [k for k, c in enumerate(COLUMNS) if all(getattr(c, n) in v for n, v in wanted.items())]
