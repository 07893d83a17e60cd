"""What fits: hoops from both sides of their size, caps, and the seam, by hand."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from inspect_pieces import inspected, moved
from plan_pieces import Piece as Sewing
from plan_pieces import box_fill, column, path_running, straight

from render.inspect.field import beyond_the_hoop, cap_field, on_the_seam
from render.materials.job import make_job
from render.model import Job


def frame(width_mm: float, height_mm: float) -> Sewing:
    """A run around a rectangle."""
    corners = np.array([(0, 0), (1, 0), (1, 1), (0, 1), (0, 0)], float) * (width_mm, height_mm)
    first, *others = (path_running(np.linspace(a, b, 60), 2.5) for a, b in itertools.pairwise(corners))
    return first.then(*others)


def circle(radius_mm: float) -> Sewing:
    a = np.linspace(0, 2 * np.pi, 721)
    return path_running(radius_mm * np.stack([np.cos(a), np.sin(a)], 1), 1.0)


def hooped(hoop: str) -> Job:
    return replace(make_job(), hoop=hoop)


@pytest.mark.parametrize(
    ("width_mm", "height_mm", "over_mm"),
    [(99.0, 99.0, None), (100.0, 100.0, None), (101.0, 50.0, 1.0), (50.0, 104.0, 4.0), (110.0, 120.0, 20.0)],
)
def test_a_square_hoop(width_mm: float, height_mm: float, over_mm: float | None) -> None:
    found = list(beyond_the_hoop(inspected(frame(width_mm, height_mm), job=hooped("square-100"))))
    assert len(found) == (0 if over_mm is None else 1)
    for one in found:
        assert (one.kind, one.severity) == ("hoop", "fix")
        assert one.size_mm == pytest.approx(over_mm, abs=0.05)
        assert "strike the frame" in one.cause


@pytest.mark.parametrize(("radius_mm", "over_mm"), [(59.0, None), (59.9, None), (61.0, 2.0), (65.0, 10.0)])
def test_a_round_hoop_holds_what_its_diameter_does(radius_mm: float, over_mm: float | None) -> None:
    found = list(beyond_the_hoop(inspected(circle(radius_mm), job=hooped("round-120"))))
    assert [one.size_mm for one in found] == ([] if over_mm is None else [pytest.approx(over_mm, abs=0.15)])


def test_the_corners_of_a_square_stick_out_of_a_round_hoop() -> None:
    """A square of 100 mm has a diagonal of 100 sqrt(2) mm: 21.4 mm more than 120 mm."""
    (one,) = beyond_the_hoop(inspected(frame(100.0, 100.0), job=hooped("round-120")))
    assert one.size_mm == pytest.approx(100 * 2**0.5 - 120, abs=0.1)
    assert not list(beyond_the_hoop(inspected(frame(84.0, 84.0), job=hooped("round-120"))))


def test_without_a_named_hoop_only_the_machine_counts() -> None:
    assert not list(beyond_the_hoop(inspected(frame(250.0, 120.0))))
    small = replace(make_job(), machine=replace(make_job().machine, field_mm=(100.0, 180.0)))
    assert not list(beyond_the_hoop(inspected(frame(170.0, 90.0), job=small)))  # turned, it fits
    (one,) = beyond_the_hoop(inspected(frame(190.0, 90.0), job=small))
    assert one.size_mm == pytest.approx(10.0, abs=0.05)
    assert "field" in one.cause


def test_a_cap_frame_counts_in_its_width() -> None:
    assert not list(beyond_the_hoop(inspected(frame(129.0, 45.0), job=hooped("cap-frame"), cap=True)))
    (one,) = beyond_the_hoop(inspected(frame(135.0, 45.0), job=hooped("cap-frame"), cap=True))
    assert one.size_mm == pytest.approx(5.0, abs=0.05)


@pytest.mark.parametrize(("height_mm", "over_mm"), [(45.0, None), (50.0, None), (52.0, 2.0), (70.0, 20.0)])
def test_a_cap_s_front_is_only_so_high(height_mm: float, over_mm: float | None) -> None:
    found = list(cap_field(inspected(frame(60.0, height_mm), cap=True)))
    assert [one.size_mm for one in found] == ([] if over_mm is None else [pytest.approx(over_mm, abs=0.05)])
    assert not list(cap_field(inspected(frame(60.0, height_mm))))


SIDES = (moved(box_fill(8.0, 8.0, 0.5, 3.0), -30.0, 0.0), moved(box_fill(8.0, 8.0, 0.5, 3.0), 22.0, 0.0))


def upright(length_mm: float, x_mm: float = 0.0, width_mm: float = 2.0) -> Sewing:
    return column(straight(length_mm), width_mm, 0.4).turned(90.0, (x_mm, 0.0))


@pytest.mark.parametrize(("length_mm", "found"), [(5.0, False), (7.5, False), (9.0, True), (20.0, True)])
def test_a_column_along_the_seam_is_told_from_a_length_on(length_mm: float, found: bool) -> None:
    problems = list(on_the_seam(inspected(*SIDES, upright(length_mm), cap=True)))
    assert [one.severity for one in problems] == (["check"] if found else [])
    assert all(one.size_mm == pytest.approx(length_mm, abs=0.3) for one in problems)


def test_beside_the_seam_across_it_and_on_flat_work_it_is_none() -> None:
    across = moved(column(straight(20.0), 2.0, 0.4), -10.0, 4.0)
    assert not list(on_the_seam(inspected(*SIDES, upright(20.0, 6.0), cap=True)))
    assert not list(on_the_seam(inspected(*SIDES, across, cap=True)))
    assert not list(on_the_seam(inspected(*SIDES, upright(20.0))))


def test_a_run_along_the_seam_counts_and_a_fill_over_it_does_not() -> None:
    run = path_running(straight(20.0), 2.0).turned(90.0)
    over = moved(box_fill(20.0, 20.0, 0.4, 3.0), -10.0, 0.0)
    assert len(list(on_the_seam(inspected(*SIDES, run, cap=True)))) == 1
    assert not list(on_the_seam(inspected(*SIDES, over, cap=True)))
