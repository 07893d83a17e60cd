"""The plan of the example designs in every respect that their truth tells: kinds, blocks, ways."""

from __future__ import annotations

import json
from collections import Counter
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from render.model import Machine, SewPlan
from render.plan import plan
from render.read import read_design

EXAMPLES = Path(__file__).parents[2] / "examples"
DESIGNS = ("applique-oar", "cap-badge", "crest", "crest-faulty", "wordmark")
MACHINE = Machine("unknown", "", None, None, None, 15, (400, 400), 800, 600)


def found(name: str) -> Path:
    """A file among the examples, in whichever folder it lies."""
    return next(EXAMPLES.rglob(name))


def truth_of(name: str) -> dict[str, Any]:
    return dict(json.loads(found(f"{name}.truth.json").read_text("utf-8")))


def planned_kinds(planned: SewPlan) -> NDArray[Any]:
    return np.array([planned.objects[i].kind for i in planned.object_index], object)


@cache
def planned(name: str, ending: str, **turn: Any) -> SewPlan:
    return plan(read_design(str(found(f"{name}.{ending}"))), MACHINE, **turn)


def apart_deg(a: float, b: float) -> float:
    return abs((a - b + 90) % 180 - 90)


@pytest.mark.parametrize("name", DESIGNS)
def test_no_kind_is_lost(name: str) -> None:
    """Few stitches may be wrong over all, and still a whole kind of them be missed."""
    truth, kinds = truth_of(name), planned_kinds(planned(name, "pes"))
    right: Counter[str] = Counter()
    count: Counter[str] = Counter()
    for thing in truth["objects"]:
        first, last = thing["first"], thing["last"] + 1
        if last - first >= 6:  # a stitch or two between the parts of a letter have no kind of their own
            count[thing["kind"]] += last - first
            right[thing["kind"]] += int((kinds[first:last] == thing["kind"]).sum())
    assert max(count.values()) >= 100
    assert {kind: right[kind] / n for kind, n in count.items() if n >= 100 and right[kind] < 0.9 * n} == {}


@pytest.mark.parametrize("name", DESIGNS)
def test_blocks_are_those_of_the_truth(name: str) -> None:
    truth, sewn = truth_of(name), planned(name, "pes")
    for thing in truth["objects"]:
        assert set(sewn.colour_block[thing["first"] : thing["last"] + 1].tolist()) == {thing["block"]}


@pytest.mark.parametrize("name", DESIGNS)
def test_vp3_has_the_same_kinds(name: str) -> None:
    """VP3 holds no jumps: ways without a trim are stitches there, all others are the same."""
    pes, vp3 = planned(name, "pes"), planned(name, "vp3")
    goal, ends = (sewn.end_mm - sewn.start_mm[0] for sewn in (pes, vp3))
    same, k = [], 0
    for i in range(len(goal)):
        while k < len(ends) and np.abs(ends[k] - goal[i]).max() > 0.11:
            k += 1
        assert k < len(ends), f"stitch {i} is not in the VP3"
        same.append(k)
        k += 1
    walked = sum(travel.reason == "trim" for travel in pes.travels)
    assert len(ends) - len(goal) <= walked
    assert (planned_kinds(pes) == planned_kinds(vp3)[same]).mean() >= 0.97


@pytest.mark.parametrize("name", DESIGNS)
def test_ways_between_objects_are_travels(name: str) -> None:
    """PES tells cuts with every jump: each object that does not follow on directly has its travel."""
    truth, sewn = truth_of(name), planned(name, "pes")
    after = {travel.after_stitch for travel in sewn.travels}
    starts = np.flatnonzero(sewn.thread_breaks)
    assert set((starts[1:] - 1).tolist()) <= after
    pairs = zip(truth["objects"], truth["objects"][1:], strict=False)
    changes = [there["first"] for here, there in pairs if here["block"] != there["block"]]
    assert set(changes) <= set(starts.tolist())


@pytest.mark.parametrize("name", ["cap-badge", "crest"])
@pytest.mark.parametrize("turn", [{"rotate_deg": 90.0}, {"mirror": True}])
def test_turned_examples_have_the_same_objects(name: str, turn: dict[str, Any]) -> None:
    straight, other = planned(name, "pes"), planned(name, "pes", **turn)
    runs = [[(o.kind, o.first, o.last) for o in sewn.objects] for sewn in (straight, other)]
    assert runs[0] == runs[1]
    for a, b in zip(straight.objects, other.objects, strict=True):
        want = a.angle_deg + 90 if "rotate_deg" in turn else -a.angle_deg
        assert apart_deg(b.angle_deg, want) < 1e-6
