"""Rows of needle holes on vinyl and leather, by hand, around their limits."""

from __future__ import annotations

import dataclasses

import pytest
from inspect_pieces import CHANGE, inspected, moved
from plan_pieces import box_fill, column, path_running, straight

from render.inspect.perforation import perforated_lines
from render.materials.job import make_job
from render.model import Job


def on(*, holes_stay: bool) -> Job:
    job = make_job(fabric="twill")
    return dataclasses.replace(job, fabric=dataclasses.replace(job.fabric, holes_stay=holes_stay))


# Common practice, no source: satin on leather and vinyl is opened, from 0.4 mm to about 0.5 mm.
@pytest.mark.parametrize(
    ("spacing_mm", "severity"), [(0.2, "fix"), (0.4, "check"), (0.5, None), (0.6, None), (0.8, None)]
)
def test_edges_of_satin_by_their_spacing(spacing_mm: float, severity: str | None) -> None:
    satin = column(straight(16), 3.0, spacing_mm)
    found = list(perforated_lines(inspected(satin, job=on(holes_stay=True))))
    assert [one.severity for one in found] == ([] if severity is None else [severity])
    if found:
        assert found[0].kind == "repeated-hole"
        assert found[0].size_mm is None
        said = float(found[0].cause.split(" mm apart")[0].split()[-1])
        assert said == pytest.approx(spacing_mm, abs=0.03)
        assert not list(perforated_lines(inspected(satin, job=on(holes_stay=False))))


@pytest.mark.parametrize("stitch_mm", [1.0, 2.5, 4.0])
def test_a_running_stitch_of_usual_length_perforates_nothing(stitch_mm: float) -> None:
    assert not list(
        perforated_lines(inspected(path_running(straight(30), stitch_mm), job=on(holes_stay=True)))
    )


def test_a_short_row_does_no_harm() -> None:
    assert not list(perforated_lines(inspected(column(straight(4), 3.0, 0.4), job=on(holes_stay=True))))


def test_an_open_fill_perforates_nothing() -> None:
    assert not list(perforated_lines(inspected(box_fill(14, 12, 0.6, 4.0), job=on(holes_stay=True))))


def test_rows_of_a_colour_are_one_problem() -> None:
    satin = column(straight(16), 3.0, 0.4)
    piece = inspected(satin, moved(satin, 0, 10), CHANGE, moved(satin, 0, 20), job=on(holes_stay=True))
    first, second = perforated_lines(piece)
    assert first.cause.startswith("4 rows")
    assert second.cause.startswith("2 rows")
    assert first.box_mm[3] - first.box_mm[1] == pytest.approx(13.0, abs=0.3)
