"""Cloth taken out of the hoop: the embroidery resists as a sheet of its own."""

from __future__ import annotations

from typing import Any
from unittest.mock import patch

import numpy as np
import pytest
import scipy.sparse.linalg as spla
from samples import Part, fill, sewn_of

from render.materials.fabrics import load_fabric
from render.materials.stabilisers import load_hoop, make_holding
from render.sew import sew, stiffening
from render.sew.grid import make_grid
from render.sew.membrane import assemble, eigenstress_matrix, isotropic, turned
from render.sew.push import THREAD_WIDTH_MM

GRID = make_grid((-4, -3, 4, 3), (8, 6), 1.0)
AREA = GRID.node_area_mm2


def laid(mm_per_mm2: float, angle_deg: float) -> Any:
    """Thread of one direction everywhere, as its normals' tensor."""
    c, s = np.cos(np.deg2rad(angle_deg)), np.sin(np.deg2rad(angle_deg))
    return mm_per_mm2 * AREA[:, None] * np.array([s * s, c * c, -s * c])


@pytest.mark.parametrize("angle_deg", [0.0, 30.0, 90.0, 135.0])
def test_thread_of_one_direction_resists_along_it_and_less_across(angle_deg: float) -> None:
    much = 1.5
    along = much * stiffening.ALONG_N
    across = along * stiffening.ACROSS_SHARE * much * THREAD_WIDTH_MM
    expected = turned(np.diag([along, across, 0.0]), angle_deg)
    found = stiffening.thread_stiffness(GRID, laid(much, angle_deg), AREA)
    np.testing.assert_allclose(found, np.broadcast_to(expected, found.shape), atol=1e-12)


def test_a_free_stitched_sheet_shrinks_as_two_springs_side_by_side() -> None:
    """A tension s let out of a sheet E with thread of stiffness D along it: it shrinks by s / (E + D)."""
    stiff, tension, much = 4.0, 0.2, 2.0
    mesh = GRID.mesh
    matrix = assemble(mesh, isotropic(stiff, 0.0)) + assemble(
        mesh, stiffening.thread_stiffness(GRID, laid(much, 0.0), AREA)
    )
    force = eigenstress_matrix(mesh) @ np.tile([tension, 0.0, 0.0], len(mesh.elements))
    x, y = mesh.nodes_mm.T
    fixed = np.concatenate(
        [
            2 * np.flatnonzero(np.abs(x) < 1e-9),
            2 * np.flatnonzero((np.abs(x) < 1e-9) & (np.abs(y) < 1e-9)) + 1,
        ]
    )
    free = np.setdiff1d(np.arange(matrix.shape[0]), fixed)
    u = np.zeros(matrix.shape[0])
    u[free] = spla.spsolve(matrix.tocsc()[free][:, free], force[free])
    np.testing.assert_allclose(u[0::2], -tension / (stiff + much * stiffening.ALONG_N) * x, atol=1e-12)


@pytest.mark.slow
def test_a_filled_square_out_of_the_hoop_beside_practice() -> None:
    """Practice, no source: 1 to 2 % smaller on wovens with tear-away, 2 to 3 % on knits with cut-away."""
    plan = sewn_of(Part(fill(50, 50), "fill")).plan

    def shrinks(name: str, taken_out: bool) -> float:
        held = make_holding(load_fabric(name), hoop=load_hoop("square-130"), taken_out=taken_out)
        return sew(plan, held).objects[0].pull_in_mm / 50

    for name in ("twill", "jersey"):
        hooped, out = shrinks(name, False), shrinks(name, True)
        with patch.object(stiffening, "ALONG_N", 0.0):
            bare = shrinks(name, True)
        print(f"{name}: {hooped:.1%} in the hoop, {out:.1%} out of it, {bare:.1%} if thread resisted nothing")
        assert hooped < out < bare
