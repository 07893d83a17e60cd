"""Short and long stitches, ties, jumps and cuts, crowding and worn holes: by hand, around their limits."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from inspect_pieces import CHANGE, inspected, moved
from plan_pieces import Piece as Sewing
from plan_pieces import box_fill, column, path_running, straight, tie

from render.inspect.crowding import crowded_spots, layers_map, repeated_holes
from render.inspect.jumps import clipped_mm, needless_trims, uncut_jumps
from render.inspect.lengths import long_stitches, short_stitches
from render.inspect.ties import missing_ties
from render.inspection import piece_of
from render.materials.job import make_job
from render.model import BlockTreatment, Command
from render.preview import sew_design
from render.read import read_design

RUN = path_running(straight(30), 2.5)
SATIN = column(straight(12), 3.0, 0.4)


def stepping(stitch_mm: float, count: int = 30) -> Sewing:
    return path_running(straight(stitch_mm * count), stitch_mm)


# --- lengths


@pytest.mark.parametrize(("stitch_mm", "severity"), [(0.2, "fix"), (0.4, "check"), (0.5, None), (2.0, None)])
def test_short_stitches_by_their_length(stitch_mm: float, severity: str | None) -> None:
    found = list(short_stitches(inspected(stepping(stitch_mm))))
    assert [one.severity for one in found] == ([] if severity is None else [severity])
    if found:
        assert found[0].size_mm == pytest.approx(stitch_mm, abs=0.051)


def test_a_tie_is_short_on_purpose() -> None:
    tied = tie((0.0, 0.0), (1.0, 0.0)).then(RUN)
    assert not list(short_stitches(inspected(tied)))


def test_steps_between_rows_are_no_short_stitches() -> None:
    assert not list(short_stitches(inspected(box_fill(12, 10, 0.4, 4.0))))
    assert not list(short_stitches(inspected(SATIN)))


@pytest.mark.parametrize(("stitch_mm", "severity"), [(6.0, None), (8.0, "check"), (13.0, "fix")])
def test_long_stitches_by_their_length(stitch_mm: float, severity: str | None) -> None:
    found = list(long_stitches(inspected(RUN.then(moved(stepping(stitch_mm, 4), 32.0, 0.0)))))
    assert [one.severity for one in found] == ([] if severity is None else [severity])
    if found:
        assert found[0].size_mm == pytest.approx(stitch_mm, abs=0.051)


@pytest.mark.parametrize(("stray_mm", "found"), [(0.0, 0), (10.0, 1)])
def test_a_stray_stitch_in_a_column_is_too_long(stray_mm: float, found: int) -> None:
    points = SATIN.points_mm.copy()
    points[len(points) // 2, 1] += np.sign(points[len(points) // 2, 1]) * stray_mm
    column_mm = float(np.hypot(*np.diff(points, axis=0).T).max())
    piece = inspected(dataclasses.replace(SATIN, points_mm=points))
    long = list(long_stitches(piece))
    assert len(long) == found
    if found:
        assert long[0].size_mm == pytest.approx(column_mm, abs=0.1)


# --- ties


def test_both_ends_of_a_thread_need_a_tie() -> None:
    tied = tie((0.0, 0.0), (1.0, 0.0)).then(RUN).then(tie((30.0, 0.0), (-1.0, 0.0)))
    assert not list(missing_ties(inspected(tied)))
    begins, ends = missing_ties(inspected(RUN))
    assert "starts without a tie" in begins.cause
    assert "ends without a tie" in ends.cause


def test_a_machine_that_ties_by_itself_needs_none() -> None:
    job = make_job()
    job = dataclasses.replace(job, machine=dataclasses.replace(job.machine, automatic_ties=True))
    assert not list(missing_ties(inspected(RUN, job=job)))


def test_many_loose_ends_of_a_block_are_one_problem() -> None:
    parts = [moved(RUN, 0.0, 5.0 * k) for k in range(6)]
    (one,) = missing_ties(inspected(*parts))
    assert "12 thread ends" in one.cause


# --- jumps


def apart(by_mm: float, *commands: Any) -> Any:
    """Two columns with a move between their near ends."""
    other = moved(SATIN, 12.0 + by_mm, 0.0)
    return inspected(SATIN, commands or (Command.JUMP,), other, job=make_job(machine="no-trimmer"))


@pytest.mark.parametrize(("length_mm", "severity"), [(2.0, "note"), (4.0, "fix"), (20.0, "fix")])
def test_dragged_thread_by_its_length(length_mm: float, severity: str) -> None:
    found = list(uncut_jumps(apart(length_mm)))
    assert [one.severity for one in found] == [severity]
    assert found[0].size_mm == pytest.approx(length_mm, abs=3.2)  # from one edge of a column or the other


def test_a_short_jump_is_said_to_be_harder_to_clip_than_a_long_one() -> None:
    (short,), (long,) = uncut_jumps(apart(3.5)), uncut_jumps(apart(25.0))
    assert "too short for scissors" in short.cause
    assert "too short for scissors" not in long.cause


def test_a_jump_under_later_stitches_is_no_matter() -> None:
    other, over = moved(SATIN, 24.0, 0.0), box_fill(14, 40, 0.4, 4.0).turned(90.0)
    over = moved(over, 18.0 - float(over.points_mm[:, 0].mean()), -float(over.points_mm[:, 1].mean()))
    piece = inspected(SATIN, (Command.JUMP,), other, CHANGE, over, job=make_job(machine="no-trimmer"))
    (hidden,) = (one for one in uncut_jumps(piece) if one.stitches[1] < piece.plan.blocks[1].first)
    assert hidden.severity == "note"
    assert "hidden" in hidden.cause


def test_all_threads_that_some_machines_drag_are_reckoned_with(repository: Path) -> None:
    """They are told as one problem, and clipped one by one."""
    job = make_job(fabric="twill")
    piece = piece_of(sew_design(read_design(repository / "examples" / "wordmark.dst"), job), job)
    (told,) = (one for one in uncut_jumps(piece) if one.severity == "check")
    lengths = clipped_mm(piece)
    assert told.cause.startswith(f"{len(lengths)} threads")
    assert told.size_mm == max(lengths)


@pytest.mark.parametrize(("length_mm", "found"), [(1.2, 1), (6.0, 0)])
def test_cuts_that_save_next_to_nothing(length_mm: float, found: int) -> None:
    piece = inspected(RUN, (Command.TRIM, Command.JUMP), moved(RUN, 30.0 + length_mm, 0.0))
    assert len(list(needless_trims(piece))) == found


# --- crowding


def test_layers_of_a_fill_are_thread_width_over_row_spacing() -> None:
    """Closed form: rows so far apart of thread so wide lie that many times on the cloth."""
    piece = inspected(box_fill(20, 20, 0.4, 4.0))
    layers, _ = layers_map(piece)
    middle = layers[layers.shape[0] // 2 - 8 : layers.shape[0] // 2 + 8, layers.shape[1] // 2 - 8 :][:, :16]
    assert middle.mean() == pytest.approx(piece.threads[0].laid_width_mm / 0.4, rel=0.03)


def test_all_thread_is_in_the_map() -> None:
    piece = inspected(SATIN, CHANGE, moved(RUN, 0.0, 12.0))
    layers, _ = layers_map(piece)
    length = np.hypot(*(piece.sewn.end_mm - piece.sewn.start_mm).T).sum()
    assert layers.sum() * 0.25**2 == pytest.approx(length * piece.threads[0].laid_width_mm, rel=1e-6)


@pytest.mark.parametrize(("times", "severity"), [(2, None), (4, None), (8, "fix")])
def test_satin_sewn_over_and_over_is_crowded(times: int, severity: str | None) -> None:
    piece = inspected(*[SATIN] * times, job=make_job(fabric="twill"))
    found = list(crowded_spots(piece))
    assert [one.severity for one in found] == ([] if severity is None else [severity])
    foam = dataclasses.replace(piece.job, blocks={0: BlockTreatment("foam", height_mm=2.0)})
    assert not list(crowded_spots(dataclasses.replace(piece, job=foam)))


def test_long_stitches_that_only_meet_are_crowded_where_they_meet() -> None:
    """A fan of 24 spokes, out and back: their middles lie 6 mm from the corner in which they pile up."""
    angle = np.linspace(0, np.pi / 2, 24)
    rays = np.stack([np.cos(angle), np.sin(angle)], 1)
    points = np.stack([0.25 * rays, 12 * rays], 1).reshape(-1, 2)
    (found,) = crowded_spots(inspected(Sewing(points, ("satin",) * 47)))
    assert max(found.box_mm) < 2
    assert found.stitches[1] - found.stitches[0] > 24


@pytest.mark.parametrize(("times", "found"), [(4, 0), (24, 1)])
def test_a_hole_that_is_pierced_over_and_over(times: int, found: int) -> None:
    points = [np.zeros(2)]
    for angle in np.linspace(0, 2 * np.pi, times, endpoint=False):
        points += [4.0 * np.array([np.cos(angle), np.sin(angle)]), np.zeros(2)]
    star = Sewing(np.array(points), ("running",) * (len(points) - 1))
    worn = list(repeated_holes(inspected(star)))
    assert len(worn) == found
    if worn:
        assert worn[0].where_mm == pytest.approx((0, 0), abs=0.1)
        assert f"{times + 1} times" in worn[0].cause or f"{times} times" in worn[0].cause
