"""Thin cover: spacings from both sides of the limit, and what shows, against closed forms."""

from __future__ import annotations

from dataclasses import replace

import pytest
from inspect_pieces import CHANGE, inspected, moved
from plan_pieces import box_fill, column, straight

from render.inspect import Piece
from render.inspect.thin import thin_cover
from render.materials.job import make_job
from render.model import BlockTreatment

THIN_MM, ON_PILE_MM = 0.6, 0.5  # common practice, no source
SATIN_TIMES = 1.6  # estimate: where a zigzag leaves as much open as rows do


def rows(spacing_mm: float) -> Piece:
    return inspected(box_fill(20.0, 15.0, spacing_mm, 3.5))


def share(piece: Piece) -> float:
    """What is told to show, in [0, 1]."""
    (one,) = thin_cover(piece)
    return float(one.cause.split(" on ")[-1].split(" %")[0]) / 100


@pytest.mark.parametrize(
    ("spacing_mm", "severity"),
    [(0.4, None), (0.5, None), (0.6, None), (0.7, "fix"), (0.9, "fix"), (1.5, "fix"), (2.5, "note")],
)
def test_rows_too_far_apart(spacing_mm: float, severity: str | None) -> None:
    """Rows more than 2 mm apart are meant to be seen as rows."""
    found = list(thin_cover(rows(spacing_mm)))
    assert [one.severity for one in found] == ([severity] if severity else [])
    for one in found:
        assert one.kind == "thin-cover"
        assert one.size_mm == pytest.approx(spacing_mm, rel=0.02)
        assert one.box_mm == pytest.approx((0.0, 0.0, 20.0, 15.0), abs=spacing_mm)
        assert "0.40 mm apart" in one.remedy


@pytest.mark.parametrize("turn_deg", [0.0, 30.0, 77.0])
def test_spacing_is_measured_across_the_rows(turn_deg: float) -> None:
    (one,) = thin_cover(inspected(box_fill(20.0, 15.0, 0.9, 3.5).turned(turn_deg)))
    assert one.size_mm == pytest.approx(0.9, rel=0.05)


@pytest.mark.parametrize("spacing_mm", [0.7, 0.9, 1.2, 1.6])
def test_cloth_shows_between_rows_as_much_as_thread_leaves(spacing_mm: float) -> None:
    """Closed form: of rows s apart, thread w wide leaves 1 - w / s; thread is up to 10 % narrower."""
    piece = rows(spacing_mm)
    width_mm = 0.95 * piece.threads[0].laid_width_mm
    assert share(piece) == pytest.approx(1 - width_mm / spacing_mm, abs=0.05)


@pytest.mark.parametrize("spacing_mm", [1.1, 1.4, 1.8])
def test_cloth_shows_in_a_satin_as_much_as_its_zigzag_leaves(spacing_mm: float) -> None:
    """Closed form: a zigzag of thread w wide and spacing s on each edge leaves (1 - w / s)^2."""
    piece = inspected(column(straight(30.0), 5.0, spacing_mm))
    width_mm = 0.95 * piece.threads[0].laid_width_mm
    assert share(piece) == pytest.approx((1 - width_mm / spacing_mm) ** 2, abs=0.06)


@pytest.mark.parametrize(("spacing_mm", "thin"), [(0.4, False), (0.7, False), (0.9, False), (1.1, True)])
def test_satin_is_held_to_what_rows_leave_open(spacing_mm: float, thin: bool) -> None:
    found = list(thin_cover(inspected(column(straight(30.0), 5.0, spacing_mm))))
    assert bool(found) is thin
    assert (spacing_mm > THIN_MM * SATIN_TIMES) is thin


def test_pile_wants_closer_rows() -> None:
    assert THIN_MM > 0.55 > ON_PILE_MM
    pattern = box_fill(20.0, 15.0, 0.55, 3.5)
    assert not list(thin_cover(inspected(pattern)))
    assert list(thin_cover(inspected(pattern, job=make_job(fabric="terry"))))


def test_over_stitching_of_another_colour_that_is_what_shows() -> None:
    ground = box_fill(20.0, 15.0, 0.4, 3.5)
    shading = box_fill(15.0, 20.0, 0.9, 3.5).turned(90.0, (20.0, 0.0))
    (one,) = thin_cover(inspected(ground, CHANGE, moved(shading, -2.0, 0.0)))
    assert one.severity == "check"
    assert "what is sewn below shows" in one.cause
    # Over the same colour nothing is seen.
    assert not list(thin_cover(inspected(ground, moved(shading, -2.0, 0.0))))


def test_below_other_stitching_it_is_left_alone() -> None:
    loose = box_fill(20.0, 15.0, 0.9, 3.5)
    dense = box_fill(15.0, 20.0, 0.4, 3.5).turned(90.0, (20.0, 0.0))
    for between in (CHANGE, ()):
        assert not list(thin_cover(inspected(loose, between, dense)))


def test_only_the_loose_part_of_a_fill_is_told() -> None:
    dense, loose = box_fill(20.0, 10.0, 0.4, 3.5), moved(box_fill(20.0, 10.0, 0.9, 3.5), 0.0, 10.4)
    (one,) = thin_cover(inspected(dense.then(loose)))
    assert one.size_mm == pytest.approx(0.9, rel=0.02)
    assert one.box_mm[1] == pytest.approx(10.4, abs=0.9)


def test_open_work_that_is_declared_is_left_alone() -> None:
    piece = rows(0.9)
    for block, left in ((0, True), (1, False)):
        job = replace(make_job(), blocks={block: BlockTreatment("open")})
        assert bool(list(thin_cover(replace(piece, job=job)))) is not left


def test_runs_and_underlay_have_no_cover_to_be_thin() -> None:
    assert not list(thin_cover(inspected(box_fill(20.0, 2.0, 2.0, 2.5))))
    below = box_fill(20.0, 15.0, 2.0, 3.5).as_underlay()
    top = box_fill(15.0, 20.0, 0.4, 3.5).turned(90.0, (20.0, 0.0))
    assert not list(thin_cover(inspected(below.then(top))))
