"""What a revision changed, on plans made by hand."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import samples

from render.changes import Changes, compare_plans
from render.inspect import Inspection
from render.model import Problem, Production, SewPlan

SOME = Production(60.0, 1, 1, 0, (1.0,), 0.5)
FILL = samples.Part(samples.fill(10, 8), "fill")
SATIN = samples.Part(samples.satin(10, 3) + [20.0, 0.0], "satin", 1)
RUN = samples.Part(samples.running((-5, 12), (25, 12)), "running", 1)


def plan_of(*parts: samples.Part) -> SewPlan:
    return samples.sewn_of(*parts).plan


def fault(kind: str, x: float, y: float) -> Problem:
    return Problem(kind, "fix", (x, y), (x, y, x, y), 1.0, (0,), (0, 1), 0, "cause", "remedy")  # type: ignore[arg-type]


def changes(
    old: SewPlan, new: SewPlan, before: tuple[Problem, ...] = (), after: tuple[Problem, ...] = ()
) -> Changes:
    return compare_plans(old, new, Inspection(before, 0, SOME), Inspection(after, 0, SOME))


def test_the_same_plan_has_not_changed() -> None:
    plan = plan_of(FILL, SATIN, RUN)
    found = changes(plan, plan)
    assert found.moved_mm == (0, 0)
    assert (found.stitches_kept, found.stitches_removed, found.stitches_added) == (len(plan.start_mm), 0, 0)
    assert not found.objects


def test_a_design_moved_as_a_whole_has_only_moved() -> None:
    old = plan_of(FILL, SATIN, RUN)
    new = samples.moved_sewn(samples.sewn_of(FILL, SATIN, RUN), lambda p: p + [3.0, -7.5]).plan
    found = changes(old, new)
    assert found.moved_mm == pytest.approx((3.0, -7.5))
    assert not found.objects
    assert found.stitches_kept == len(old.start_mm)


def test_old_and_new_swap_what_was_added_and_removed() -> None:
    one, other = plan_of(FILL, SATIN), plan_of(FILL, SATIN, RUN)
    there, back = changes(one, other), changes(other, one)
    assert there.stitches_added == back.stitches_removed == len(RUN.points_mm) - 1
    assert there.stitches_removed == back.stitches_added == 0
    assert [one.words for one in there.objects] == ["added"]
    assert [one.words for one in back.objects] == ["taken out"]
    assert there.objects[0].where_mm == pytest.approx((10, 12))


def test_what_was_altered_is_said_with_both_values() -> None:
    wider = samples.Part(samples.satin(10, 3.6) + [20.0, 0.0], "satin", 1)
    old, new = plan_of(FILL, SATIN), plan_of(FILL, wider)
    old, new = (
        dataclasses.replace(plan, objects=(plan.objects[0], dataclasses.replace(plan.objects[1], width_mm=w)))
        for plan, w in ((old, 3.0), (new, 3.6))
    )
    (one,) = changes(old, new).objects
    assert one.words == "width 3.00 became 3.60 mm"
    assert one.where_mm == pytest.approx((20, 0), abs=0.3)


def test_everything_that_was_altered_is_said() -> None:
    """Longer, turned, moved, sewn in another block: each in words of its own, the largest object first."""
    turned = samples.Part(samples.fill(10, 8) @ np.array([[0.0, 1.0], [-1.0, 0.0]]), "fill", 1)
    longer = samples.Part(samples.satin(12, 3) + [20.0, 1.0], "satin", 0)
    old = _measured(plan_of(FILL, SATIN), (0.0, 10.0), (90.0, 10.0))
    new = _measured(plan_of(turned, longer), (90.0, 8.0), (88.5, 12.0))
    found = {one.new.kind: one.words for one in changes(old, new).objects if one.new is not None}
    assert "length 10.00 became 8.00 mm, angle 0 became 90 degrees" in found["fill"]
    counts = [part.last - part.first + 1 for part in (old.objects[1], new.objects[1])]
    assert found["satin"].startswith(f"{counts[0]} stitches became {counts[1]}, length 10.00 became 12.00 mm")
    assert found["satin"].endswith("moved by 1.0 mm")


def test_one_object_sewn_in_another_block_is_said() -> None:
    others = [samples.Part(RUN.points_mm + [0.0, 9.0 * k], "running", 1) for k in range(2)]
    old = plan_of(FILL, SATIN, *others)
    new = plan_of(FILL, dataclasses.replace(SATIN, block=0), *others)
    (one,) = changes(old, new).objects
    assert one.words == "sewn in block 1 instead of 2"


def _measured(plan: SewPlan, *sizes: tuple[float, float]) -> SewPlan:
    """With the objects' angle and length."""
    parts = zip(plan.objects, sizes, strict=True)
    objects = tuple(dataclasses.replace(part, angle_deg=a, length_mm=length) for part, (a, length) in parts)
    return dataclasses.replace(plan, objects=objects)


def test_sewing_in_another_order_changes_no_stitch() -> None:
    old, new = plan_of(FILL, SATIN, RUN), plan_of(FILL, RUN, SATIN)
    found = changes(old, new)
    assert (found.stitches_removed, found.stitches_added) == (0, 0)
    assert not found.objects


def test_faults_are_followed_by_kind_and_place() -> None:
    plan = plan_of(FILL)
    before = (fault("gap", 0, 0), fault("no-tie", 5, 0))
    after = (fault("gap", 0.4, 0), fault("gap", 5, 0))
    found = changes(plan, plan, before, after)
    assert found.faults_kept == 1
    assert [one.kind for one in found.faults_gone] == ["no-tie"]
    assert [one.where_mm for one in found.faults_new] == [(5, 0)]
    assert np.isfinite(found.moved_mm).all()
