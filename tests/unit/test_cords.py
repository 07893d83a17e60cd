"""Loose thread: dragged jumps that span and are held down, tails at the starts that nothing is sewn over."""

from __future__ import annotations

import dataclasses

import naive
import numpy as np
import pytest
import samples
from numpy.typing import NDArray

from render.draw import cords, lifting
from render.draw.stack import stack_strands
from render.draw.strands import Strands, strands_of
from render.model import Sewn

THREADS = (samples.RED, samples.CREAM, samples.GOLD)


def drawn(sewn: Sewn, seed: int = 0) -> Strands:
    return strands_of(sewn, THREADS, dataclasses.replace(samples.JOB, seed=seed))


def first_cord(strands: Strands) -> NDArray[np.int64]:
    """Strands of the first loose thread."""
    parts = cords.loose_parts(strands)
    return np.arange(np.flatnonzero(parts != cords.SEWN)[0], np.flatnonzero(parts == cords.STOPS)[0] + 1)


def cord_heights(strands: Strands) -> NDArray[np.float32]:
    """Heights along the first loose thread of the piece, mm."""
    stacked, cord = stack_strands(strands), first_cord(strands)
    return stacked.height_mm[stacked.first[cord[0]] : stacked.first[cord[-1] + 1]]


def between_two_satins(*later: samples.Part) -> Sewn:
    """Two high columns 20 mm apart, the thread dragged from one to the other; `later` sewn over it."""
    column = samples.turned(samples.satin(4, 3), 90)
    parts = [samples.Part(column + [x, 0], "satin", 1) for x in (-10, 10)]
    return samples.sewn_of(*parts, *later, cut="no")


def test_lift_matches() -> None:
    for seed in range(12):
        rng = np.random.default_rng(seed)
        height = rng.uniform(0, 0.5, 60).astype(np.float32)
        free = np.repeat(rng.random(12) > 0.3, 5) | (np.arange(60) % 20 < 2)
        held, wave = bool(seed % 2), float(rng.random())
        expected = naive.lifted(height, free, 0.4, held, wave, lifting)
        lifting._lift(height, free, 0.4, held, wave)
        assert height == pytest.approx(expected, abs=1e-6)


def test_a_dragged_thread_spans_the_cloth_between_high_stitching() -> None:
    sewn = between_two_satins()
    heights = cord_heights(drawn(sewn))
    middle = heights[len(heights) // 4 : -len(heights) // 4]
    assert middle.min() > 0.1, "it lies on the cloth"
    assert middle.max() < 2.0
    assert max(heights[0], heights[-1]) < middle.max() - 0.2, "its ends come out of needle holes"


def test_what_is_sewn_over_it_holds_it_down() -> None:
    block = samples.Part(samples.turned(samples.fill(8, 8), 90), "fill", 2)
    strands = drawn(between_two_satins(block))
    stacked = stack_strands(strands)
    cord = first_cord(strands)
    middle = cord[np.hypot(*((strands.start_mm + strands.end_mm)[cord] / 2).T) < 2.5]
    assert len(middle) > 3
    for i in middle:
        assert stacked.height_mm[stacked.first[i] : stacked.first[i + 1]].max() < 0.1


def tails(*parts: samples.Part) -> float:
    """How many of the starts after a trim leave a tail, the mean of 60 seeds."""
    sewn = samples.sewn_of(*parts, cut="yes")
    return float(np.mean([len(set(drawn(sewn, s).stitch[drawn(sewn, s).stitch < 0])) for s in range(60)]))


def test_a_tail_stands_only_where_nothing_is_sewn_over_it() -> None:
    run = samples.Part(samples.running((-9, 0), (-5, 0)), "running")
    open_line = samples.Part(samples.running((0, 0), (12, 0)), "running", 1)
    column = samples.Part(np.concatenate([samples.running((0, 0), (8, 0)), samples.satin(16, 3)]), "satin", 1)
    assert tails(run, open_line) == pytest.approx(cords.TAILS_SHOWN, abs=0.2)
    assert tails(run, column) == 0


def test_tails_are_as_long_as_trimmers_leave_them() -> None:
    """2 to 6 mm is common practice (no source)."""
    run = samples.Part(samples.running((-9, 0), (-5, 0)), "running")
    sewn = samples.sewn_of(run, samples.Part(samples.running((0, 0), (12, 0)), "running", 1))
    lengths = []
    for seed in range(60):
        strands = drawn(sewn, seed)
        loose = strands.stitch < 0
        lengths.append(np.hypot(*(strands.end_mm - strands.start_mm)[loose].T).sum())
    shown = np.array(lengths)[np.array(lengths) > 0]
    assert shown.min() >= 1.9
    assert shown.max() <= 6.1
    assert shown.max() - shown.min() > 2.0


def test_a_cleaned_piece_has_no_tails() -> None:
    run = samples.Part(samples.running((-9, 0), (-5, 0)), "running")
    sewn = samples.sewn_of(run, samples.Part(samples.running((0, 0), (12, 0)), "running", 1))
    cleaned = dataclasses.replace(samples.JOB, finish="cleaned")
    assert all(
        (strands_of(sewn, THREADS, dataclasses.replace(cleaned, seed=s)).stitch >= 0).all() for s in range(20)
    )
