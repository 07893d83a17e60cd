"""Columns that turn so sharply that their inner edge hardly moves."""

from __future__ import annotations

import numpy as np
import pytest
from plan_checks import right_share
from plan_pieces import UNSURE, arc, column, sewing, wave

from render.plan import plan


@pytest.mark.parametrize("seed", range(40))
def test_a_column_about_a_pivot_is_one_satin(seed: int) -> None:
    """The inner points lie 0 to 0.15 mm apart: rounded to 0.1 mm, many of them are the same point."""
    rng = np.random.default_rng(seed)
    radius = rng.uniform(1.0, 4.0)
    width = 2 * radius * rng.uniform(0.8, 0.99)
    piece = column(arc(radius, rng.uniform(60, 300)), width, 0.4 * radius / (radius + width / 2))
    sewn = sewing(piece.turned(rng.uniform(0, 360)))
    planned = plan(sewn.design, UNSURE)
    assert right_share(planned, sewn.kinds) >= 0.97
    assert len(planned.objects) <= 2


@pytest.mark.parametrize("seed", range(20))
def test_a_wavy_column_is_one_satin(seed: int) -> None:
    rng = np.random.default_rng(seed)
    path = wave(rng.uniform(15, 30), rng.uniform(1.0, 2.5))
    sewn = sewing(column(path, rng.uniform(1.5, 2.5), 0.4).turned(rng.uniform(0, 360)))
    planned = plan(sewn.design, UNSURE)
    assert right_share(planned, sewn.kinds) >= 0.97
    assert len(planned.objects) <= 2
