"""Gaps: what is one and what is none, on pieces of which one part is sewn elsewhere by hand."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from inspect_pieces import CHANGE, inspected, moved, shifted
from plan_pieces import Piece as Sewing
from plan_pieces import arc, box_fill, column, path_running, rail, straight

from render.inspect import Piece
from render.inspect.gaps import gaps
from render.inspect.openings import box_of_opening, openings, widest_at
from render.materials.job import make_job
from render.model import BlockTreatment, Cover, Window

PX_PER_MM = 20.0


def field(height_mm: float = 12.0) -> Sewing:
    """A fill of 20 mm by some, rows across, from y = 0 down."""
    return box_fill(20.0, height_mm, 0.4, 3.5)


def fields(apart_mm: float) -> Piece:
    """Two fills of two colours, the second so far below the first; 0.4 mm closes as rows do."""
    return inspected(field(), CHANGE, moved(field(), 0.0, 12.0 + apart_mm))


@pytest.mark.parametrize(
    ("likely_mm", "high_mm", "severity"),
    [(0.6, 0.7, "fix"), (0.12, 0.5, "check"), (0.05, 0.1, None), (-0.3, -0.4, None)],
)
def test_neighbours_drawn_apart_leave_a_gap(likely_mm: float, high_mm: float, severity: str | None) -> None:
    piece = shifted(fields(0.4), 1, (0.0, likely_mm), (0.0, high_mm))
    found = list(gaps(piece))
    assert [one.severity for one in found] == ([severity] if severity else [])
    for one in found:
        assert "the cloth draws them apart" in one.cause
        # Two rows 0.4 mm apart and as much more, less one thread.
        open_mm = 0.4 + likely_mm - piece.threads[0].laid_width_mm
        assert one.size_mm == pytest.approx(open_mm, abs=0.14)
        assert one.where_mm[1] == pytest.approx(12.2 + likely_mm / 2, abs=0.15)
    if severity == "fix":
        assert found[0].box_mm[2] - found[0].box_mm[0] == pytest.approx(20.0, abs=1.0)
        assert float(found[0].cause.split(" mm in all")[0].split()[-1]) == pytest.approx(20.0, rel=0.15)


@pytest.mark.parametrize("way_deg", [60.0, 90.0, 120.0])
def test_at_worst_is_as_wide_as_if_it_were_sewn_so(way_deg: float) -> None:
    way = np.array([np.cos(np.deg2rad(way_deg)), np.sin(np.deg2rad(way_deg))])
    (one,) = gaps(shifted(fields(0.4), 1, tuple(0.15 * way), tuple(0.6 * way)))
    (worst,) = gaps(shifted(fields(0.4), 1, tuple(0.6 * way)))
    told_mm = float(one.cause.split(" mm on cloth")[0].split("(")[-1])
    assert told_mm == pytest.approx(worst.size_mm, abs=0.1)


def test_the_remedy_closes_it() -> None:
    """Sewn again with the overlap that the remedy asks for, under the same pull, there is none."""
    (one,) = gaps(shifted(fields(0.4), 1, (0.0, 0.6)))
    overlap = float(one.remedy.split(" mm further")[0].split()[-1])
    assert overlap > (one.size_mm or 0.0)
    assert not list(gaps(shifted(fields(0.4 - overlap), 1, (0.0, 0.6))))


@pytest.mark.parametrize("apart_mm", [0.6, 0.9, 1.1])
def test_a_long_slit_between_fills_of_two_colours_was_not_drawn(apart_mm: float) -> None:
    (one,) = gaps(fields(0.4 + apart_mm))
    assert one.severity == "fix"
    assert "nothing is sewn there" in one.cause
    assert one.size_mm == pytest.approx(0.4 + apart_mm - 0.385, abs=0.1)


def test_a_wider_slit_may_be_meant() -> None:
    (one,) = gaps(fields(0.4 + 1.4))
    assert one.severity == "check"
    assert "waive" in one.remedy
    assert not list(gaps(fields(0.4 + 2.2)))


def test_even_stripes_may_be_meant() -> None:
    stripes: list[object] = [field(5.0)]
    for k in range(1, 4):
        stripes += [CHANGE, moved(field(5.0), 0.0, 6.2 * k)]
    found = list(gaps(inspected(*stripes)))
    assert len(found) == 3
    assert {one.severity for one in found} == {"check"}


def test_slits_within_one_colour_and_beside_lines_are_planned() -> None:
    assert not list(gaps(inspected(field(), moved(field(), 0.0, 13.3))))
    outline = path_running(rail(straight(20.0), 1.0), 2.0)
    assert not list(gaps(inspected(field(), CHANGE, moved(outline, 0.0, 12.0))))


def test_letters_side_by_side_are_planned() -> None:
    strokes = [moved(column(straight(12.0), 1.6, 0.4).turned(90.0), 2.4 * k, 0.0) for k in range(6)]
    assert not list(gaps(inspected(*strokes)))


def test_counters_are_planned() -> None:
    for radius_mm in (1.4, 2.0, 4.0):
        assert not list(gaps(inspected(column(arc(radius_mm, 360.0), 1.5, 0.4))))


def test_a_bay_in_a_curved_column_is_none() -> None:
    """What a square closes below a bend is open to one side."""
    bend = column(arc(6.0, 150.0), 2.5, 0.4)
    far = moved(field(4.0), 0.0, 30.0)
    assert not list(gaps(inspected(bend, CHANGE, far)))


def test_what_the_rows_leave_open_belongs_to_thin_cover() -> None:
    thin = moved(box_fill(20.0, 12.0, 0.9, 3.5), 0.0, 12.4)
    assert not list(gaps(inspected(field(), CHANGE, thin)))


def test_open_work_and_applique_pieces_are_left_alone() -> None:
    piece = shifted(fields(0.4), 1, (0.0, 0.6))
    assert list(gaps(piece))
    for block, left in ((0, False), (1, False)):
        job = replace(make_job(), blocks={block: BlockTreatment("open")})
        assert bool(list(gaps(replace(piece, job=job)))) is left
    # A placement line around both: what shows is the piece laid on it. Beside both: it is not.
    for x_mm, seen in ((-3.0, False), (30.0, True)):
        corners = np.array([[0.0, 0.0], [26.0, 0.0], [26.0, 30.0], [0.0, 30.0], [0.0, 0.0]])
        dense = np.concatenate([np.linspace(a, b, 50) for a, b in pairwise(corners)])
        line = moved(path_running(dense, 2.5), x_mm, -3.0)
        laid = inspected(line, CHANGE, field(), CHANGE, moved(field(), 0.0, 12.4))
        job = replace(make_job(), blocks={0: BlockTreatment("applique")})
        assert bool(list(gaps(replace(shifted(laid, 2, (0.0, 0.6)), job=job)))) is seen


def test_one_problem_a_pair_of_colours_however_many_places() -> None:
    """Two gaps between the same two colours, told once with both boxes in one."""
    second = moved(field(), 30.0, 0.0)
    low = moved(field(), 0.0, 12.4)
    piece = inspected(field(), second, CHANGE, low, moved(low, 30.0, 0.0))
    (one,) = gaps(shifted(piece, 1, (0.0, 0.6)))
    assert "in 2 places" in one.cause
    assert len(one.objects) == 4
    assert one.box_mm[2] - one.box_mm[0] == pytest.approx(50.0, abs=1.0)


@pytest.mark.parametrize("turn_deg", [0.0, 17.0, 30.0, 45.0, 72.0, 90.0])
@pytest.mark.parametrize("width_mm", [0.32, 0.5, 0.83, 1.4])
def test_width_and_length_of_a_strip(width_mm: float, turn_deg: float) -> None:
    """Closed form: a strip 12 mm long, at any angle, within one pixel and 10 %."""
    cover = strip(width_mm, 12.0, turn_deg)
    (one,) = openings(cover, 0.2)
    assert one.width_mm == pytest.approx(width_mm, abs=1 / PX_PER_MM)
    assert one.length_mm == pytest.approx(12.0, rel=0.1)
    assert float(one.mask.sum()) / PX_PER_MM**2 == pytest.approx(12.0 * width_mm, rel=0.07)
    # The widest place lies on the strip's axis; the box holds the strip.
    turn = np.deg2rad(turn_deg)
    x, y = widest_at(cover, one)
    assert abs(-np.sin(turn) * x + np.cos(turn) * y) <= 1.5 / PX_PER_MM
    left, top, right, bottom = box_of_opening(cover, one)
    across = 12.0 * abs(np.cos(turn)) + width_mm * abs(np.sin(turn))
    down = 12.0 * abs(np.sin(turn)) + width_mm * abs(np.cos(turn))
    assert (right - left, bottom - top) == pytest.approx((across, down), abs=3 / PX_PER_MM)


def strip(width_mm: float, length_mm: float, turn_deg: float) -> Cover:
    """Sewn all over but for a strip through the middle."""
    side = 400
    window = Window((0.0, 0.0), PX_PER_MM, side, side)
    at = (np.arange(side) + 0.5 - side / 2) / PX_PER_MM
    x, y = np.meshgrid(at, at)
    turn = np.deg2rad(turn_deg)
    along, across = np.cos(turn) * x + np.sin(turn) * y, -np.sin(turn) * x + np.cos(turn) * y
    open_ = (np.abs(along) <= length_mm / 2) & (np.abs(across) <= width_mm / 2)
    return Cover(np.where(open_, -1, 0).astype(np.int32), np.full((side, side), -1, np.int32), window)


def test_nothing_sewn_has_no_gaps() -> None:
    piece = fields(0.4)
    empty = replace(piece.sewn_cover, stitch=np.full_like(piece.sewn_cover.stitch, -1))
    assert not list(openings(empty, 0.2))
    assert not list(gaps(replace(piece, sewn_cover=empty)))
