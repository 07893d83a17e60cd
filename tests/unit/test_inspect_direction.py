"""Fills that all pull one way, and what turning one of them does; pucker."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from inspect_pieces import inspected, moved
from plan_checks import angle_apart
from plan_pieces import Piece as Sewing
from plan_pieces import box_fill

from render.inspect.direction import one_way_pull, pucker
from render.materials.job import make_job
from render.model import ClothMove


def fill(angle_deg: float, side_mm: float = 30.0, x_mm: float = 0.0) -> Sewing:
    """A square of rows at an angle, its middle at `x_mm`."""
    flat = moved(box_fill(side_mm, side_mm, 0.5, 3.5), -side_mm / 2, -side_mm / 2)
    return flat.turned(angle_deg, (x_mm, 0.0))


def test_fills_that_lie_alike_pull_one_way() -> None:
    (one,) = one_way_pull(inspected(fill(0.0), fill(0.0, x_mm=31.0)))
    assert one.kind == "one-way-pull"
    assert one.size_mm == pytest.approx(61.0, abs=0.5)
    assert "at 0 degrees" in one.cause or "at 180 degrees" in one.cause
    assert "100 %" in one.cause
    assert "60 degrees" in one.remedy


@pytest.mark.parametrize("apart_deg", [45.0, 60.0, 90.0])
def test_fills_of_other_angles_share_the_pull(apart_deg: float) -> None:
    assert not list(one_way_pull(inspected(fill(0.0), fill(apart_deg, x_mm=36.0))))


def test_small_designs_pull_little() -> None:
    assert not list(one_way_pull(inspected(fill(0.0, 15.0), fill(0.0, 15.0, 16.0))))


def test_the_stated_rest_is_that_of_the_turned_fills() -> None:
    """Two fills of like area, one turned by 60 degrees: |1 + exp(2i 60 deg)| / 2 = 1/2."""
    (one,) = one_way_pull(inspected(fill(0.0), fill(0.0, x_mm=31.0)))
    assert "then 50 % goes one way" in one.remedy
    turned = inspected(fill(0.0), fill(60.0, x_mm=38.0))
    fills = [part for part in turned.plan.objects if part.kind == "fill"]
    area = np.array([part.width_mm * part.length_mm for part in fills])
    tensor = (area * np.exp(2j * np.deg2rad([part.angle_deg for part in fills]))).sum() / area.sum()
    assert abs(tensor) == pytest.approx(0.5, abs=0.03)


def test_soft_cloth_is_to_be_mended_firm_cloth_looked_at() -> None:
    steps = (fill(20.0), fill(20.0, x_mm=34.0))
    assert [one.severity for one in one_way_pull(inspected(*steps, job=make_job(fabric="twill")))] == [
        "check"
    ]
    soft = inspected(*steps, job=make_job(fabric="stretch-knit"))
    assert [one.severity for one in one_way_pull(soft)] == ["fix"]


def test_a_single_fill_is_never_to_be_mended_for_it() -> None:
    """A large fill has one direction by its nature: underlay across it is the advice."""
    for fabric in ("twill", "stretch-knit"):
        (one,) = one_way_pull(inspected(fill(0.0, 50.0), job=make_job(fabric=fabric)))
        assert one.severity == "check"
        assert "underlay" in one.remedy


@pytest.mark.parametrize("turn_deg", [0.0, 37.0, 90.0, 123.0])
def test_turning_the_whole_design_changes_nothing_but_the_angle(turn_deg: float) -> None:
    steps = [piece.turned(turn_deg) for piece in (fill(10.0), fill(20.0, x_mm=34.0))]
    (one,) = one_way_pull(inspected(*steps))
    (still,) = one_way_pull(inspected(fill(10.0), fill(20.0, x_mm=34.0)))
    said, before = (float(p.cause.split("at ")[1].split(" degrees")[0]) for p in (one, still))
    assert angle_apart(said, before + turn_deg) == pytest.approx(0.0, abs=2.5)
    assert one.cause.split(" %")[0] == still.cause.split(" %")[0]


@pytest.mark.parametrize(("share", "found"), [(0.2, False), (0.9, True)])
def test_pucker_counts_stitches_on_cloth_pressed_together(share: float, found: bool) -> None:
    piece = inspected(fill(0.0, 20.0))
    level = np.zeros((30, 30), np.uint8)
    rows = round(20 * share)
    level[5 : 5 + rows] = 2
    cloth = ClothMove(np.zeros((30, 30, 2)), level, (-15.0, -15.0), 1.0)
    puckered = replace(piece, sewn=replace(piece.sewn, cloth=cloth))
    problems = list(pucker(puckered))
    assert bool(problems) == found
    assert all(one.size_mm is None and one.severity != "fix" for one in problems)
    assert not list(pucker(piece))
