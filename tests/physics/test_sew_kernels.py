"""The compiled kernels of sewing against their slow twins."""

from __future__ import annotations

import naive
import numpy as np
import pytest

from render.sew.bands import cholesky_in_bands, in_bands
from render.sew.grid import Grid, make_grid
from render.sew.membrane import assemble_grid, isotropic
from render.sew.order import answer_to, drawn_by, in_turn, load_groups, moved_before, spread_groups
from render.sew.push import deal_out, push_forces
from render.sew.stitches import (
    at_points,
    contractions,
    ends_at,
    humps_drawn,
    locate,
    on_lines,
    pull,
    pull_humps,
    reach_of,
    spread,
    within_cells,
)

COLS, ROWS = 9, 7
RANDOM = np.random.default_rng(5)
STITCHES = 40
NODE = RANDOM.integers(0, ROWS - 2, 2 * STITCHES) * COLS + RANDOM.integers(0, COLS - 2, 2 * STITCHES)
WEIGHTS = RANDOM.random((2 * STITCHES, 2, 3))
FRACTION = RANDOM.random((2 * STITCHES, 2))
ANGLE = RANDOM.random(STITCHES) * 2 * np.pi
DIRECTION = np.stack([np.cos(ANGLE), np.sin(ANGLE)], 1)
U = RANDOM.normal(size=(ROWS * COLS, 2))
WITHIN = RANDOM.normal(size=(ROWS * COLS, 2))
CELLS, HUMPS = RANDOM.integers(0, ROWS * COLS, (2 * STITCHES, 2, 2)), RANDOM.random((2 * STITCHES, 2, 2))


def vectors() -> np.ndarray:
    ends = list(zip(NODE.tolist(), WEIGHTS, strict=True))
    return np.array(
        [
            naive.stitch_vector(ends[2 * s : 2 * s + 2], DIRECTION[s], COLS, ROWS * COLS)
            for s in range(STITCHES)
        ]
    )


def felt_within() -> np.ndarray:
    """Movement within cells as the ends feel it: (2 S, 2, 2 N)."""
    felt = np.zeros((2 * STITCHES, 2, ROWS * COLS, 2))
    for end, axis, k in np.ndindex(CELLS.shape):
        felt[end, axis, CELLS[end, axis, k], axis] += HUMPS[end, axis, k]
    return felt.reshape(2 * STITCHES, 2, -1)


def humps() -> np.ndarray:
    felt = felt_within()
    apart: np.ndarray = np.einsum("sd,sdn->sn", DIRECTION, felt[0::2] - felt[1::2])
    return apart


def test_contraction_and_its_transpose() -> None:
    drawn, (force, cells) = np.empty(STITCHES), np.zeros((2, ROWS * COLS, 2))
    contractions(U, NODE, WEIGHTS, DIRECTION, COLS, drawn)
    np.testing.assert_allclose(drawn, vectors() @ U.ravel(), atol=1e-12)
    humps_drawn(WITHIN, CELLS, HUMPS, DIRECTION, drawn)
    np.testing.assert_allclose(drawn, vectors() @ U.ravel() + humps() @ WITHIN.ravel(), atol=1e-12)
    tension = RANDOM.random(STITCHES)
    pull(tension, NODE, WEIGHTS, DIRECTION, COLS, force)
    pull_humps(tension, CELLS, HUMPS, DIRECTION, cells)
    np.testing.assert_allclose(force.ravel(), vectors().T @ tension, atol=1e-12)
    np.testing.assert_allclose(cells.ravel(), humps().T @ tension, atol=1e-12)


def test_movement_within_cells() -> None:
    found = np.zeros((2 * STITCHES, 2))
    within_cells(WITHIN, CELLS, HUMPS, found)
    np.testing.assert_allclose(found, felt_within() @ WITHIN.ravel(), atol=1e-12)


def test_an_end_feels_the_cells_its_spot_lies_on() -> None:
    x = np.array([-4.0, -2.5, -1.3, 0.0, 1.2, 2.4, 5.0])
    y = np.array([-3.0, -1.5, 0.0, 1.5, 3.0])
    points = RANDOM.uniform((-3.4, -2.4), (4.4, 2.4), (30, 2))
    points[0], points[1] = (0.0, 0.7), (-1.9, 1.5)
    grid = Grid(x, y, 1.2)
    ends = ends_at(grid, points, reach_of(grid, 1.0))
    for p in range(len(points)):
        felt: dict[tuple[int, int, int], float] = {}
        for axis, k in np.ndindex(2, 2):
            row, col = divmod(int(ends.cells[p, axis, k]), len(x))
            felt[axis, col, row] = felt.get((axis, col, row), 0.0) + float(ends.humps[p, axis, k])
        twin = naive.spot_humps((x.tolist(), y.tolist()), points[p].tolist(), 1.0)
        for key in felt.keys() | twin.keys():
            assert felt.get(key, 0.0) == pytest.approx(twin.get(key, 0.0), abs=1e-3), (p, key)


def test_values_at_points_and_spreading_back() -> None:
    values, spreaded = np.empty((2 * STITCHES, 2)), np.zeros((ROWS * COLS, 2))
    at_points(U, NODE, WEIGHTS, COLS, values)
    spread(values, NODE, WEIGHTS, COLS, spreaded)
    weights = np.zeros((2 * STITCHES, ROWS * COLS))
    for p in range(2 * STITCHES):
        for n, weight in naive.shape_values(int(NODE[p]), WEIGHTS[p], COLS).items():
            weights[p, n] = weight
    np.testing.assert_allclose(values, weights @ U, atol=1e-12)
    np.testing.assert_allclose(spreaded, weights.T @ values, atol=1e-12)


def test_thread_dealt_out_along_its_length() -> None:
    out, length = np.zeros((ROWS * COLS, 3)), RANDOM.random(STITCHES)
    corners = np.stack([1 - FRACTION, FRACTION], 2)
    deal_out(NODE, corners, COLS, 2, DIRECTION, length, out)
    twin = naive.normal_lengths(NODE, corners, COLS, 2, DIRECTION, length, ROWS * COLS)
    np.testing.assert_allclose(out, twin, atol=1e-12)
    assert out[:, :2].sum() == pytest.approx(length.sum())


@pytest.mark.parametrize("wide", [0.0, 0.7, 1.0])
def test_a_spot_lies_on_lines_as_the_mean_of_its_points(wide: float) -> None:
    line = np.array([-4.0, -2.5, -1.2, 0.0, 1.0, 2.0, 3.3, 5.5])
    value = np.array([-5.0, -3.9, -2.5, -0.6, 0.0, 0.3, 1.5, 2.9, 5.2, 5.5])
    first, weights = np.empty(len(value), np.int64), np.empty((len(value), 3))
    on_lines(line, value, wide, first, weights)
    inside = np.clip(value, line[0], line[-1])
    for p in range(len(value)):
        whole = np.zeros(len(line))
        whole[first[p] : first[p] + 3] = weights[p]
        np.testing.assert_allclose(whole, naive.line_weights(line, inside[p], wide), atol=2e-4)


def test_a_spot_as_wide_as_a_cell_has_the_weights_of_a_quadratic_spline() -> None:
    """(1/2 - r)^2 / 2, 3/4 - r^2, (1/2 + r)^2 / 2 at r from a line: de Boor, A Practical Guide to

    Splines (1978), chapter X, on even knots.
    """
    r = np.linspace(-0.5, 0.5, 11)[1:-1]
    first, weights = np.empty(len(r), np.int64), np.empty((len(r), 3))
    on_lines(np.arange(9.0), 4 + r, 1.0, first, weights)
    assert (first == 3).all()
    spline = np.stack([(0.5 - r) ** 2 / 2, 0.75 - r**2, (0.5 + r) ** 2 / 2], 1)
    np.testing.assert_allclose(weights, spline, atol=1e-12)


def test_answer_of_a_window() -> None:
    loads = RANDOM.normal(size=(3, 4, 5, 2)) * (RANDOM.random((3, 4, 5, 1)) < 0.4)
    table = RANDOM.normal(size=(2, 7, 9, 4))
    np.testing.assert_allclose(answer_to(loads, table), naive.answer_by_offsets(loads, table), atol=1e-12)


def test_groups_load_and_are_drawn_together_and_moved() -> None:
    size, groups, nodes = 6, 7, ROWS * COLS
    pulls, forces = np.zeros((groups, nodes, 2)), np.zeros((groups, nodes, 2))
    load_groups(size, NODE, WEIGHTS, DIRECTION, COLS, pulls)
    force = RANDOM.normal(size=(2 * STITCHES, 2))
    spread_groups(size, force, NODE, WEIGHTS, COLS, forces)
    at = np.zeros((2 * STITCHES, nodes))
    for p in range(2 * STITCHES):
        for n, weight in naive.shape_values(int(NODE[p]), WEIGHTS[p], COLS).items():
            at[p, n] = weight
    group = np.arange(2 * STITCHES) // (2 * size)
    for g in range(groups):
        np.testing.assert_allclose(pulls[g].ravel(), vectors()[group[::2] == g].sum(0), atol=1e-12)
        np.testing.assert_allclose(forces[g], at[group == g].T @ force[group == g], atol=1e-12)
    moved = RANDOM.normal(size=(2 * groups, nodes, 4))
    np.testing.assert_allclose(
        drawn_by(pulls, moved[:groups]), naive.contraction_by_movement(pulls, moved[:groups]), atol=1e-12
    )
    tension, share = np.tril(RANDOM.random((groups, groups))), RANDOM.random(groups)
    found = moved_before(size, tension, share, moved, NODE, WEIGHTS, COLS)
    acts = np.concatenate([tension, np.tri(groups, k=-1) + np.diag(share)], 1)
    expected = np.einsum("ph,pn,hnd->pd", acts[group], at, moved)
    np.testing.assert_allclose(found, expected, atol=1e-11)


def test_forces_of_a_stress() -> None:
    x, y = np.cumsum(RANDOM.uniform(0.5, 2, COLS)), np.cumsum(RANDOM.uniform(0.5, 2, ROWS))
    stress = RANDOM.normal(size=(ROWS * COLS, 3))
    found = push_forces(stress, x, y)
    np.testing.assert_allclose(found, naive.push_forces(stress, x, y), atol=1e-12)
    np.testing.assert_allclose(found.sum(0), 0, atol=1e-12)


def test_factor_of_a_banded_matrix() -> None:
    size, wide = 20, 5
    root = np.tril(np.triu(RANDOM.normal(size=(size, size)), 1 - wide)) + 4 * np.eye(size)
    bands = np.zeros((size, wide))
    for d in range(wide):
        bands[: size - d, d] = np.diagonal(root @ root.T, -d)
    cholesky_in_bands(bands)
    expected = np.linalg.cholesky(root @ root.T)
    for d in range(wide):
        np.testing.assert_allclose(bands[: size - d, d], np.diagonal(expected, -d), atol=1e-12)


def test_two_joined_layers_solved_in_bands_as_a_whole_matrix_is() -> None:
    x = np.cumsum(RANDOM.uniform(0.5, 2, 6))
    layers = [assemble_grid(x, x, isotropic(stiff, 0.3)) for stiff in (1.0, 12.0)]
    bond, size = RANDOM.random(36), 2 * 72
    spring = np.diag(np.repeat(bond, 2))
    whole = np.block([[layers[0].toarray() + spring, -spring], [-spring, layers[1].toarray() + spring]])
    free = np.zeros((2, 6, 6, 2), bool)
    free[:, 1:-1, 1:-1] = True
    order = np.flatnonzero(free)
    order = order.reshape(2, -1, 2).transpose(1, 0, 2).ravel()
    place = np.full(size, -1, np.int32)
    place[order] = np.arange(len(order))
    force = RANDOM.normal(size=len(order))
    expected = np.linalg.solve(whole[np.ix_(order, order)], force)
    for single, near in ((True, 1e-4), (False, 1e-11)):
        found = in_bands(layers, bond, place, len(order), single=single)(force)
        np.testing.assert_allclose(found, expected, rtol=0, atol=near * np.abs(expected).max())


def test_tensions_of_groups_in_turn() -> None:
    root = RANDOM.normal(size=(12, 12))
    drawn, stiffness = root @ root.T / 12, 1 + RANDOM.random(12)
    sizes = np.full(12, 3)
    share = 0.5 * (1 - 1 / sizes)
    found = in_turn(drawn, stiffness, 0.35, sizes, share)
    np.testing.assert_allclose(found, naive.tensions_in_turn(drawn, stiffness, 0.35, share), atol=1e-10)


def test_points_are_found_in_their_cells() -> None:
    grid = make_grid((-6, -4, 6, 4), (30, 20), 1.0)
    points = RANDOM.uniform((-30, -20), (30, 20), (200, 2))
    places, back = locate(grid, points), np.empty((200, 2))
    at_points(grid.nodes_mm, places.node, places.weights, len(grid.x_mm), back)
    np.testing.assert_allclose(back, points, atol=1e-12)
