"""The gap that is printed is the gap that is seen: measured in the drawn picture by other means."""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from scipy.ndimage import distance_transform_edt

sys.path.insert(0, str(Path(__file__).parents[2] / "examples"))

from planting.scenes import file_of

from designs.gap_study import DISC_MM, RADIUS_MM, gap_study
from render.draw import draw
from render.draw.uneven import MOST_ASIDE_MM
from render.inspect import Piece, inspect
from render.inspection import piece_of
from render.materials.fabrics import load_fabric
from render.materials.fibres import load_fibres
from render.materials.job import make_job
from render.model import Problem, Window
from render.preview import SewnDesign, sew_design

PX_PER_MM = 20.0


@cache
def sewn_on(fabric: str) -> tuple[SewnDesign, Piece, tuple[Problem, ...]]:
    job = make_job(fabric=fabric, finish="cleaned")
    ready = sew_design(file_of(gap_study()), job)
    piece = piece_of(ready, job)
    return ready, piece, tuple(one for one in inspect(piece).problems if one.kind == "gap")


def test_the_printed_width_is_that_in_the_picture() -> None:
    ready, piece, gaps = sewn_on("jersey")
    worst = max(gaps, key=lambda one: one.size_mm or 0.0)
    assert worst.size_mm is not None
    window = Window(worst.where_mm, PX_PER_MM, 80, 80)
    (layers,) = draw(
        ready.sewn,
        threads=ready.threads,
        lobes=load_fibres(),
        load_fabric=load_fabric,
        job=piece.job,
        windows=[window],
    )
    open_ = layers.covered < 0.5
    # The widest disc of open cloth whose middle is near the place that is printed.
    seen_mm = (2 * distance_transform_edt(open_)[30:50, 30:50].max() - 0.5) / PX_PER_MM
    # Drawn needles are turned aside by that much, which nothing printed counts on.
    assert seen_mm == pytest.approx(worst.size_mm, abs=1 / PX_PER_MM + MOST_ASIDE_MM)


def test_softer_cloth_opens_the_wider_gap() -> None:
    """Common practice, no source: a border that only meets its fill gapes on knit, hardly on twill."""
    widths = {
        fabric: max((one.size_mm or 0.0 for one in sewn_on(fabric)[2]), default=0.0)
        for fabric in ("twill", "jersey", "sweatshirt-fleece")
    }
    assert widths["twill"] < widths["jersey"] <= widths["sweatshirt-fleece"] + 0.06
    assert widths["jersey"] > 0.3


def test_gaps_open_at_the_ends_of_the_rows_and_not_along_them() -> None:
    ready, _, gaps = sewn_on("jersey")
    x, y = np.subtract(max(gaps, key=lambda one: one.size_mm or 0.0).where_mm, DISC_MM)
    # The rows run across: their ends are to the left and right.
    assert abs(x) > abs(y)
    assert np.hypot(x, y) == pytest.approx(RADIUS_MM, abs=1.0)
    assert ready.sewn.cloth is not None
