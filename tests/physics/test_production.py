"""Time and thread against published values and geometry."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from inspect_pieces import CHANGE, inspected
from numpy.typing import NDArray
from plan_pieces import Piece, column, path_running, straight
from shapely import LineString

from render.inspect.production import bobbin_mm, needle_mm, production_of, sewing_time_s, thickness_mm
from render.inspection import piece_of
from render.materials.job import make_job
from render.materials.production import usual_effort
from render.model import Command
from render.preview import sew_design
from render.read import read_design

EFFORT = usual_effort()
Floats = NDArray[np.float64]


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
    bobbin = stitch + thickness
    needle = needle_mm(stitch, thickness, bobbin)
    assert (needle + bobbin).sum() / INCH_MM == pytest.approx(2 + 2 * 0.025 * 10)
    assert (needle + bobbin)[0] == pytest.approx(6.35)
    # Balanced, both take l + t (balance 1:1: ISO 4915, type 301).
    assert needle == pytest.approx(bobbin)


def zigzag(width_mm: float, count: int, advance_mm: float = 0.0) -> tuple[Floats, Floats]:
    """Starts and ends (S, 2) of stitches to and fro."""
    along = advance_mm * np.arange(count + 1) / 2
    points = np.column_stack([along, width_mm * (np.arange(count + 1) % 2)])
    return points[:-1], points[1:]


@pytest.mark.parametrize("share", [0.1, 1 / 3, 0.5, 0.9])
def test_on_a_satins_back_the_bobbin_shows_on_its_share(share: float) -> None:
    """Own geometry: bobbin l / 3 and needle 5 l / 3 + 2 t where it shows on the middle third."""
    bobbin = bobbin_mm(*zigzag(3.0, 40), np.zeros(40, bool), share)[1:-1]
    assert bobbin == pytest.approx(share * 3.0)
    needle = needle_mm(np.full(38, 3.0), 0.8, bobbin)
    assert needle == pytest.approx((2 - share) * 3.0 + 2 * 0.8)
    if share == 1 / 3:
        assert needle == pytest.approx(5 * 3.0 / 3 + 2 * 0.8)


def test_along_a_straight_run_the_bobbin_spans_every_stitch() -> None:
    """A thread is no shorter than the way it goes: closed form."""
    points = np.outer(np.arange(21), [1.5, 2.0])
    bobbin = bobbin_mm(points[:-1], points[1:], np.zeros(20, bool), 1 / 3)
    assert bobbin == pytest.approx(2.5)


def test_bobbin_thread_from_hole_to_hole_is_that_of_a_drawn_polyline() -> None:
    """Against a general-purpose library: the length of a line through the drawn holes."""
    share, advance = 1 / 3, 0.8
    start, end = zigzag(4.0, 30, advance)
    bobbin = bobbin_mm(start, end, np.zeros(30, bool), share)[1:-1]
    left, right = 4.0 * (1 - share) / 2, 4.0 * (1 + share) / 2
    line = LineString([(advance / 2 * k, (left, right)[k % 2]) for k in range(1, 30)])
    assert bobbin.sum() == pytest.approx(line.length)


def test_bobbin_thread_is_the_same_turned_and_backwards_and_never_past_a_break() -> None:
    rng = np.random.default_rng(7)
    points = np.cumsum(rng.normal(size=(60, 2)), 0)
    none = np.zeros(59, bool)
    bobbin = bobbin_mm(points[:-1], points[1:], none, 1 / 3)
    turn = np.array([[0.6, -0.8], [0.8, 0.6]])
    turned = points @ turn.T
    assert bobbin_mm(turned[:-1], turned[1:], none, 1 / 3) == pytest.approx(bobbin)
    back = points[::-1]
    assert bobbin_mm(back[:-1], back[1:], none, 1 / 3)[::-1] == pytest.approx(bobbin)
    broken = none.copy()
    broken[30] = True
    parts = [
        bobbin_mm(own[:-1], own[1:], np.zeros(len(own) - 1, bool), 1 / 3)
        for own in (points[:31], points[30:])
    ]
    assert bobbin_mm(points[:-1], points[1:], broken, 1 / 3) == pytest.approx(np.concatenate(parts))


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


def test_both_threads_are_dragged_where_nothing_cuts() -> None:
    one, other = running_piece(40), running_piece(40).turned(0.0, (0.0, 20.0))
    cut = production_of(inspected(one, (Command.TRIM, Command.JUMP), other))
    piece = inspected(one, (Command.JUMP,), other, job=make_job(machine="no-trimmer"))
    dragged = production_of(piece)
    (travel,) = (t for t in piece.plan.travels if t.after_stitch >= 0 and t.cut == "no")
    assert sum(dragged.needle_thread_m) - sum(cut.needle_thread_m) == pytest.approx(travel.length_mm / 1000)
    assert dragged.bobbin_thread_m - cut.bobbin_thread_m == pytest.approx(travel.length_mm / 1000)
    assert dragged.clipped_mm == pytest.approx((travel.length_mm,), abs=0.5)
    assert not cut.clipped_mm


@pytest.mark.parametrize(("fabric", "pressed"), [("twill", 1.0), ("terry", EFFORT.pressed_pile_share)])
def test_a_pile_is_pressed_down_under_stitches(fabric: str, pressed: float) -> None:
    piece = inspected(running_piece(40), job=make_job(fabric=fabric))
    sheet = EFFORT.stabiliser_mm
    assert thickness_mm(piece, EFFORT) == pytest.approx(piece.job.fabric.thickness_mm * pressed + sheet)


@pytest.mark.parametrize("fabric", ["twill", "jersey", "terry"])
def test_the_crest_takes_what_the_rule_of_thumb_says(
    fabric: str, repository: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Rule of thumb (melgeecrafts web page): about 5 m of needle thread a 1000 stitches, 3 to 8 m for
    a mixed logo, and 3 to 3.5 m of bobbin thread, of which geometry gives half."""
    monkeypatch.setattr("render.inspection.PX_PER_MM", 8.0)  # what dragged thread is seen, nothing else
    job = make_job(fabric=fabric)
    piece = piece_of(sew_design(read_design(repository / "examples" / "crest.vp3"), job), job)
    found, thousands = production_of(piece), len(piece.plan.start_mm) / 1000
    assert 3 <= sum(found.needle_thread_m) / thousands <= 8
    assert 1 <= found.bobbin_thread_m / thousands <= 3.5
