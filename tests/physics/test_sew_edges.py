"""Sewing at the edges of what can be sewn, and the choices that lead there."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from samples import FABRIC, Part, fill, satin, sewn_of

from render.errors import InputError, UsageError
from render.materials.presets import preset
from render.materials.stabilisers import (
    held_names,
    hoop_names,
    load_hoop,
    load_stabiliser,
    make_holding,
    smallest_hoop,
    stabiliser_names,
)
from render.sew import sew

Floats = NDArray[np.float64]
SQUARE = load_hoop("square-100")


def sew_points(points: Any, **choices: Any) -> Any:
    plan = sewn_of(Part(np.array(points, float), "running")).plan
    return sew(plan, make_holding(FABRIC, **{"hoop": SQUARE, **choices}))


@pytest.mark.parametrize(
    "points",
    [
        [(0, 0), (3, 0)],
        [(0, 0), (0, 0)],
        [(0, 0), (0, 0), (2, 0), (2, 0)],
        [(0, 0), (2, 0), (4, 0), (6, 0)],
        [(700, -300), (702, -300), (702, -298)],
        [(0, 0), (0.01, 0), (0, 0.01)] * 50,
    ],
    ids=["one stitch", "one hole", "holes without way", "one line", "far away", "a knot"],
)
@pytest.mark.parametrize("taken_out", [False, True])
@pytest.mark.parametrize("stabiliser", ["none", "cut-away"])
def test_small_work_is_sewn(points: Any, taken_out: bool, stabiliser: str) -> None:
    sewn = sew_points(points, taken_out=taken_out, stabiliser=stabiliser)
    moved = np.hypot(*(sewn.end_mm - sewn.plan.end_mm).T)
    assert moved.max() < 0.5


def test_a_single_stitch_draws_its_ends_together() -> None:
    sewn = sew_points([(0, 0), (3, 0)])
    assert sewn.start_mm[0, 0] > 0
    assert sewn.end_mm[0, 0] < 3
    assert sewn.start_mm[0, 0] == pytest.approx(3 - sewn.end_mm[0, 0], abs=1e-6)
    assert abs(sewn.start_mm[0, 1]) < 1e-9


def test_the_movement_of_the_cloth_is_that_of_the_stitches() -> None:
    """Where a stitch ends the cloth has moved there too, but for the give of the hole."""
    plan = sewn_of(Part(fill(20, 20), "fill")).plan
    sewn = sew(plan, make_holding(replace(FABRIC, hole_give_mm=0.0), hoop=SQUARE))
    cloth = sewn.cloth
    assert cloth is not None
    at = (plan.end_mm - cloth.origin_mm) / cloth.cell_mm
    cell = np.floor(at).astype(int)
    a, b = (at - cell).T[..., None]
    u = cloth.u_mm
    low = u[cell[:, 1], cell[:, 0]] * (1 - a) + u[cell[:, 1], cell[:, 0] + 1] * a
    high = u[cell[:, 1] + 1, cell[:, 0]] * (1 - a) + u[cell[:, 1] + 1, cell[:, 0] + 1] * a
    cloth_moved = low * (1 - b) + high * b
    # The needle went through cloth that had already moved part of the way.
    stitch_moved = sewn.end_mm - plan.end_mm
    assert np.hypot(*stitch_moved.T).mean() < np.hypot(*cloth_moved.T).mean()
    assert (stitch_moved * cloth_moved).sum() > 0
    edge = np.concatenate([u[0], u[-1], u[:, 0], u[:, -1]])
    assert np.abs(edge).max() < 1e-9


@pytest.mark.parametrize("held", held_names())
def test_every_way_to_hold_the_cloth(held: str) -> None:
    plan = sewn_of(Part(satin(20, 4), "satin")).plan
    for hoop in ("square-100", "round-120"):
        sewn = sew(plan, make_holding(FABRIC, held=held, hoop=load_hoop(hoop)))
        assert 0 < sewn.objects[0].pull_in_mm < 1


def test_cloth_pulled_too_tight_draws_in_more_out_of_the_hoop() -> None:
    plan = sewn_of(Part(fill(30, 30), "fill")).plan
    pulls = [
        sew(plan, make_holding(FABRIC, hoop=SQUARE, held=held, taken_out=True)).objects[0].pull_in_mm
        for held in ("hooped", "over-stretched")
    ]
    assert pulls[0] < pulls[1]


@pytest.mark.parametrize("name", stabiliser_names())
def test_stabilisers_load(name: str) -> None:
    found = load_stabiliser(name)
    assert (found is None) == (name == "none")


def test_hoops_load_and_the_smallest_is_found() -> None:
    assert all(load_hoop(name).width_mm > 0 for name in hoop_names())
    assert smallest_hoop(60, 60).name == "square-100"
    assert smallest_hoop(280, 200).name == "square-300"
    assert smallest_hoop(900, 700).width_mm == 920


@pytest.mark.parametrize("file", ["stabilisers.toml", "hoops.toml"])
def test_every_number_has_a_source(file: str) -> None:
    for name, table in preset(file).items():
        for entry, values in {"": table}.items() if "source" in table else table.items():
            assert values["source"], f"{name} {entry}"


def test_what_cannot_be_is_refused_in_one_sentence() -> None:
    with pytest.raises(InputError, match="tear-away"):
        make_holding(FABRIC, stabiliser="paper", hoop=SQUARE)
    with pytest.raises(InputError, match="floated"):
        make_holding(FABRIC, held="glued", hoop=SQUARE)
    with pytest.raises(InputError, match="square-100"):
        load_hoop("huge")
    with pytest.raises(UsageError, match="stabiliser to lie on"):
        make_holding(FABRIC, stabiliser="none", held="floated", hoop=SQUARE)
    with pytest.raises(UsageError, match="9 N"):
        make_holding(FABRIC, gauge_n=9, hoop=SQUARE)
    with pytest.raises(InputError, match="Poisson"):
        sew(
            sewn_of(Part(satin(5, 2), "satin")).plan,
            make_holding(replace(FABRIC, poisson=1.6), hoop=SQUARE),
        )


SCRIPT = """
from samples import *
from render.materials.stabilisers import load_hoop, make_holding
from render.sew import sew
sewn = sew(sewn_of(Part(fill(15, 15), "fill")).plan, make_holding(FABRIC, hoop=load_hoop("square-100")))
print(sewn.end_mm.tobytes().hex())
"""


@pytest.mark.slow
def test_the_number_of_threads_changes_nothing(repository: Path) -> None:
    """The libraries below choose their thread count from the environment."""
    found = set()
    for threads in ("1", "2"):
        names = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS")
        path = os.pathsep.join([str(repository), str(repository / "tests")])
        environment = {**os.environ, **dict.fromkeys(names, threads), "PYTHONPATH": path}
        found.add(
            subprocess.run(
                [sys.executable, "-c", SCRIPT], env=environment, capture_output=True, text=True, check=True
            ).stdout
        )
    assert len(found) == 1
    assert len(found.pop()) > 1000
