"""Where a camera looks that is too near for the whole design."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from render.asked import read_file
from render.materials.job import make_job
from render.scene import scene_for
from render.scene.aim import most_thread

ROWS = [(row / 2, 1 - 2 * (row % 2)) for row in range(20)]
EXAMPLES = Path(__file__).parents[2] / "examples"


def _fill(left: float, top: float) -> np.ndarray:  # type: ignore[type-arg]
    """Rows of stitches of 1 mm over 10 x 10 mm, 0.5 mm apart."""
    along = np.arange(0.0, 10.5)
    rows = [np.stack([left + along[::way], np.full(11, top + row)], 1) for row, way in ROWS]
    return np.concatenate(rows)


def test_it_looks_at_thread_and_not_between() -> None:
    two = np.concatenate([_fill(-30.0, -5.0), _fill(20.0, -5.0)])
    right, down = most_thread(two, (10.0, 10.0), (1.0, 0.0))
    # A frame that has nearly all of a square reaches a little past its edge, on the side of the middle.
    assert (right, down) == (pytest.approx(24.5, abs=1.1), pytest.approx(0.0, abs=1.1))


def test_where_there_is_as_much_as_anywhere_it_stays() -> None:
    one = np.concatenate([_fill(-5.0, -5.0), _fill(-5.0, -5.0), _fill(20.0, -5.0)])
    assert most_thread(one, (10.0, 10.0), (0.0, 0.3)) == (0.0, 0.3)


def test_what_is_turned_is_looked_at_turned() -> None:
    badge = read_file(str(EXAMPLES / "cap-badge.dst"), None)
    job = make_job(finish="cleaned")
    upright, turned = (scene_for(badge, job, "close-up", rotate_deg=by).setting.camera for by in (0.0, 180.0))
    assert upright.target_mm[1] < -4.0  # the head, over the crossed oars
    assert turned.target_mm[1] == pytest.approx(-upright.target_mm[1], abs=1.5)
    wide = scene_for(read_file(str(EXAMPLES / "wordmark.dst"), None), job, "cap-front", rotate_deg=90.0)
    assert "mm, more than the" in wide.notes[0]
