"""The compiled kernels of sewing against their slow twins."""

from __future__ import annotations

import naive
import numpy as np
import pytest

from render.sew.cloth import cholesky_in_bands
from render.sew.grid import make_grid
from render.sew.order import answer_to, drawn_by, in_turn, together
from render.sew.push import deal_out, push_forces
from render.sew.stitches import at_points, contractions, locate, pull, spread, within_cells

COLS, ROWS = 9, 7
RANDOM = np.random.default_rng(5)
STITCHES = 40
NODE = RANDOM.integers(0, ROWS - 1, 2 * STITCHES) * COLS + RANDOM.integers(0, COLS - 1, 2 * STITCHES)
FRACTION = RANDOM.random((2 * STITCHES, 2))
ANGLE = RANDOM.random(STITCHES) * 2 * np.pi
DIRECTION = np.stack([np.cos(ANGLE), np.sin(ANGLE)], 1)
U = RANDOM.normal(size=(ROWS * COLS, 2))
WITHIN = RANDOM.normal(size=(ROWS * COLS, 2))


def vectors() -> np.ndarray:
    ends = list(zip(NODE.tolist(), FRACTION.tolist(), strict=True))
    return np.array(
        [
            naive.stitch_vector(ends[2 * s : 2 * s + 2], DIRECTION[s], COLS, ROWS * COLS)
            for s in range(STITCHES)
        ]
    )


def humps() -> np.ndarray:
    ends = list(zip(NODE.tolist(), FRACTION.tolist(), strict=True))
    return np.array(
        [
            naive.stitch_humps(ends[2 * s : 2 * s + 2], DIRECTION[s], ROWS * COLS).ravel()
            for s in range(STITCHES)
        ]
    )


def test_contraction_and_its_transpose() -> None:
    drawn, (force, cells) = np.empty(STITCHES), np.zeros((2, ROWS * COLS, 2))
    contractions(U, WITHIN, NODE, FRACTION, DIRECTION, COLS, drawn)
    lie, rows = np.concatenate([U.ravel(), WITHIN.ravel()]), np.concatenate([vectors(), humps()], 1)
    np.testing.assert_allclose(drawn, rows @ lie, atol=1e-12)
    tension = RANDOM.random(STITCHES)
    pull(tension, NODE, FRACTION, DIRECTION, COLS, force, cells)
    np.testing.assert_allclose(np.concatenate([force, cells]).ravel(), rows.T @ tension, atol=1e-12)


def test_movement_within_cells() -> None:
    found, apart = np.zeros((2 * STITCHES, 2)), np.array([[1.0, 0.0], [0.0, 1.0]])
    within_cells(WITHIN, NODE, FRACTION, found)
    for p, (node, fraction) in enumerate(zip(NODE.tolist(), FRACTION.tolist(), strict=True)):
        for axis in range(2):
            alone = naive.stitch_humps([(node, fraction), (0, (0, 0))], apart[axis], ROWS * COLS)
            assert found[p, axis] == pytest.approx(float((alone * WITHIN).sum()), abs=1e-12)


def test_values_at_points_and_spreading_back() -> None:
    values, spreaded = np.empty((2 * STITCHES, 2)), np.zeros((ROWS * COLS, 2))
    at_points(U, NODE, FRACTION, COLS, values)
    spread(values, NODE, FRACTION, COLS, spreaded)
    weights = np.zeros((2 * STITCHES, ROWS * COLS))
    for p in range(2 * STITCHES):
        for n, weight in naive.shape_values(int(NODE[p]), FRACTION[p], COLS).items():
            weights[p, n] = weight
    np.testing.assert_allclose(values, weights @ U, atol=1e-12)
    np.testing.assert_allclose(spreaded, weights.T @ values, atol=1e-12)


def test_thread_dealt_out_along_its_length() -> None:
    out, length = np.zeros((ROWS * COLS, 3)), RANDOM.random(STITCHES)
    deal_out(NODE, FRACTION, COLS, 2, DIRECTION, length, out)
    twin = naive.normal_lengths(NODE, FRACTION, COLS, 2, DIRECTION, length, ROWS * COLS)
    np.testing.assert_allclose(out, twin, atol=1e-12)
    assert out[:, :2].sum() == pytest.approx(length.sum())


def test_answer_of_a_window() -> None:
    loads = RANDOM.normal(size=(3, 4, 5, 2)) * (RANDOM.random((3, 4, 5, 1)) < 0.4)
    table = RANDOM.normal(size=(7, 9, 4, 2))
    np.testing.assert_allclose(answer_to(loads, table), naive.answer_by_offsets(loads, table), atol=1e-12)


def test_groups_drawn_together_and_movements_summed() -> None:
    loads, moved = RANDOM.normal(size=(5, 6, 2)), RANDOM.normal(size=(4, 6, 4))
    loads[2] = 0.0
    np.testing.assert_allclose(
        drawn_by(loads, moved), naive.contraction_by_movement(loads, moved), atol=1e-12
    )
    weights = RANDOM.normal(size=(3, 4)) * (RANDOM.random((3, 4)) < 0.6)
    np.testing.assert_allclose(together(weights, moved), np.tensordot(weights, moved, 1), atol=1e-12)


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
    at_points(grid.nodes_mm, places.node, places.fraction, len(grid.x_mm), back)
    np.testing.assert_allclose(back, points, atol=1e-12)
