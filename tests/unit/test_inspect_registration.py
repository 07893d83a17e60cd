"""Registration: neighbours sewn elsewhere by hand, by known ways."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from inspect_pieces import CHANGE, inspected, moved, shifted
from plan_pieces import box_fill, column, straight

from render.inspect import Piece
from render.inspect.registration import registration

CHECK_MM, FIX_MM = 0.7, 1.0  # common practice, no source


def fields(apart_mm: float) -> Piece:
    """Two fills of two colours, one so far below the other."""
    upper = box_fill(16.0, 10.0, 0.4, 3.5)
    return inspected(upper, CHANGE, moved(upper, 0.0, 10.0 + apart_mm))


@pytest.mark.parametrize(
    ("likely_mm", "high_mm", "severity"),
    [(0.3, 0.5, None), (0.5, 0.8, "check"), (0.8, 0.9, "check"), (1.2, 1.4, "fix"), (0.0, 0.0, None)],
)
@pytest.mark.parametrize("way_deg", [0.0, 50.0, 90.0, 180.0])
def test_neighbours_out_of_place(
    likely_mm: float, high_mm: float, severity: str | None, way_deg: float
) -> None:
    way = np.array([np.cos(np.deg2rad(way_deg)), np.sin(np.deg2rad(way_deg))])
    piece = shifted(fields(0.4), 1, tuple(likely_mm * way), tuple(high_mm * way))
    found = list(registration(piece))
    assert [one.severity for one in found] == ([severity] if severity else [])
    for one in found:
        assert one.size_mm == pytest.approx(likely_mm, abs=0.01)
        assert f"up to {high_mm:.1f} mm" in one.cause
        assert len(one.objects) == 2
        # It is told where they meet.
        assert one.where_mm[1] == pytest.approx(10.2, abs=1.6)


def test_what_moves_together_stays_in_place() -> None:
    piece = fields(0.4)
    plan = piece.plan
    away = replace(piece.sewn, start_mm=plan.start_mm + 3.0, end_mm=plan.end_mm + 3.0)
    assert not list(registration(replace(piece, sewn=away, high=away)))


@pytest.mark.parametrize(("apart_mm", "neighbours"), [(0.4, True), (0.9, True), (1.8, False), (4.0, False)])
def test_neighbours_are_within_a_millimetre(apart_mm: float, neighbours: bool) -> None:
    assert bool(list(registration(shifted(fields(apart_mm), 1, (1.5, 0.0))))) is neighbours


def test_what_lies_on_another_may_move_on_it() -> None:
    ground, mark = box_fill(20.0, 20.0, 0.4, 3.5), moved(column(straight(8.0), 3.0, 0.4), 6.0, 10.0)
    assert not list(registration(shifted(inspected(ground, CHANGE, mark), 1, (1.5, 0.0))))


@pytest.mark.parametrize("width_mm", [3.0, 5.0, 7.0])
def test_a_wide_border_is_held_against_its_fill(width_mm: float) -> None:
    """Though its stitches have their middles far from where the two meet."""
    border = moved(column(straight(16.0), width_mm, 0.4), 0.0, 10.0 + width_mm / 2)
    piece = inspected(box_fill(16.0, 10.0, 0.4, 3.5), CHANGE, border)
    (one,) = registration(shifted(piece, 1, (0.0, 1.2)))
    assert one.size_mm == pytest.approx(1.2, abs=0.01)


def test_what_holes_give_is_not_out_of_place() -> None:
    """The border's edges are drawn in by 1.5 mm at their holes while the cloth lies still."""
    border = moved(column(straight(16.0), 7.0, 0.4), 0.0, 13.5)
    piece = inspected(box_fill(16.0, 10.0, 0.4, 3.5), CHANGE, border)
    plan = piece.plan
    own = plan.colour_block == 1
    give = np.zeros((len(own), 2, 2))
    toward = np.sign(plan.end_mm - plan.start_mm)[:, 1]
    give[own, 0, 1], give[own, 1, 1] = 1.5 * toward[own], -1.5 * toward[own]
    moves = {"start_mm": plan.start_mm + give[:, 0], "end_mm": plan.end_mm + give[:, 1]}
    held = replace(piece.sewn, **moves, give_mm=give)
    assert not list(registration(replace(piece, sewn=held, high=held)))
    bare = replace(piece.sewn, **moves)
    assert list(registration(replace(piece, sewn=bare, high=bare)))


def test_the_worst_place_of_each_two_colours_is_told_once() -> None:
    """A field that is stretched along their boundary is out of place most at its end."""
    piece = fields(0.4)
    plan = piece.plan
    own = (plan.colour_block == 1)[:, None]
    start, end = (points + own * points * (0.1, 0.0) for points in (plan.start_mm, plan.end_mm))
    stretched = replace(piece.sewn, start_mm=start, end_mm=end)
    (one,) = registration(replace(piece, sewn=stretched, high=stretched))
    assert one.where_mm[0] > 12.0
    assert one.size_mm == pytest.approx(0.1 * one.where_mm[0], rel=0.12)


def test_alone_or_empty_there_are_no_neighbours() -> None:
    assert not list(registration(shifted(inspected(box_fill(16.0, 10.0, 0.4, 3.5)), 0, (2.0, 0.0))))
