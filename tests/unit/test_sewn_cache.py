"""Sewn designs kept on disk: the same to the last bit, found by all that matters, never trusted blindly."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, is_dataclass, replace
from itertools import starmap
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from samples import Part, sewn_of

from render import disk_cache
from render.draw import filaments, pucker
from render.errors import InputError
from render.materials.fabrics import load_fabric
from render.materials.stabilisers import load_hoop, make_holding
from render.model import SewnObject
from render.sew import sew, sewn_cache
from render.sew.sewn_cache import cached_sew

# Columns of satin, 4 mm wide, with a stitch every 0.4 mm.
SATIN = np.stack([np.tile([0.0, 4.0], 15), np.repeat(np.arange(15) * 0.4, 2)], 1)
PLAN = sewn_of(Part(SATIN, "satin"), Part(SATIN + (6.0, 0.0), "satin", 1)).plan
HOLDING = make_holding(load_fabric("jersey"), hoop=load_hoop("square-130"), gauge_n=1.0)


@pytest.fixture
def sewings(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[Any]:
    """A cache in a temporary folder, and what was sewn so far: the first in earnest."""
    sewn: list[Any] = []

    def count(*asked: Any, **how: Any) -> Any:
        sewn.append(sewn[0] if sewn else sew(*asked, **how))
        return sewn[-1]

    monkeypatch.setattr(sewn_cache, "sew", count)
    monkeypatch.setattr(disk_cache, "cache_folders", lambda: iter([tmp_path]))
    return sewn


def same(a: Any, b: Any) -> bool:
    """Whether two records are alike, to the last bit and to the kind of every number."""
    if is_dataclass(a):
        return type(a) is type(b) and all(same(getattr(a, f.name), getattr(b, f.name)) for f in fields(a))
    if isinstance(a, tuple):
        return len(a) == len(b) and all(starmap(same, zip(a, b, strict=True)))
    if isinstance(a, np.ndarray):
        return a.dtype == b.dtype and a.shape == b.shape and a.tobytes() == b.tobytes()
    return bool(a == b or (a != a and b != b))


@pytest.mark.parametrize("keep_rests", [False, True])
def test_what_is_kept_is_what_was_sewn(sewings: list[Any], keep_rests: bool) -> None:
    # Without stabiliser there is a note as well.
    bare = replace(HOLDING, stabiliser=None)
    fresh = sew(PLAN, bare, keep_rests=keep_rests)
    assert fresh.notes
    assert bool(fresh.rests) == keep_rests
    first, second = (cached_sew(PLAN, bare, keep_rests=keep_rests) for _ in range(2))
    assert len(sewings) == 1
    assert same(first, fresh)
    assert same(second, fresh)
    assert not second.start_mm.flags.writeable


def test_colours_do_not_sew_again(sewings: list[Any]) -> None:
    cached_sew(PLAN, HOLDING)
    cloth = replace(HOLDING.fabric, colour_srgb=(1.0, 0.0, 0.0), structure={"kind": "weave"}, folder="there")
    cached_sew(PLAN, replace(HOLDING, fabric=cloth))
    assert len(sewings) == 1


def moved() -> np.ndarray[Any, Any]:
    ends = PLAN.end_mm.copy()
    ends[7, 1] = np.nextafter(ends[7, 1], 9.0)
    return ends


def turned(thing: SewnObject) -> SewnObject:
    return replace(thing, angle_deg=thing.angle_deg + 1.0)


@pytest.mark.parametrize(
    "other",
    [
        lambda: (replace(PLAN, end_mm=moved()), HOLDING, False),
        lambda: (replace(PLAN, thread_breaks=~PLAN.thread_breaks), HOLDING, False),
        lambda: (replace(PLAN, objects=(turned(PLAN.objects[0]), PLAN.objects[1])), HOLDING, False),
        lambda: (PLAN, replace(HOLDING, tension_n=np.nextafter(HOLDING.tension_n, 9.0)), False),
        lambda: (PLAN, replace(HOLDING, taken_out=True), False),
        lambda: (PLAN, replace(HOLDING, fabric_turn_deg=90.0), False),
        lambda: (PLAN, replace(HOLDING, hoop=load_hoop("square-100")), False),
        lambda: (PLAN, replace(HOLDING, stabiliser=None), False),
        lambda: (PLAN, replace(HOLDING, fabric=replace(HOLDING.fabric, e_weft_n_per_m=401.0)), False),
        lambda: (PLAN, HOLDING, True),
    ],
)  # fmt: skip
def test_all_that_matters_sews_again(sewings: list[Any], other: Callable[[], tuple[Any, Any, bool]]) -> None:
    plan, holding, keep_rests = other()
    cached_sew(PLAN, HOLDING)
    found = cached_sew(plan, holding, keep_rests=keep_rests)
    assert len(sewings) == 2
    assert found.plan is plan


def test_other_code_sews_again(sewings: list[Any], monkeypatch: pytest.MonkeyPatch) -> None:
    cached_sew(PLAN, HOLDING)
    read: list[str] = []

    def changed(*files: str) -> str:
        read.extend(files)
        return "other"

    monkeypatch.setattr(sewn_cache, "code_of", changed)
    cached_sew(PLAN, HOLDING)
    assert len(sewings) == 2
    package = Path(sewn_cache.__file__).parents[1]
    assert set(read) == {str(path) for part in ("model", "sew") for path in (package / part).glob("*.py")}


def test_a_file_that_does_not_fit_is_sewn_again(sewings: list[Any], tmp_path: Path) -> None:
    fresh = cached_sew(PLAN, HOLDING)
    (stored,) = tmp_path.glob("*.npz")
    with np.load(stored) as arrays:
        sound = dict(arrays)
    nowhere = sound["u_mm"].copy()
    nowhere[0, 0, 0, 0] = np.nan
    damaged: list[dict[str, Any]] = [
        {**sound, "start_mm": sound["start_mm"][1:]},
        {**sound, "end_mm": sound["end_mm"].astype(np.float32)},
        {**sound, "u_mm": nowhere},
        {**sound, "u_mm": sound["u_mm"][:, :-1]},
        {**sound, "pucker": sound["pucker"][0]},
        {**sound, "stitches": np.array([3])},
        {**sound, "objects": sound["objects"][:1]},
        {**sound, "notes": np.zeros(2)},
        {name: value for name, value in sound.items() if name != "give_mm"},
    ]
    for number, arrays_now in enumerate(damaged, 2):
        with stored.open("wb") as stream:
            np.savez(stream, **arrays_now)
        assert same(cached_sew(PLAN, HOLDING), fresh)
        assert len(sewings) == number


def test_what_cannot_be_predicted_stays_an_error(sewings: list[Any], tmp_path: Path) -> None:
    for _ in range(2):
        with pytest.raises(InputError, match="drawn together"):
            cached_sew(PLAN, replace(HOLDING, stabiliser=None, tension_n=60.0))
    assert not list(tmp_path.iterdir())


def test_cloth_that_lies_still_is_not_kept(sewings: list[Any], tmp_path: Path) -> None:
    still = cached_sew(PLAN, None)
    assert still.cloth is None
    assert still.end_mm is PLAN.end_mm
    assert not list(tmp_path.iterdir())


def test_ridges_and_filaments_are_kept_as_they_are(sewings: list[Any], tmp_path: Path) -> None:
    box = PLAN.box_mm
    move = sew(PLAN, HOLDING).cloth
    assert move is not None
    still = replace(move, u_mm=np.zeros_like(move.u_mm))
    ridges, texture = pucker.pucker_of(move, box, 1), filaments.filaments(20.0)
    assert ridges is not None
    for _ in range(2):  # made, and then found
        assert same(pucker.cached_pucker(move, box, 1), ridges)
        assert pucker.cached_pucker(still, box, 1) is None
        assert same(filaments.cached_filaments(20.0), texture)
    assert len(list(tmp_path.iterdir())) == 3
    # Another piece of the cloth, another design on it, another scale.
    assert not same(pucker.cached_pucker(move, box, 2), ridges)
    assert not same(pucker.cached_pucker(move, (box[0] + 1.0, *box[1:]), 1), ridges)
    assert not same(filaments.cached_filaments(25.0), texture)
    for stored in tmp_path.glob("*.npz"):
        np.savez(stored, height_mm=np.zeros(3), texture=np.zeros(3))
    assert same(pucker.cached_pucker(move, box, 1), ridges)
    assert same(filaments.cached_filaments(20.0), texture)
