"""The cloth under the stitching: pressed down, and drawn along."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, map_coordinates

from render.draw import seen_move, shadow
from render.draw.across import CELL_MM
from render.draw.dimples import STEPS_PER_MM
from render.draw.unmoved import moved_mm
from render.model import ClothMove

pytestmark = pytest.mark.twin


@pytest.mark.parametrize("hollow", [(0.0, 1.0), (0.6, 0.1)])
def test_dimple_light_is_lambert_on_its_slope_and_less_in_hollows(hollow: tuple[float, float]) -> None:
    rng = np.random.default_rng(11)
    dimple_steps = (0.3 * STEPS_PER_MM * rng.random((41, 145))).astype(np.int16)
    towards, key_share = np.array([-0.48, -0.48, 0.73]), 0.55
    frame = np.array([-59.3125, -8.125, 0.609375])
    wanted = np.zeros((24, 190), bool)
    wanted[:20, 140:160], wanted[:, 3] = True, True
    got = shadow.dimple_light(dimple_steps, frame, wanted, towards, key_share, CELL_MM, hollow)

    rows = frame[1] + frame[2] * np.arange(24)[:, None] + 20
    cols = frame[0] + frame[2] * np.arange(190)[None, :] + 72

    def pressed(down: float, across: float) -> np.ndarray:
        places = np.broadcast_arrays(rows + down, cols + across)
        return np.asarray(map_coordinates(dimple_steps / STEPS_PER_MM, places, order=1))

    slope_x = (pressed(0, 1) - pressed(0, -1)) / (2 * CELL_MM)
    slope_y = (pressed(1, 0) - pressed(-1, 0)) / (2 * CELL_MM)
    # Pressed down by D(x, y) a level cloth faces (D_x, D_y, 1); to the lamp as level cloth does, 1.
    facing = np.clip((slope_x * towards[0] + slope_y * towards[1]) / towards[2], -0.8, 0.8)
    deep = np.clip(np.minimum(pressed(0, 0), 2 * hollow[1] - pressed(0, 0)), 0, None)
    expected = (1 + key_share * facing) / (1 + hollow[0] * deep)
    assert got[wanted] == pytest.approx(expected[wanted], abs=2e-3)
    assert (got[~wanted] == 1.0).all()
    assert np.ptp(got) > 0.2


def test_level_cloth_keeps_its_light() -> None:
    flat = np.full((31, 31), 820, np.int16)
    got = shadow.dimple_light(
        flat, np.array([-5.0, -5.0, 0.5]), np.ones((20, 20), bool), np.array([0.5, 0.5, 0.7]), 0.6, CELL_MM
    )
    assert (got == 1.0).all()


def seen_mm(move: ClothMove, columns: NDArray[np.float64], rows: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far cloth seen there has moved (rows, cols, 2)."""
    found = seen_move.seen_move(move, columns, rows)
    (right, p), (down, q) = found.cells(columns, 0), found.cells(rows, 1)
    at = np.meshgrid(down + q, right + p, indexing="ij")
    return np.dstack([map_coordinates(found.back_mm[..., axis], at, order=1) for axis in (0, 1)])


def test_seen_move_of_evenly_drawn_cloth() -> None:
    """Closed form: cloth shrunk by e about the origin shows at x what lay at x / (1 - e)."""
    shrink = 0.03
    place = np.arange(-30.0, 31.0, 2.0)
    x, y = np.meshgrid(place, place)
    u = -shrink * np.stack([x, y], -1)
    move = ClothMove(u, np.zeros(x.shape, np.uint8), (-30.0, -30.0), 2.0)
    columns, rows = np.linspace(-20, 20, 9), np.linspace(-15, 18, 7)
    expected = -shrink / (1 - shrink) * np.stack(np.meshgrid(columns, rows), -1)
    # Each round leaves e of the error of the one before.
    assert seen_mm(move, columns, rows) == pytest.approx(expected, abs=25 * shrink**3)
    assert np.abs(expected).max() > 0.5


def test_seen_move_is_that_of_the_place_it_comes_from() -> None:
    """Its slow twin: the fixed point, solved for each place alone."""
    rng = np.random.default_rng(4)
    u = gaussian_filter(rng.uniform(-3, 3, (21, 19, 2)), (4.0, 4.0, 0))
    move = ClothMove(u, np.zeros(u.shape[:2], np.uint8), (-20.0, -15.0), 2.0)
    columns, rows = np.linspace(-23, 19, 40), np.linspace(-12, 29, 35)
    places = np.stack(np.meshgrid(columns, rows), -1).reshape(-1, 2)
    first = places
    for _ in range(30):
        first = places - moved_mm(move, first)
    found = seen_mm(move, columns, rows)
    # Between places it runs straight: off by what the cloth's strain changes there.
    assert found.reshape(-1, 2) == pytest.approx(places - first, abs=0.01)
    assert np.abs(found).max() > 0.4
    part = seen_mm(move, columns[11:20], rows[5:9])
    assert part == pytest.approx(found[5:9, 11:20], abs=1e-12)


def test_seen_move_is_nothing_where_nothing_moved() -> None:
    move = ClothMove(np.zeros((4, 4, 2)), np.zeros((4, 4), np.uint8), (-3.0, -3.0), 2.0)
    assert not seen_mm(move, np.linspace(-9, 9, 5), np.linspace(-9, 9, 6)).any()
