"""Time and thread against published values and geometry."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from inspect_pieces import CHANGE, inspected
from plan_pieces import Piece, column, path_running, straight

from render.inspect.production import lockstitch_mm, production_of, sewing_time_s
from render.materials.job import make_job
from render.materials.production import usual_effort

EFFORT = usual_effort()


def satin_piece(length_mm: float, width_mm: float) -> Piece:
    return column(straight(length_mm), width_mm, 0.4)


def running_piece(length_mm: float) -> Piece:
    return path_running(straight(length_mm), 2.5)


FREE = dataclasses.replace(EFFORT, trim_s=0.0, colour_change_s=0.0, stop_s=0.0)
INCH_MM = 25.4


# 301 lockstitch: C = 2 + 2 T S of thread to the length of seam; T = 0.025 in, S = 10 an inch gives 2.5
# (textilecalculation 2015); in mm: stitch 2.54, thickness 0.635, 6.35 of thread a stitch.
def test_balanced_lockstitch_takes_as_much_as_the_seam_formula_says() -> None:
    stitch, thickness = np.full(10, INCH_MM / 10), 0.025 * INCH_MM
    needle, bobbin = lockstitch_mm(stitch, thickness, 1.0)
    assert (needle + bobbin).sum() / INCH_MM == pytest.approx(2 + 2 * 0.025 * 10)
    assert (needle + bobbin)[0] == pytest.approx(6.35)
    # Balanced, both take l + t (balance 1:1: ISO 4915, type 301).
    assert needle == pytest.approx(stitch + thickness)
    assert bobbin == pytest.approx(stitch + thickness)


@pytest.mark.parametrize("share", [0.1, 1 / 3, 0.5, 0.9, 1.0])
def test_where_the_threads_lock_changes_no_total(share: float) -> None:
    """Own geometry: 2 (l + t) a stitch, wherever the lock sits."""
    length = np.array([0.4, 2.0, 7.0])
    needle, bobbin = lockstitch_mm(length, 1.1, share)
    assert needle + bobbin == pytest.approx(2 * (length + 1.1), abs=1e-9)


def test_bobbin_on_the_middle_third() -> None:
    """Own geometry: needle 5 l / 3 + 2 t, bobbin l / 3."""
    needle, bobbin = lockstitch_mm(np.array([3.0]), 0.8, 1 / 3)
    assert needle == pytest.approx([5 * 3.0 / 3 + 2 * 0.8])
    assert bobbin == pytest.approx([1.0])


def test_eight_thousand_stitches_at_eight_hundred_a_minute_take_ten_minutes() -> None:
    """Arithmetic, with short stitches and nothing besides."""
    assert sewing_time_s(np.full(8000, 2.5), 800.0, FREE) == pytest.approx(600.0)


def test_long_stitches_slow_the_machine_down_to_its_slowest() -> None:
    at = [sewing_time_s(np.full(100, mm), 800.0, EFFORT) for mm in (2.0, 4.0, 8.0, 12.0, 30.0)]
    assert at[0] == at[1] < at[2] < at[3] == at[4]
    assert at[4] == pytest.approx(at[0] / EFFORT.slowest_share)


def test_trims_changes_and_caps_add_their_time() -> None:
    one, other = satin_piece(20, 3), satin_piece(20, 3).turned(0.0, (30.0, 0.0))
    piece = inspected(one, CHANGE, other, job=make_job(machine="multi-needle"))
    free, full = production_of(piece, FREE), production_of(piece, EFFORT)
    assert (full.trims, full.colour_changes) == (1, 1)
    assert full.run_time_s - free.run_time_s == pytest.approx(EFFORT.trim_s + EFFORT.colour_change_s)
    cap = production_of(dataclasses.replace(piece, cap=True), FREE)
    machine = piece.job.machine
    assert cap.run_time_s / free.run_time_s == pytest.approx(machine.speed_spm / machine.cap_speed_spm)


def test_thread_is_reckoned_by_colour() -> None:
    one, other = running_piece(40), running_piece(40).turned(0.0, (0.0, 20.0))
    both = production_of(inspected(one, CHANGE, other))
    alone = production_of(inspected(one))
    assert len(both.needle_thread_m) == 2
    assert both.needle_thread_m[0] == pytest.approx(both.needle_thread_m[1], rel=0.05)
    assert both.needle_thread_m[0] == pytest.approx(alone.needle_thread_m[0], rel=1e-6)


def test_a_mixed_logo_takes_what_the_rule_of_thumb_says() -> None:
    """Rule of thumb (melgeecrafts web page): about 5 m of needle thread a 1000 stitches, 3 to 8 m."""
    piece = inspected(satin_piece(40, 3), CHANGE, satin_piece(60, 4).turned(0.0, (0.0, 30.0)))
    per_1000 = 1000 * sum(production_of(piece).needle_thread_m) / len(piece.plan.start_mm)
    assert 3 <= per_1000 <= 9
