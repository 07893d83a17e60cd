"""How stitches press the cloth, kept up to date; and the tiles and rectangles in which that is looked at."""

from __future__ import annotations

import numpy as np
import pytest
import samples
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray

from render.draw.block_rows import FLATTENS, pressed_level
from render.draw.dimples import PIERCED
from render.draw.laid import laid_maps, map_shape, mark_holes
from render.draw.patches import cheapest, keep_holding, mark_boxes, rectangles
from render.draw.pressed import Pressed, keep_apart
from render.draw.stack import stack_strands
from render.draw.strands import strands_of


def test_cover_is_marked_as_by_its_twin_and_maps_come_to_be_those_of_stacking() -> None:
    # Here, as uncompiled the stacking that it needs would take long.
    import naive

    sewn = samples.sewn_of(
        samples.Part(samples.fill(14, 8), "fill"), samples.Part(samples.satin(12, 3) + (3.0, 1.0), "satin", 1)
    )
    strands = strands_of(sewn, (samples.RED, samples.CREAM), samples.JOB)
    stacked = stack_strands(strands)
    every = np.arange(len(strands.start_mm))
    landed = every[strands.stitch >= 0]
    start, end = np.ascontiguousarray(strands.start_mm), np.ascontiguousarray(strands.end_mm)
    thread_mm = np.zeros(map_shape(strands), np.float32)
    marked, _ = laid_maps(strands, stacked.section_mm, stacked.first, thread_mm)
    twin, within = np.zeros(marked.shape, np.uint8), np.array([0, 0, *marked.shape])
    naive.mark_cover(start, end, stacked.section_mm, stacked.first, landed, within, twin)
    naive.mark_holes(start, end, landed, within, twin)
    assert np.array_equal(marked, twin)
    within = np.array([20, 40, marked.shape[0] - 50, marked.shape[1] - 60])
    holes, twin = np.zeros(marked.shape, np.uint8), np.zeros(marked.shape, np.uint8)
    mark_holes(start, end, every[::2], within, holes)
    naive.mark_holes(start, end, every[::2], within, twin)
    assert np.array_equal(holes, twin)
    assert 0 < holes.sum() == holes[20:-50, 40:-60].sum()

    pressed = Pressed(strands, stacked)
    for chosen, box_mm in ((every[:80], None), (every[80:], None), (every, np.array([-2.0, -3.0, 4.0, 1.0]))):
        pressed.add(chosen, stacked.section_mm, start, end, box_mm)
        pressed.note_changes(np.array([[-20.0, -20.0, 20.0, 20.0]]))
        pressed.settle()
        assert np.array_equal(pressed.dimple_steps, stacked.dimple_steps) == (len(chosen) != 80)
    assert np.array_equal(pressed.thread_mm, stacked.thread_mm)


def test_cloth_closes_over_the_holes_of_a_line_and_not_of_a_column() -> None:
    for part, pits in (
        (samples.Part(samples.running((-5, 0), (5, 0)), "running"), False),
        (samples.Part(samples.satin(6, 3), "satin"), True),
    ):
        strands = strands_of(samples.sewn_of(part), (samples.RED,), samples.JOB)
        stacked = stack_strands(strands)
        cover, _ = laid_maps(
            strands, stacked.section_mm, stacked.first, np.zeros(map_shape(strands), np.float32)
        )
        assert cover.any()
        assert (cover > PIERCED).any() == pits, part.kind


def test_what_has_been_pressed_deeper_is_told_as_by_its_twin() -> None:
    import naive

    rng = np.random.default_rng(6)
    one = rng.integers(0, 4096, (37, 50), np.int16)
    other = one + 130 * (rng.random(one.shape) < 0.01).astype(np.int16)
    asked = np.ones((3, 4), bool)
    asked[1, :3] = False
    marked = asked.copy()
    keep_apart(one, other, 122, 16, marked)
    assert np.array_equal(marked, naive.apart(one, other, 122, 16) & asked)
    assert 0 < marked.sum() < asked.sum()


def test_the_rim_of_a_bed_is_steeper_than_its_dimple_by_what_is_flattened() -> None:
    """Cloth that stands 0.2 mm higher for its bed, under a dimple that gets deeper by 0.001 mm."""
    bed_mm, step = 0.2, 1e-3
    drop = [pressed_level(np.float32(bed_mm), np.float32(depth)) for depth in (0.1, 0.1 + step)]
    assert (drop[0] - drop[1]) / step == pytest.approx(1.0 + FLATTENS * bed_mm, rel=1e-3)


@settings(max_examples=60)
@given(arrays(bool, st.tuples(st.integers(1, 40), st.integers(1, 40)), elements=st.booleans()))
def test_rectangles_hold_all_that_is_marked_and_nothing_twice(marked: NDArray[np.bool_]) -> None:
    held = np.zeros(marked.shape, int)
    for top, left, bottom, right in rectangles(marked):
        held[top:bottom, left:right] += 1
    assert held.max() <= 1
    assert (held[marked] == 1).all()


@settings(max_examples=60)
@given(arrays(bool, st.tuples(st.integers(1, 24), st.integers(1, 24)), elements=st.booleans()))
def test_the_cheapest_rectangles_hold_all_and_take_no_longer_than_one_or_each_tile_alone(
    marked: NDArray[np.bool_],
) -> None:
    held, found = np.zeros(marked.shape, int), cheapest(marked, 5.0)
    for top, left, bottom, right in found:
        held[top:bottom, left:right] += 1
    assert held.max() <= 1
    assert (held[marked] == 1).all()
    rows, cols = (np.flatnonzero(marked.any(axis)) for axis in (1, 0))
    box = (np.ptp(rows) + 1) * (np.ptp(cols) + 1) + 5.0 if marked.any() else 0.0
    assert held.sum() + 5.0 * len(found) <= min(box, 6.0 * marked.sum())


def test_boxes_mark_the_tiles_they_touch() -> None:
    marked = np.zeros((4, 5), bool)
    mark_boxes(marked, np.array([[-30.0, 5.0, 9.0, 15.5], [41.0, 33.0, 99.0, 34.0]]), 10)
    expected = np.zeros((4, 5), bool)
    expected[0:2, 0] = True
    expected[3, 4] = True
    assert np.array_equal(marked, expected)


@pytest.mark.twin
def test_tiles_are_left_marked_that_hold_some_pixels() -> None:
    random = np.random.default_rng(8)
    some, marked = random.random((45, 32)) < 0.004, random.random((5, 4)) < 0.7
    held = [[some[10 * r : 10 * r + 10, 10 * c : 10 * c + 10].any() for c in range(4)] for r in range(5)]
    want = marked & np.array(held)
    assert 0 < want.sum() < marked.sum()
    keep_holding(marked, some, 10)
    np.testing.assert_array_equal(marked, want)


def test_what_lies_around_a_rectangle_counts_before_it_is_cut_up() -> None:
    marked = np.zeros((3, 30), bool)
    marked[1, [2, 6]] = marked[1, 28] = True
    assert cheapest(marked, 0.5) == [(1, 2, 2, 3), (1, 6, 2, 7), (1, 28, 2, 29)]
    assert cheapest(marked, 0.5, 2.0) == [(1, 2, 2, 7), (1, 28, 2, 29)]
