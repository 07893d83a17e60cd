"""What holds for the plan of any design at all, however little sense it makes."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from plan_pieces import CUTTER, NO_CUTTER, UNSURE, design_of

from render.errors import InputError
from render.model import Command, Design, Machine, SewPlan
from render.plan import plan

RULES = ("explicit", "every-jump", "inferred", "by-length", "never")
MACHINES = (UNSURE, CUTTER, NO_CUTTER)


@st.composite
def designs(draw: st.DrawFn) -> Design:
    """Random walks of steps that are often small, the same again, or none."""
    count = draw(st.integers(2, 60))
    scale = draw(st.sampled_from([2, 20, 200, 3000]))
    steps = draw(arrays(np.int64, (count, 2), elements=st.integers(-scale, scale)))
    if draw(st.booleans()):
        steps[1::2] = -steps[: len(steps[1::2])]  # back and forth
    xy = np.cumsum(steps, axis=0) / 10
    usual = st.sampled_from([Command.STITCH] * 8 + list(Command))
    command = draw(arrays(np.uint8, count, elements=usual.map(int)))
    return design_of(xy, command, trim_rule=draw(st.sampled_from(RULES)), split=draw(st.booleans()))


def planned(design: Design, machine: Machine, **turn: Any) -> SewPlan:
    try:
        with np.errstate(all="raise", under="ignore"):
            return plan(design, machine, **turn)
    except InputError as error:
        assert "\n" not in str(error)  # noqa: PT017
        assume(False)
        raise


@pytest.mark.filterwarnings("error")
@settings(max_examples=120)
@given(designs(), st.sampled_from(MACHINES))
def test_every_needle_point_is_reached_once(design: Design, machine: Machine) -> None:
    """Stitches and travels together lead through the needle points, in order."""
    sewn = planned(design, machine)
    points = design.xy_mm[design.command == Command.STITCH]
    reached = 0
    for start, end in zip(sewn.start_mm, sewn.end_mm, strict=True):
        while not np.allclose(points[reached], start, atol=1e-5):
            reached += 1
        while not np.allclose(points[reached], end, atol=1e-5):
            reached += 1
    assert reached < len(points)
    assert (np.hypot(*(sewn.end_mm - sewn.start_mm).T) > 0).all()
    joined = ~sewn.thread_breaks[1:]
    apart = np.hypot(*(sewn.start_mm[1:] - sewn.end_mm[:-1]).T)
    assert (apart[joined] < 0.051).all(), "thread that is not broken starts where it ended"
    assert len(sewn.sequins_mm) == (design.command == Command.SEQUIN).sum()


@settings(max_examples=120)
@given(designs(), st.sampled_from(MACHINES))
def test_cuts_follow_the_format_and_the_machine(design: Design, machine: Machine) -> None:
    sewn = planned(design, machine)
    for travel in sewn.travels:
        assert -1 <= travel.after_stitch < len(sewn.start_mm)
        assert travel.reason
        if travel.cut == "depends":
            assert design.trim_rule in ("inferred", "by-length")
            assert machine is UNSURE
        if travel.reason == "trim":
            assert travel.cut == "yes"
            assert machine.trimmer is not False
    assert sewn.trims <= len(design.command)
