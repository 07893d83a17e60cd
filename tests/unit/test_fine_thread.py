"""How much thread lies over each place, in cells finer than those of the map."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import samples
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from render.draw import across, fine_thread, stack, thickness
from render.draw.strands import Strands, strands_of

PX_MM = 0.025
SIDE = 160


def _fill() -> tuple[Strands, stack.Stack]:
    sewn = samples.sewn_of(samples.Part(samples.turned(samples.fill(6.0, 5.0), 20), "fill"))
    strands = strands_of(sewn, (samples.RED,), samples.JOB)
    return strands, stack.stack_strands(strands)


def _frame(top: int, left: int) -> NDArray[np.float64]:
    """Of pixels around the anchor."""
    step = PX_MM / across.CELL_MM
    return np.array([(left - SIDE / 2 + 0.5) * step, (top - SIDE / 2 + 0.5) * step, step])


def _fine(top: int = 0, left: int = 0, side: int = SIDE, times: int = 3) -> NDArray[np.float32]:
    strands, stacked = _fill()
    out = np.empty((side, side), np.float32)
    every = np.arange(len(strands.start_mm))
    fine_thread.fine_thickness(strands, stacked, every, _frame(top, left), times, out)
    return out


def _true() -> NDArray[np.float64]:
    """The chords of all strands at each pixel."""
    strands, stacked = _fill()
    at = (np.arange(SIDE) - SIDE / 2 + 0.5) * PX_MM
    x, y = np.meshgrid(at, at)
    total = np.zeros((SIDE, SIDE))
    for i in np.flatnonzero(strands.stitch >= 0):
        run = strands.end_mm[i] - strands.start_mm[i]
        length = np.hypot(*run)
        right, down = run / length
        dx, dy = x - strands.start_mm[i, 0], y - strands.start_mm[i, 1]
        along = dx * right + dy * down
        own = stacked.section_mm[stacked.first[i] : stacked.first[i + 1]].astype(float)
        left_mm, right_mm, high = (
            np.interp(along / length, np.linspace(0, 1, len(own)), column) for column in own.T
        )
        off = (dy * right - dx * down - (right_mm - left_mm) / 2) / ((left_mm + right_mm) / 2)
        inside = (along >= 0) & (along <= length)
        total += np.where(inside, 2 * high * np.sqrt(np.maximum(1 - off * off, 0)), 0)
    return total


def test_fine_cells_tell_what_lies_at_the_very_place() -> None:
    true = _true()
    got, inner = _fine(), slice(20, -20)
    # As cells of a third, smoothed over their neighbours and read by a spline, spread it.
    spread = gaussian_filter(true, 0.9 * across.CELL_MM / 3 / PX_MM)
    off = (got - spread)[inner, inner]
    assert np.sqrt((off**2).mean()) < 0.08 * true.mean()
    coarse = np.empty_like(got)
    thickness.thickness_at(_fill()[1].thread_mm, _frame(0, 0), coarse)
    assert got[inner, inner].mean() == pytest.approx(coarse[inner, inner].mean(), rel=0.01)
    assert got[inner, inner].std() > 1.3 * coarse[inner, inner].std()


def test_a_part_alone_has_the_same_thread() -> None:
    whole, part = _fine(), _fine(32, 64, 64)
    assert (whole[32:96, 64:128] == part).all()


def test_beyond_the_thread_there_is_none() -> None:
    assert not _fine(4000, 0, 32).any()
    assert not _fine(0, -4000, 32).any()


@pytest.mark.parametrize(("dpi", "times"), [(72, 1), (300, 1), (600, 2), (1016, 3), (2400, 3)])
def test_cells_are_finer_where_pixels_are(dpi: float, times: int) -> None:
    stacked = _fill()[1]
    assert fine_thread.times_as_fine(stacked, dpi / 25.4) == times
    raised = stacked.thread_mm.copy()
    raised[0, 0] = stack.OPAQUE_MM
    assert fine_thread.times_as_fine(replace(stacked, thread_mm=raised), dpi / 25.4) == 1
