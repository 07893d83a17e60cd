"""Stitches that would take the cloth for ever are given up with a sentence; ordinary ones by far are not."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from render.errors import InputError
from render.materials.job import make_job
from render.model import Design
from render.preview import holding_for, plan_design
from render.sew import settle, sew

COUNT = 1500
SIDE_MM = 20.0
EFFORT = 1000.0  # a stitch: the fill takes 550, the others 2,000


def square(xy_mm: NDArray[np.float64]) -> Design:
    command = np.zeros(len(xy_mm), np.uint8)
    return Design("square.dst", "DST", np.round(xy_mm, 1), command, (None,), "inferred", True, "0" * 64)


def rows() -> NDArray[np.float64]:
    """A fill of four stitches a row."""
    x = np.tile([0.0, 5.0, 10.0, 15.0, 20.0, 20.0, 15.0, 10.0, 5.0, 0.0], COUNT // 10)
    return np.stack([x, np.arange(COUNT) // 5 * 0.4], 1)


def across() -> NDArray[np.float64]:
    """As many stitches from anywhere to anywhere in a square as wide as the fill."""
    return np.random.default_rng(1).uniform(0, SIDE_MM, (COUNT, 2))


def test_stitches_all_across_each_other_are_given_up_and_a_fill_is_not(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(settle, "LEAST_EFFORT", 0.0)
    monkeypatch.setattr(settle, "EFFORT_A_STITCH", EFFORT)
    job = make_job()
    fill, tangle = (plan_design(square(points()), job).plan for points in (rows, across))
    assert np.isfinite(sew(fill, holding_for(job, fill.box_mm)).start_mm).all()
    with pytest.raises(InputError, match=r"stitches lie too densely .* --as-programmed"):
        sew(tangle, holding_for(job, tangle.box_mm))
