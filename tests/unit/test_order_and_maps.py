"""What an order takes, and maps over the piece."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from render.errors import UsageError
from render.inspect import Inspection, Piece
from render.inspection import piece_of
from render.inspection.maps import LEVELS, field_of
from render.inspection.order import OrderEstimate, order_estimate
from render.materials.job import make_job
from render.materials.production import usual_effort
from render.model import Production, Window
from render.preview import sew_design
from render.read import read_design

FOUND = Inspection((), 0, Production(600, 2, 3, 0, (5.0, 7.0), 4.0, clipped_mm=(20.0, 4.0)))


def estimate(quantity: int, heads: int = 1) -> OrderEstimate:
    return order_estimate(FOUND, quantity=quantity, heads=heads)


def test_twice_the_pieces_take_twice_the_thread_and_hands() -> None:
    one, two = estimate(24), estimate(48)
    assert two.needle_thread_m == pytest.approx([2 * metres for metres in one.needle_thread_m])
    assert two.bobbin_thread_m == pytest.approx(2 * one.bobbin_thread_m)
    assert (two.hooping_s, two.clean_up_s) == (2 * one.hooping_s, 2 * one.clean_up_s)
    assert two.machine_s == 2 * one.machine_s


@pytest.mark.parametrize(("quantity", "heads", "runs"), [(48, 4, 12), (49, 4, 13), (3, 6, 1)])
def test_heads_share_the_machine_time_in_whole_runs(quantity: int, heads: int, runs: int) -> None:
    found = estimate(quantity, heads)
    assert found.runs == runs
    assert found.machine_s == runs * 600
    assert found.needle_thread_m == estimate(quantity).needle_thread_m


def test_thread_with_what_is_lost_and_jumps_by_their_length() -> None:
    effort, found = usual_effort(), estimate(10)
    # Trade tables of sewing-thread makers: 10 to 15 % are lost.
    assert 0.10 <= effort.waste_share <= 0.15
    assert found.needle_thread_m == pytest.approx(
        [50 * (1 + effort.waste_share), 70 * (1 + effort.waste_share)]
    )
    assert found.clean_up_s == 10 * (effort.clip_s + effort.short_clip_s)
    assert found.total_s == found.machine_s + found.hooping_s + found.clean_up_s + found.bobbin_s


def test_bobbins_are_changed_when_they_are_empty() -> None:
    effort = usual_effort()
    pieces = int(2.5 * effort.bobbin_m / (4.0 * (1 + effort.waste_share)))
    assert estimate(pieces).bobbin_changes == 2
    assert estimate(1).bobbin_changes == 0


@pytest.mark.parametrize(("quantity", "heads"), [(0, 1), (5, 0)])
def test_no_order_is_refused(quantity: int, heads: int) -> None:
    with pytest.raises(UsageError, match="1 or more"):
        estimate(quantity, heads)


@pytest.fixture(scope="module")
def piece(repository: Path) -> Piece:
    job = make_job(fabric="jersey")
    return piece_of(sew_design(read_design(repository / "examples" / "wordmark.vp3"), job), job)


@pytest.mark.parametrize("name", list(LEVELS))
def test_maps_are_of_the_window_and_in_range(name: str, piece: Piece) -> None:
    field = field_of(piece, name, Window((0.0, 0.0), 5.0, 100, 300))  # type: ignore[arg-type]
    assert field.shape == (100, 300)
    assert np.isfinite(field).all()
    assert field.min() > -1e-9
    top = {"cover": 100.001, "order": 100.001, "pucker": 2.0}.get(name, 50.0)
    assert 0 < field.max() <= top


def test_displacement_is_that_of_the_cloth_at_its_own_points(piece: Piece) -> None:
    cloth = piece.sewn.cloth
    assert cloth is not None
    row, col = 20, 30
    x, y = (origin + cloth.cell_mm * at for origin, at in zip(cloth.origin_mm, (col, row), strict=True))
    (value,) = field_of(piece, "displacement", Window((x, y), 10.0, 1, 1)).ravel()
    assert value == pytest.approx(float(np.hypot(*cloth.u_mm[row, col])))


def test_order_runs_from_the_first_stitch_to_the_last(piece: Piece) -> None:
    plan = piece.plan
    for stitch in (60, len(plan.start_mm) - 60):
        x, y = ((piece.sewn.start_mm[stitch] + piece.sewn.end_mm[stitch]) / 2).tolist()
        (value,) = field_of(piece, "order", Window((x, y), 10.0, 1, 1)).ravel()
        assert value == pytest.approx(100 * stitch / len(plan.start_mm), abs=8)
