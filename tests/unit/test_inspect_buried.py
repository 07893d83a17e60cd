"""Small details under later stitches, by hand; the share against a count of covered points."""

from __future__ import annotations

from dataclasses import replace

import pytest
from inspect_pieces import CHANGE, inspected, moved
from plan_pieces import Piece as Sewing
from plan_pieces import box_fill, column, path_running, straight

from render.inspect.buried import buried_details
from render.materials.job import make_job
from render.model import BlockTreatment

COVER = box_fill(30.0, 20.0, 0.4, 3.5)


def mark(x_mm: float, y_mm: float, length_mm: float = 6.0) -> Sewing:
    """A satin of 2 mm from `x_mm` on, its middle line at `y_mm`."""
    return moved(column(straight(length_mm), 2.0, 0.4), x_mm, y_mm)


def test_a_detail_under_a_later_fill_is_sewn_for_nothing() -> None:
    (one,) = buried_details(inspected(mark(10.0, 10.0), CHANGE, COVER))
    assert (one.kind, one.severity, one.colour_block) == ("buried-detail", "fix", 0)
    assert one.size_mm == pytest.approx(6.0, abs=0.2)
    assert "the fill of block 2" in one.cause


def test_a_detail_on_top_of_a_fill_is_none() -> None:
    assert not list(buried_details(inspected(COVER, CHANGE, mark(10.0, 10.0))))
    thin = moved(path_running(straight(6.0), 2.0), 10.0, 10.1)
    assert not list(buried_details(inspected(COVER, CHANGE, thin)))


@pytest.mark.parametrize(("inside_mm", "found"), [(0.0, False), (3.0, False), (4.5, False), (5.8, True)])
def test_it_counts_how_much_of_it_is_covered(inside_mm: float, found: bool) -> None:
    """The fill's left edge is x = 0; of the mark's 6 mm, `inside_mm` lie to its right."""
    piece = inspected(mark(inside_mm - 6.0, 10.0), CHANGE, COVER)
    problems = list(buried_details(piece))
    assert bool(problems) == found


@pytest.mark.parametrize(("length_mm", "found"), [(6.0, True), (11.0, True), (13.0, False), (25.0, False)])
def test_only_small_things_are_details(length_mm: float, found: bool) -> None:
    """What is larger is padding, or a part that another one overlaps."""
    assert bool(list(buried_details(inspected(mark(2.0, 10.0, length_mm), CHANGE, COVER)))) == found


def test_open_cover_does_not_bury() -> None:
    sketch = box_fill(30.0, 20.0, 1.6, 3.5)
    assert not list(buried_details(inspected(mark(10.0, 10.0), CHANGE, sketch)))


def test_padding_of_the_same_colour_is_not_a_detail() -> None:
    assert not list(buried_details(inspected(mark(10.0, 10.0), COVER)))


def test_a_block_that_the_job_calls_open_is_meant_to_be_sewn_over() -> None:
    job = replace(make_job(), blocks={0: BlockTreatment("open")})
    assert not list(buried_details(inspected(mark(10.0, 10.0), CHANGE, COVER, job=job)))


def test_two_details_are_two_problems() -> None:
    piece = inspected(mark(4.0, 5.0), mark(18.0, 15.0), CHANGE, COVER)
    where = sorted(one.where_mm for one in buried_details(piece))
    assert where == [pytest.approx((7.0, 5.0), abs=1.1), pytest.approx((21.0, 15.0), abs=1.1)]
