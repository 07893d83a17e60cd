"""The shipped designs under inspection: the faulty crest has its faults, the others none."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from render.inspect import Inspection
from render.inspection import inspect_design
from render.materials.job import make_job
from render.model import Problem
from render.read import read_design

EXAMPLES = Path(__file__).parents[2] / "examples"
# What comes with a planted fault by its nature: the border before its fill and the thin belly
# leave places where neighbours move apart.
CONSEQUENCES = {"registration"}
PLANTED: list[dict[str, Any]] = tomllib.loads((EXAMPLES / "crest-faulty.truth.toml").read_text("utf-8"))[
    "fault"
]


@cache
def inspected(name: str, **job: Any) -> Inspection:
    path = str(EXAMPLES / job.pop("path")) if "path" in job else None
    return inspect_design(read_design(str(EXAMPLES / name)), make_job(path, **job))


def covers(problem: Problem, fault: dict[str, Any]) -> bool:
    """Whether a problem is the planted fault: by kind, and by stitches or place."""
    first, last = fault["stitches"]
    stitches = problem.stitches[0] <= last + 2 and problem.stitches[1] >= first - 2
    near = np.hypot(*np.subtract(problem.where_mm, fault["where_mm"])) <= 3.0
    return problem.kind == fault["kind"] and bool(stitches or near)


@pytest.mark.parametrize("fault", PLANTED, ids=[f"{one['kind']}-{one['size_mm']}" for one in PLANTED])
def test_each_planted_fault_is_found(fault: dict[str, Any]) -> None:
    problems = inspected("crest-faulty.exp", fabric="twill").problems
    assert any(covers(problem, fault) for problem in problems)


def test_nothing_else_is_to_be_mended() -> None:
    problems = inspected("crest-faulty.exp", fabric="twill").problems
    others = [
        one
        for one in problems
        if one.severity == "fix"
        and one.kind not in CONSEQUENCES
        and not any(covers(one, fault) for fault in PLANTED)
    ]
    assert not others


@pytest.mark.slow
def test_mended_faults_are_gone_and_the_others_are_not(tmp_path: Path) -> None:
    mended = ["gap", "crowding", "uncut-jump"]
    made = [sys.executable, str(EXAMPLES / "make.py"), str(tmp_path), "--only", "crest-faulty"]
    subprocess.run([*made, *(word for kind in mended for word in ("--without", kind))], check=True)
    design = read_design(str(tmp_path / "crest-faulty.exp"))
    problems = inspect_design(design, make_job(fabric="twill")).problems
    assert not [one for one in problems if one.severity == "fix" and one.kind in mended]
    listed = tomllib.loads((tmp_path / "crest-faulty.truth.toml").read_text("utf-8"))["fault"]
    assert {fault["kind"] for fault in listed} == {fault["kind"] for fault in PLANTED} - set(mended)
    assert all(any(covers(problem, fault) for problem in problems) for fault in listed)


@pytest.mark.parametrize(
    ("name", "job"),
    [
        ("crest.vp3", {"fabric": "twill"}),
        ("crest.exp", {"path": "crest.job.toml"}),
        ("wordmark.vp3", {"fabric": "twill"}),
        ("wordmark.vp3", {"fabric": "jersey"}),
        ("cap-badge.vp3", {"fabric": "cap-front", "hoop": "cap-frame"}),
        ("applique-oar.vp3", {"path": "applique-oar.job.toml"}),
    ],
)
def test_what_is_as_it_should_be_has_nothing_to_mend(name: str, job: dict[str, Any]) -> None:
    assert not [one for one in inspected(name, **job).problems if one.severity == "fix"]
