"""The cloth in its hoop before the first stitch, and what it does when it is taken out."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import scipy.sparse as sp

from render.errors import InputError
from render.sew.cloth import Cloth, factorise
from render.sew.grid import Grid, make_grid
from render.sew.membrane import assemble, assemble_grid, eigenstress_matrix, isotropic, orthotropic, turned
from render.sew.sequence import BLOCK_SETTLED_MM, MOST_RELEASES
from render.sew.stiffening import thread_stiffness

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from render.model import Fabric, Holding
    from render.sew.settle import Sewing

    Floats = NDArray[np.float64]

CELLS_ALONG = 32  # cells along the design's longer side, as far as the limits allow
FINEST_CELL_MM, COARSEST_CELL_MM = 1.0, 3.0
ROOM_MM = 2.0  # least distance of the design from the hoop
N_PER_MM = 1e-3  # N/m to N/mm
TABLE_N_PER_MM3 = 1e-5  # weak bed on which cloth out of the hoop lies, only to keep it in place


def hoop_half_mm(box_mm: tuple[float, float, float, float], holding: Holding) -> tuple[float, float]:
    """Half sides of the hoop, or of the least one around the design where it does not fit."""
    left, top, right, bottom = box_mm
    return (
        max(0.5 * holding.hoop.width_mm, 0.5 * (right - left) + ROOM_MM),
        max(0.5 * holding.hoop.height_mm, 0.5 * (bottom - top) + ROOM_MM),
    )


def cloth_in_hoop(
    box_mm: tuple[float, float, float, float], holding: Holding, cell_mm: float | None = None
) -> Cloth:
    """Fabric and stabiliser in a hoop centred on the design's box.

    Raises InputError for a fabric whose stiffnesses no material can have.
    """
    left, top, right, bottom = box_mm
    if cell_mm is None:
        longer = max(right - left, bottom - top)
        cell_mm = min(max(longer / CELLS_ALONG, FINEST_CELL_MM), COARSEST_CELL_MM)
    half = hoop_half_mm(box_mm, holding)
    grid = make_grid(box_mm, half, cell_mm)
    mesh = grid.mesh
    stiffness = [fabric_stiffness(holding.fabric, holding.fabric_turn_deg)]
    shares = np.ones(1)
    if holding.stabiliser is not None:
        sheet = holding.stabiliser
        stiffness.append(isotropic(sheet.e_n_per_m * N_PER_MM, sheet.poisson))
        shares = np.array([holding.fabric_share, 1 - holding.fabric_share])
    x, y = (mesh.nodes_mm - (0.5 * (left + right), 0.5 * (top + bottom))).T
    if holding.hoop.shape == "ellipse":
        held = (x / half[0]) ** 2 + (y / half[1]) ** 2 > 1 - 1e-9
    elif holding.hoop.shape == "cap":
        held = y > half[1] - 1e-9
    else:
        held = (np.abs(x) > half[0] - 1e-9) | (np.abs(y) > half[1] - 1e-9)
    free = np.ones((len(stiffness), len(x), 2), bool)
    free[:, held] = False
    if not holding.cloth_in_hoop:
        free[0] = True
    layers = tuple(assemble_grid(grid.x_mm, grid.y_mm, law) for law in stiffness)
    return Cloth(grid, layers, shares, free, tuple(stiffness))


def fabric_stiffness(fabric: Fabric, turn_deg: float) -> Floats:
    """Stiffness (3, 3) in N/mm; unturned the warp, or the wales, run along y."""
    try:
        stiffness = orthotropic(
            e_x_n_per_mm=fabric.e_weft_n_per_m * N_PER_MM,
            e_y_n_per_mm=fabric.e_warp_n_per_m * N_PER_MM,
            poisson_yx=fabric.poisson,
            shear_n_per_mm=fabric.shear_n_per_m * N_PER_MM,
        )
    except (ValueError, ZeroDivisionError):
        raise InputError(
            f"fabric {fabric.name}: no cloth has stiffnesses of {fabric.e_warp_n_per_m:g} and "
            f"{fabric.e_weft_n_per_m:g} N/m, Poisson's ratio {fabric.poisson:g} and shear "
            f"{fabric.shear_n_per_m:g} N/m: give stiffnesses above 0 and a smaller ratio"
        ) from None
    return turned(stiffness, turn_deg)


def hooping_stress(holding: Holding) -> Floats:
    """Stress (3,) in N/mm of the fabric in the hoop before the first stitch."""
    tension = holding.stretch * holding.fabric.pretension_n_per_m * N_PER_MM
    return np.array([tension, tension, 0.0])


def contact(grid: Grid, holding: Holding) -> Floats:
    """Springs (N,) in N/mm that keep the layers together where nothing is sewn."""
    return holding.contact_n_per_mm3 * grid.node_area_mm2


def take_out(sewing: Sewing, holding: Holding) -> None:
    """Let go of the edges: the hooping tension leaves the fabric and slack stitches let go.

    What shrinks then presses on the embroidery, which resists as a sheet that is at rest as it was sewn.
    The cloth ends on a weak bed that only keeps it from wandering off.
    """
    cloth = sewing.cloth
    mesh = cloth.grid.mesh
    thread = assemble(mesh, thread_stiffness(cloth.grid, sewing.laid_mm, sewing.area_mm2))
    bed = sp.diags(np.repeat(TABLE_N_PER_MM3 * cloth.grid.node_area_mm2, 2))
    layers = [(layer + bed).tocsr() for layer in cloth.layers]
    layers[0] = (layers[0] + thread).tocsr()
    sewing.cloth = replace(cloth, layers=tuple(layers), free=np.ones(cloth.free.shape, bool))
    if not holding.adhesive:
        sewing.bond = sewing.bond - contact(cloth.grid, holding)
    stress = np.tile(hooping_stress(holding), len(mesh.elements))
    fabric_mm = sewing.u_mm[0].ravel()
    sewing.held_n[: len(fabric_mm)] = eigenstress_matrix(mesh) @ stress + thread @ fabric_mm
    factor = factorise(sewing.cloth, sewing.bond)
    for _ in range(MOST_RELEASES):
        sewing.settle(factor, BLOCK_SETTLED_MM)
        if not sewing.release_slack():
            break
    sewing.settle(factor)
