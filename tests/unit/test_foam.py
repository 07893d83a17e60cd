"""Foam raises the stitches of its block, and nothing that was sewn before it was laid."""

from __future__ import annotations

import dataclasses

import numpy as np
import samples

from render.draw.ground import ground_for, raised_base
from render.draw.stack import stack_strands
from render.draw.strands import strands_of
from render.materials.fabrics import load_fabric
from render.model import BlockTreatment

THREADS = (samples.RED, samples.CREAM)


def test_foam_lifts_its_own_block_alone() -> None:
    sewn = samples.sewn_of(
        samples.Part(samples.fill(12, 8), "fill", 0), samples.Part(samples.satin(8, 3), "satin", 1)
    )
    heights = []
    for foam_mm in (0.0, 2.0):
        blocks = {1: BlockTreatment("foam", height_mm=foam_mm)} if foam_mm else {}
        job = dataclasses.replace(samples.JOB, fabric=load_fabric("twill"), blocks=blocks, finish="cleaned")
        ground = ground_for(sewn, job, 10.0, load_fabric)
        strands = strands_of(sewn, THREADS, job)
        stacked = stack_strands(strands, raised_base(ground, strands), bedding=ground.bedding)
        of_fill = np.repeat(strands.thread == 0, np.diff(stacked.first))
        heights.append((stacked.height_mm[of_fill], stacked.height_mm[~of_fill]))
    (fill, satin), (fill_under, satin_on_foam) = heights
    assert (fill == fill_under).all()
    assert 1.5 < satin_on_foam.max() - satin.max() < 2.2
