"""Fibre ends that stand off spun thread: how many, how long, and that they change no colour."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import samples

from render.draw import draw, fuzz
from render.draw.strands import Strands, strands_of
from render.materials.fabrics import load_fabric
from render.materials.fibres import load_fibres
from render.materials.job import make_job
from render.materials.threads import make_thread
from render.model import Layers, Window

COTTON = make_thread((0.8, 0.2, 0.2), kind="cotton")
SEWN = samples.sewn_of(samples.Part(samples.satin(8, 4), "satin"))


def bare() -> Strands:
    return strands_of(SEWN, (COTTON,), samples.JOB)


def test_smooth_thread_has_none() -> None:
    strands = bare()
    assert fuzz.with_fuzz(strands, [0.0], 3) is strands


@pytest.mark.parametrize("share", [0.4, 1.0])
def test_there_are_so_many_so_long(share: float) -> None:
    strands = bare()
    hairy = fuzz.with_fuzz(strands, [share], 3)
    hair = hairy.stitch == fuzz.HAIR
    assert len(hairy.stitch) - hair.sum() == len(strands.stitch)
    assert (np.diff(hairy.stitch[~hair]) == 1).all(), "stitches keep their order"
    length_mm = np.hypot(*(strands.end_mm - strands.start_mm).T).sum()
    assert hair.sum() / fuzz.PIECES / length_mm == pytest.approx(share * fuzz.HAIRS_PER_MM, rel=0.15)
    pieces = np.hypot(*(hairy.end_mm - hairy.start_mm)[hair].T).reshape(-1, fuzz.PIECES).sum(1)
    assert pieces.min() >= fuzz.LENGTH_MM[0] - 0.01
    assert pieces.max() <= fuzz.LENGTH_MM[1] + 0.01
    joined = hairy.start_mm[hair][1::2] == hairy.end_mm[hair][::2]
    assert joined.all()


def test_a_mirror_puts_them_to_the_other_side() -> None:
    mirrored = samples.moved_sewn(SEWN, lambda p: p * [-1, 1])
    other = fuzz.with_fuzz(strands_of(mirrored, (COTTON,), samples.JOB, hand=-1.0), [1.0], 3, hand=-1.0)
    assert other.start_mm * [-1, 1] == pytest.approx(fuzz.with_fuzz(bare(), [1.0], 3).start_mm, abs=1e-3)


def _drawn(px_per_mm: float, fuzzy: float) -> Layers:
    fibres = load_fibres()
    lobes = fibres | {"cotton": dataclasses.replace(fibres["cotton"], fuzz=fuzzy)}
    side = round(5 * px_per_mm)
    (layers,) = draw(
        SEWN,
        threads=(COTTON,),
        lobes=lobes,
        load_fabric=load_fabric,
        job=make_job(fabric="twill", finish="cleaned"),
        windows=[Window((0.0, 0.0), px_per_mm, side, side)],
    )
    return layers


def test_they_show_closely_and_change_no_colour() -> None:
    smooth, hairy = _drawn(60.0, 0.0), _drawn(60.0, 1.0)
    beside = (smooth.covered < 0.01) & (hairy.covered > 0.3)
    assert beside.sum() > 50, "none stands off the edge"
    inside = np.s_[100:200, 20:280]
    means = (layer.thread_linear[inside].mean((0, 1), dtype=float) for layer in (smooth, hairy))
    one, other = means
    assert other == pytest.approx(one, rel=0.06)
