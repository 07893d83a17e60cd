"""Columns too narrow and too wide, and missing underlay: limits from both sides, by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from inspect_pieces import CHANGE, inspected, moved
from plan_pieces import Piece as Sewing
from plan_pieces import box_fill, centre_run, column, edge_run, path_running, rail, straight

from render.inspect.columns import missing_underlay, narrow_columns, wide_columns
from render.materials.job import make_job
from render.model import BlockTreatment


def satin(width_mm: float, length_mm: float = 25.0) -> Sewing:
    return column(straight(length_mm), width_mm, 0.4)


def held_satin(width_mm: float, length_mm: float = 25.0) -> Sewing:
    path = straight(length_mm)
    return edge_run(path, width_mm).as_underlay().then(satin(width_mm, length_mm))


def cross_laid(width_mm: float, height_mm: float, spacing_mm: float = 2.5) -> Sewing:
    """Loose rows upright, below a fill whose rows lie along x."""
    return box_fill(height_mm, width_mm, spacing_mm, 3.0).turned(90.0, (width_mm, 0.0))


@pytest.mark.parametrize(
    ("width_mm", "likely_mm", "high_mm", "severity"),
    [
        (1.0, 0.5, 0.6, "fix"),  # 0.5 mm is left
        (1.0, 0.3, 0.5, "check"),  # 0.7 mm likely, 0.5 mm at worst
        (1.0, 0.2, 0.3, None),
        (2.0, 0.5, 0.8, None),
    ],
)
def test_a_column_is_judged_by_the_width_it_sews_out(
    width_mm: float, likely_mm: float, high_mm: float, severity: str | None
) -> None:
    found = list(narrow_columns(inspected(satin(width_mm), pull_in_mm=(likely_mm, high_mm))))
    assert [one.severity for one in found] == ([severity] if severity else [])
    for one in found:
        assert one.kind == "narrow-column"
        assert one.size_mm == pytest.approx(width_mm - likely_mm, abs=0.06)


def test_the_remedy_is_wide_enough_after_the_same_pull() -> None:
    (one,) = narrow_columns(inspected(satin(1.0), pull_in_mm=(0.5, 0.6)))
    assert "widen to 1.5 mm" in one.remedy  # 1 mm and what is pulled in


def test_narrow_columns_of_one_word_are_one_problem_and_of_two_colours_two() -> None:
    strokes = [moved(satin(0.8, 5.0), 8.0 * i, 0.0) for i in range(4)]
    (one,) = narrow_columns(inspected(*strokes, pull_in_mm=(0.5, 0.5)))
    assert len(one.objects) == 4
    assert one.box_mm[2] - one.box_mm[0] == pytest.approx(29.0, abs=0.3)
    parted = inspected(*strokes[:2], CHANGE, *strokes[2:], pull_in_mm=(0.5, 0.5))
    assert [len(one.objects) for one in narrow_columns(parted)] == [2, 2]


def test_on_pile_columns_must_be_wider_unless_a_topping_carries_them() -> None:
    terry = make_job(fabric="terry")
    (bare,) = narrow_columns(inspected(satin(0.9), job=terry))
    assert bare.severity == "fix"
    assert "topping" in bare.remedy
    (topped,) = narrow_columns(inspected(satin(0.9), job=replace(terry, topping="film")))
    assert topped.severity == "check"
    assert "topping" not in topped.remedy
    assert not list(narrow_columns(inspected(satin(0.9))))


def test_felt_has_too_low_a_nap_to_swallow_a_column() -> None:
    assert not list(narrow_columns(inspected(satin(0.9), job=make_job(fabric="felt"))))
    assert list(narrow_columns(inspected(satin(0.9), job=make_job(fabric="polar-fleece"))))


@pytest.mark.parametrize(
    ("width_mm", "severity"), [(7.5, None), (7.9, None), (8.3, "check"), (11.0, "check"), (14.0, "fix")]
)
def test_wide_satin_snags(width_mm: float, severity: str | None) -> None:
    found = list(wide_columns(inspected(satin(width_mm))))
    assert [one.severity for one in found] == ([severity] if severity else [])
    assert all(one.size_mm == pytest.approx(width_mm, rel=0.02) for one in found)


@pytest.mark.parametrize(("width_mm", "missing"), [(2.0, False), (2.4, False), (2.7, True), (5.0, True)])
def test_satin_on_bare_cloth_needs_underlay_from_a_width_on(width_mm: float, missing: bool) -> None:
    found = list(missing_underlay(inspected(satin(width_mm))))
    assert [one.severity for one in found] == (["fix"] if missing else [])
    assert all(one.size_mm == pytest.approx(width_mm, abs=0.15) for one in found)
    assert not list(missing_underlay(inspected(held_satin(width_mm))))


def test_on_pile_narrower_satin_needs_it_too() -> None:
    assert list(missing_underlay(inspected(satin(2.0), job=make_job(fabric="terry"))))
    run = centre_run(straight(25.0)).as_underlay()
    assert not list(missing_underlay(inspected(run.then(satin(2.0)), job=make_job(fabric="terry"))))


@pytest.mark.parametrize(("side_mm", "missing"), [(7.0, False), (9.0, True), (20.0, True)])
def test_fills_need_underlay_from_a_size_on(side_mm: float, missing: bool) -> None:
    bare = box_fill(side_mm, side_mm, 0.4, 3.5)
    found = list(missing_underlay(inspected(bare)))
    assert [one.severity for one in found] == (["fix"] if missing else [])
    assert not list(missing_underlay(inspected(cross_laid(side_mm, side_mm).then(bare))))


@pytest.mark.parametrize("turn_deg", [0.0, 33.3, 45.0, 61.0, 90.0])
def test_a_narrow_fill_needs_none_however_it_is_turned(turn_deg: float) -> None:
    """5 x 25 mm: its box, turned by 45 degrees, would be 21 mm each way."""
    assert not list(missing_underlay(inspected(box_fill(25.0, 5.0, 0.4, 3.5).turned(turn_deg))))
    (one,) = missing_underlay(inspected(box_fill(25.0, 10.0, 0.4, 3.5).turned(turn_deg)))
    assert one.size_mm == pytest.approx(10.0, abs=0.4)


def test_open_rows_and_declared_open_work_need_none() -> None:
    """A knock-down, a shading or a sketch is meant to let through what lies below."""
    assert not list(missing_underlay(inspected(box_fill(20.0, 20.0, 1.2, 3.5))))
    dense = box_fill(20.0, 20.0, 0.4, 3.5)
    job = replace(make_job(), blocks={0: BlockTreatment("open")})
    assert not list(missing_underlay(inspected(dense, job=job)))


def test_satin_over_foam_needs_none() -> None:
    job = replace(make_job(), blocks={0: BlockTreatment("foam", height_mm=2.0)})
    assert not list(missing_underlay(inspected(satin(6.0), job=job)))


def test_satin_on_a_fill_still_wants_its_own_underlay_but_only_to_be_looked_at() -> None:
    ground = cross_laid(40.0, 20.0).then(box_fill(40.0, 20.0, 0.4, 3.5))
    bare = inspected(ground, CHANGE, moved(satin(4.0), 5.0, 10.0))
    (one,) = missing_underlay(bare)
    assert one.severity == "check"
    assert one.colour_block == 1
    assert not list(missing_underlay(inspected(ground, CHANGE, moved(held_satin(4.0), 5.0, 10.0))))


def test_underlay_elsewhere_or_of_another_colour_does_not_count() -> None:
    beside = moved(edge_run(straight(25.0), 4.0).as_underlay(), 0.0, 15.0)
    assert [one.severity for one in missing_underlay(inspected(beside, satin(4.0)))] == ["fix"]
    other = path_running(rail(straight(25.0), 1.0), 2.0)
    assert [one.severity for one in missing_underlay(inspected(other, CHANGE, satin(4.0)))] == ["fix"]
