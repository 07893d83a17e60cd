"""What the cloth does to each object: closed forms, symmetry, and compensation that works."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import samples
from numpy.typing import NDArray

from render.materials.fabrics import edge_under_pile_mm, load_fabric
from render.materials.job import make_job
from render.materials.stabilisers import holding_for
from render.model import SewnObject, SewPlan
from render.preview import SewnDesign
from render.pull import Pull, pull_of
from render.pull.account import account
from render.sew import sew

JOB = make_job(fabric="jersey")


def plan_of(*parts: samples.Part) -> SewPlan:
    """Parts of which each object has its thread across y = 0, as the plan would find it."""
    plan = samples.sewn_of(*parts).plan
    objects: list[SewnObject] = []
    for part in plan.objects:
        run = plan.end_mm[part.first : part.last + 1] - plan.start_mm[part.first : part.last + 1]
        long = run[np.hypot(*run.T) > 0.6]
        angle = np.rad2deg(np.angle(np.exp(2j * np.arctan2(long[:, 1], long[:, 0])).mean()) / 2) % 180
        objects.append(dataclasses.replace(part, angle_deg=float(angle)))
    return dataclasses.replace(plan, objects=tuple(objects))


def pulled(plan: SewPlan, *, still: bool = False) -> Pull:
    holding = None if still else holding_for(JOB, plan.box_mm)
    return pull_of(SewnDesign(sew(plan, holding), (samples.RED,), holding, ()))


def column(width_mm: float, x_mm: float = 0.0) -> samples.Part:
    points: NDArray[np.float64] = samples.turned(samples.satin(20, width_mm), 90) + [x_mm, 0.0]
    return samples.Part(points, "satin")


def test_cloth_that_lies_still_pulls_nothing() -> None:
    found = pulled(plan_of(column(3.0), samples.Part(samples.fill(12, 8) + [20.0, 0.0], "fill")), still=True)
    for one in found.objects:
        assert one.pull_in_mm is not None
        assert (one.pull_in_mm.low, one.pull_in_mm.likely, one.pull_in_mm.high) == pytest.approx((0, 0, 0))
        assert one.compensation_total_mm is not None
        assert one.compensation_total_mm.likely == pytest.approx(0)
    assert found.largest_shift_mm.likely == 0


def test_ranges_are_in_order_and_widths_add_up() -> None:
    for one in pulled(plan_of(column(2.0), column(4.0, 12.0), column(6.0, 26.0))).objects:
        assert one.pull_in_mm is not None
        assert one.sewn_width_mm is not None
        assert one.programmed_width_mm is not None
        assert 0 < one.pull_in_mm.low < one.pull_in_mm.likely < one.pull_in_mm.high
        assert one.sewn_width_mm.likely == pytest.approx(one.programmed_width_mm - one.pull_in_mm.likely)


@pytest.mark.parametrize("width_mm", [2.0, 4.0, 7.0])
def test_a_column_programmed_wider_by_its_compensation_sews_out_as_wide_as_it_was_meant(
    width_mm: float,
) -> None:
    (before,) = pulled(plan_of(column(width_mm))).objects
    assert before.compensation_total_mm is not None
    (after,) = pulled(plan_of(column(width_mm + before.compensation_total_mm.likely))).objects
    assert after.sewn_width_mm is not None
    assert before.programmed_width_mm is not None
    assert after.sewn_width_mm.likely == pytest.approx(before.programmed_width_mm, abs=0.02)


def test_a_mirrored_design_is_pulled_alike() -> None:
    parts = (column(3.0), samples.Part(samples.fill(12, 8) + [14.0, 2.0], "fill"))
    one = pulled(plan_of(*parts))
    mirrored = [samples.Part(part.points_mm * [-1.0, 1.0], part.kind) for part in parts]
    other = pulled(plan_of(*mirrored))
    for a, b in zip(one.objects, other.objects, strict=True):
        assert a.pull_in_mm is not None
        assert b.pull_in_mm is not None
        assert a.pull_in_mm.likely == pytest.approx(b.pull_in_mm.likely, abs=1e-3)
        # Which few needle points make up an end hangs on rounding.
        assert a.push_ends_mm == pytest.approx(b.push_ends_mm, abs=0.04)


def test_a_lone_object_shifts_against_nothing_and_runs_have_no_width() -> None:
    (alone,) = pulled(plan_of(column(3.0))).objects
    assert alone.shift_mm is None
    (run,) = pulled(plan_of(samples.Part(samples.running((0, 0), (20, 0)), "running"))).objects
    assert run.sewn_width_mm is None
    assert run.compensation_total_mm is None


def test_account_has_the_documented_form() -> None:
    values = account(pulled(plan_of(column(3.0), column(3.0, 3.2))))
    assert set(values) >= {"objects", "largest_shift_mm", "notes"}
    for one in values["objects"]:
        assert set(one) == {
            "index",
            "kind",
            "colour_block",
            "stitches",
            "centre_mm",
            "programmed_width_mm",
            "sewn_width_mm",
            "pull_in_mm",
            "push_mm",
            "shift_mm",
            "compensation_total_mm",
        }
        assert set(one["pull_in_mm"]) == {"low", "likely", "high"}


def test_pile_hides_edges_apart_from_what_the_cloth_pulls() -> None:
    """Closed form: 0.08 of the pile's height, and nothing under a topping or on cloth without pile."""
    terry, twill = load_fabric("terry"), load_fabric("twill")
    low, high = terry.structure["loop"]["height_mm"]
    assert edge_under_pile_mm(terry, topped=False) == pytest.approx(0.08 * (low + high) / 2)
    assert edge_under_pile_mm(terry, topped=True) == 0
    assert edge_under_pile_mm(twill, topped=False) == 0
