"""The example designs, whose maker wrote down what each run of stitches is."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import plan_pieces as made
import pytest
from plan_checks import angle_apart, kinds_of

from render.model import SewPlan
from render.plan import plan
from render.read import read_design

NAMES = ("crest", "wordmark", "cap-badge", "applique-oar", "crest-faulty")
# VP3 has no jumps: an uncut travel comes back as a stitch, so stitches cannot be counted off.
FORMATS = ("dst", "pes", "exp", "jef")
LEAST_STITCHES = 20  # spacing of shorter objects is rounded to whole stitches by their maker


def truth(repository: Path, name: str) -> dict[str, Any]:
    text = (repository / "examples" / f"{name}.truth.json").read_text("utf-8")
    return dict(json.loads(text))


def planned(repository: Path, name: str, extension: str) -> SewPlan:
    return plan(read_design(repository / "examples" / f"{name}.{extension}"), made.UNSURE)


def near(have: float, want: float) -> bool:
    return abs(have - want) <= 0.1 * want


@pytest.mark.parametrize("extension", FORMATS)
@pytest.mark.parametrize("name", NAMES)
def test_stitches_are_what_their_maker_meant(repository: Path, name: str, extension: str) -> None:
    known = truth(repository, name)
    have = planned(repository, name, extension)
    assert len(have.start_mm) == known["stitches"]
    want = np.array(kinds_of(have))  # steps between objects have no truth
    known_too = np.zeros(len(want), bool)
    for thing in known["objects"]:
        want[thing["first"] : thing["last"] + 1] = thing["kind"]
        known_too[thing["first"] : thing["last"] + 1] = True
    assert known_too.mean() > 0.97
    right = np.array(kinds_of(have)) == want
    assert right[known_too].mean() >= 0.97


@pytest.mark.parametrize("name", NAMES)
def test_objects_measure_what_their_maker_set(repository: Path, name: str) -> None:
    have = planned(repository, name, "dst")
    right = []
    for thing in truth(repository, name)["objects"]:
        found = have.objects[have.object_index[(thing["first"] + thing["last"]) // 2]]
        if thing["last"] - thing["first"] < LEAST_STITCHES or found.kind != thing["kind"]:
            continue
        assert found.colour_block == thing["block"]
        right.append(
            (not thing["row_spacing_mm"] or near(found.row_spacing_mm, thing["row_spacing_mm"]))
            and (not thing["width_mm"] or near(found.width_mm, thing["width_mm"]))
            and (thing["angle_deg"] is None or angle_apart(found.angle_deg, thing["angle_deg"]) <= 3)
        )
    # Pointed columns have no one width, short ones are rounded to whole stitches by their maker.
    assert len(right) >= 3
    assert np.mean(right) >= 0.85


@pytest.mark.parametrize("name", NAMES)
def test_every_format_holds_the_same_objects(repository: Path, name: str) -> None:
    first = planned(repository, name, "dst")
    for extension in FORMATS[1:]:
        other = planned(repository, name, extension)
        assert [(o.kind, o.first, o.last) for o in other.objects] == [
            (o.kind, o.first, o.last) for o in first.objects
        ]
