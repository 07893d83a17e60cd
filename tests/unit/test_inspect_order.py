"""The order of sewing: fills and their borders, and caps."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from inspect_pieces import CHANGE, inspected, moved
from plan_pieces import Piece as Sewing
from plan_pieces import box_fill, column, disc_fill, path_running, straight

from render.inspect.order import borders_before_fills, cap_order


def ring(radius_mm: float, dense: int = 600) -> np.ndarray:
    a = np.linspace(0, 2 * np.pi, dense)
    return radius_mm * np.stack([np.cos(a), np.sin(a)], 1)


def border(radius_mm: float, width_mm: float = 2.0) -> Sewing:
    return column(ring(radius_mm), width_mm, 0.4)


DISC = disc_fill(15.0, 0.4, 3.5)


def test_a_fill_over_its_border_is_wrong_and_under_it_right() -> None:
    (one,) = borders_before_fills(inspected(border(14.5), CHANGE, DISC))
    assert (one.kind, one.severity) == ("sequence", "fix")
    assert not list(borders_before_fills(inspected(DISC, CHANGE, border(14.5))))


@pytest.mark.parametrize("over_mm", [0.8, 1.2, 1.8])
def test_the_size_is_how_far_the_fill_runs_over_the_border(over_mm: float) -> None:
    """A border of 2 mm whose inner edge lies `over_mm` inside the fill's rim at 15 mm."""
    (one,) = borders_before_fills(inspected(border(16.0 - over_mm), CHANGE, DISC))
    assert one.size_mm == pytest.approx(over_mm, abs=0.3)


def test_a_border_that_the_fill_only_touches_is_left_alone() -> None:
    assert not list(borders_before_fills(inspected(border(16.1), CHANGE, DISC)))
    assert not list(borders_before_fills(inspected(border(20.0), CHANGE, DISC)))


def test_a_column_well_inside_a_later_fill_is_no_border() -> None:
    """What lies below in the middle is another fault, or padding."""
    assert not list(borders_before_fills(inspected(border(6.0), CHANGE, DISC)))


def test_a_column_across_a_later_fill_is_no_border() -> None:
    across = moved(column(straight(30.0), 2.0, 0.4), -15.0, 0.0)
    assert not list(borders_before_fills(inspected(across, CHANGE, DISC)))


def test_a_column_along_one_short_side_is_no_border() -> None:
    fill = box_fill(60.0, 14.0, 0.4, 3.5)
    side = column(straight(14.0), 2.0, 0.4).turned(90.0)
    assert not list(borders_before_fills(inspected(side, CHANGE, fill)))


def test_the_border_of_a_fill_in_two_parts_is_found_once() -> None:
    halves = [moved(box_fill(20.0, 10.0, 0.4, 3.5), -10.0, y) for y in (-10.0, 0.0)]
    square = np.array([(-10, -10), (10, -10), (10, 10), (-10, 10), (-10, -10)], float)
    path = np.concatenate([np.linspace(a, b, 60) for a, b in itertools.pairwise(square)])
    (one,) = borders_before_fills(inspected(column(path, 2.0, 0.4), CHANGE, *halves))
    assert one.size_mm == pytest.approx(1.0, abs=0.3)
    left, top, right, bottom = one.box_mm
    assert (right - left, bottom - top) == pytest.approx((22.0, 22.0), abs=0.3)


def patches(*middles: tuple[float, float]) -> list[Sewing]:
    """Small fills around points, in this order."""
    return [moved(box_fill(6.0, 5.0, 0.5, 3.0), x - 3.0, y - 2.5) for x, y in middles]


UP = [(0.0, 20.0), (0.0, 12.0), (0.0, 4.0), (0.0, -4.0), (0.0, -12.0)]  # y points down
OUT = [(0.0, 0.0), (-8.0, 0.0), (8.0, 0.0), (-16.0, 0.0), (16.0, 0.0)]


def test_caps_are_sewn_upwards() -> None:
    assert not list(cap_order(inspected(*patches(*UP), cap=True)))
    (one,) = cap_order(inspected(*patches(*UP[::-1]), cap=True))
    assert (one.kind, one.severity, one.size_mm) == ("sequence", "fix", None)
    assert "top down" in one.cause
    assert one.where_mm[1] == pytest.approx(20.0, abs=3.0)  # the lowest, sewn last


def test_caps_are_sewn_outwards() -> None:
    assert not list(cap_order(inspected(*patches(*OUT), cap=True)))
    (one,) = cap_order(inspected(*patches(*OUT[::-1]), cap=True))
    assert one.severity == "check"
    assert "sides in" in one.cause


def test_one_swap_among_many_is_tolerated() -> None:
    swapped = [UP[1], UP[0], *UP[2:]]
    assert not list(cap_order(inspected(*patches(*swapped), cap=True)))


def test_a_line_of_text_has_no_order_from_bottom_to_top() -> None:
    """Heights that differ by a millimetre say nothing; from left to right is usual (common practice)."""
    line = [(8.0 * i, -0.5 * i) for i in range(6)]
    assert not list(cap_order(inspected(*patches(*line), cap=True)))
    assert not list(cap_order(inspected(*patches(*line[::-1]), cap=True)))


def test_flat_work_may_be_sewn_in_any_order() -> None:
    assert not list(cap_order(inspected(*patches(*UP[::-1]))))


def test_a_line_around_a_fill_that_stays_clear_of_it_is_no_fault() -> None:
    line = path_running(ring(17.0), 2.0)
    assert not list(borders_before_fills(inspected(line, CHANGE, DISC)))
