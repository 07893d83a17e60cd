"""Where the thread goes between stitches: travels, cuts, long stitches, blocks, sequins, turns."""

from __future__ import annotations

import numpy as np
import plan_pieces as made
import pytest
from plan_checks import angle_apart, kinds_of
from plan_pieces import BY_LENGTH, BY_LONGER, CUTTER, NO_CUTTER, UNSURE

from render.errors import InputError
from render.model import Command, SewPlan
from render.plan import plan

S, J, T, C, H, Q = (
    Command.STITCH,
    Command.JUMP,
    Command.TRIM,
    Command.COLOUR_CHANGE,
    Command.STOP,
    Command.SEQUIN,
)


def along_x(*records: tuple[float, Command], **options: object) -> made.Sewing:
    """Records on the x axis."""
    return made.design_of([(x, 0) for x, _ in records], [c for _, c in records], **options)  # type: ignore


def lines(planned: SewPlan) -> list[tuple[float, float]]:
    """Where each stitch starts and ends on the x axis."""
    return [
        (round(float(a), 3), round(float(b), 3))
        for a, b in zip(planned.start_mm[:, 0], planned.end_mm[:, 0], strict=True)
    ]


def test_needle_points_become_stitches_and_travels() -> None:
    planned = plan(along_x((0, S), (2, S), (5, J), (8, J), (8, S), (10, S)), UNSURE)
    assert lines(planned) == [(0, 2), (8, 10)]
    assert planned.thread_breaks.tolist() == [True, True]
    (travel,) = planned.travels
    assert (travel.from_mm[0], travel.to_mm[0]) == pytest.approx((2, 8))
    assert travel.length_mm == pytest.approx(6)
    assert (travel.after_stitch, travel.colour_block, travel.cut) == (0, 0, "no")


@pytest.mark.parametrize(
    ("rule", "machine", "jumps", "trim", "cut"),
    [
        ("explicit", UNSURE, 5, False, "no"),
        ("explicit", UNSURE, 1, True, "yes"),
        ("explicit", NO_CUTTER, 1, True, "no"),
        ("every-jump", UNSURE, 1, False, "yes"),
        ("every-jump", NO_CUTTER, 1, False, "no"),
        ("never", CUTTER, 9, False, "no"),
        ("inferred", UNSURE, 2, False, "no"),
        ("inferred", UNSURE, 3, False, "depends"),
        ("inferred", UNSURE, 9, False, "depends"),
        ("inferred", UNSURE, 1, True, "yes"),
        ("inferred", CUTTER, 2, False, "no"),
        ("inferred", CUTTER, 3, False, "yes"),
        ("inferred", NO_CUTTER, 9, False, "no"),
        ("inferred", BY_LENGTH, 1, False, "yes"),
        ("by-length", UNSURE, 1, False, "depends"),
        ("by-length", CUTTER, 1, False, "yes"),
        ("by-length", NO_CUTTER, 9, False, "no"),
        ("by-length", BY_LENGTH, 1, False, "yes"),
        ("by-length", BY_LONGER, 9, False, "no"),
    ],
)
def test_what_cuts(rule: str, machine: made.Machine, jumps: int, trim: bool, cut: str) -> None:
    way = [(2 + 3.0 * (k + 1), J) for k in range(jumps)]
    records = [(0.0, S), (2.0, S), *([(2.0, T)] if trim else []), *way, (way[-1][0], S), (way[-1][0] + 2, S)]
    planned = plan(along_x(*records, trim_rule=rule), machine)
    (travel,) = planned.travels
    assert travel.cut == cut
    assert travel.reason
    assert planned.trims == (cut == "yes")


def test_a_stitch_written_in_even_pieces_is_one_again() -> None:
    split = along_x((0, S), (2, S), (12, J), (22, S), (24, S), split=True, trim_rule="inferred")
    planned = plan(split, UNSURE)
    assert lines(planned) == [(0, 2), (2, 22), (22, 24)]
    assert not planned.travels
    assert planned.thread_breaks.tolist() == [True, False, False]
    assert any("1 of even steps" in note for note in planned.notes)


@pytest.mark.parametrize(
    "records",
    [
        [(0, S), (2, S), (12, J), (22, J), (22, S), (24, S)],  # ends in a stitch without a step
        [(0, S), (2, S), (14, J), (19, S), (24, S)],  # uneven steps
        [(0, S), (2, S), (14, J), (26, J), (38, J), (50, S), (52, S)],  # further than a thread is sewn
    ],
)
def test_a_move_is_no_long_stitch(records: list[tuple[float, Command]]) -> None:
    planned = plan(along_x(*records, split=True, trim_rule="inferred"), UNSURE)
    assert len(planned.travels) == 1
    assert not any("long stitches" in note for note in planned.notes)


def test_a_format_that_need_not_split_has_moves_only() -> None:
    planned = plan(along_x((0, S), (2, S), (12, J), (22, S), (24, S)), UNSURE)
    assert len(planned.travels) == 1
    assert not planned.notes


def test_points_on_one_spot_make_no_stitch() -> None:
    planned = plan(along_x((0, S), (0, S), (2, S), (2, S), (4, S)), UNSURE)
    assert lines(planned) == [(0, 2), (2, 4)]
    assert planned.thread_breaks.tolist() == [True, False]


def test_blocks_are_what_is_sewn_between_halts() -> None:
    planned = plan(
        along_x(
            (0, C), (0, S), (2, S), (2, C), (5, C), (5, J), (5, S), (7, S), (7, H), (7, S), (9, S), (9, C)
        ),
        UNSURE,
    )
    assert [(b.index, b.first, b.last, b.ends_with) for b in planned.blocks] == [
        (0, 0, 0, "colour-change"),
        (1, 1, 1, "stop"),
        (2, 2, 2, "end"),
    ]
    assert planned.colour_block.tolist() == [0, 1, 2]
    assert planned.thread_breaks.all()
    assert [t.cut for t in planned.travels] == ["yes", "yes"]
    assert planned.trims == 0


def test_a_block_of_one_needle_point_keeps_its_place_and_colour() -> None:
    planned = plan(along_x((0, S), (2, S), (2, C), (5, S), (5, C), (7, S), (9, S)), UNSURE)
    assert [(b.first, b.last) for b in planned.blocks] == [(0, 0), (1, 0), (1, 1)]
    assert planned.colour_block.tolist() == [0, 2]


def test_a_trim_at_a_colour_change_is_a_trim() -> None:
    planned = plan(along_x((0, S), (2, S), (2, T), (2, C), (5, J), (5, S), (7, S)), UNSURE)
    assert planned.trims == 1
    assert [t.cut for t in planned.travels] == ["yes"]


def test_sequins_are_no_travels() -> None:
    planned = plan(along_x((0, S), (2, S), (3, Q), (4, S), (4, C), (5, S), (6, Q), (7, S)), UNSURE)
    assert planned.sequins_mm[:, 0].tolist() == pytest.approx([3, 6], abs=1e-5)
    assert planned.sequin_block.tolist() == [0, 1]
    assert lines(planned) == [(0, 2), (2, 4), (5, 7)]
    assert all(t.cut == "yes" for t in planned.travels)
    assert any("2 sequins" in note for note in planned.notes)


@pytest.mark.parametrize(
    "records", [[], [(0, S)], [(0, S), (5, J)], [(0, S), (9, J), (9, S)], [(0, J), (3, T)]]
)
def test_nothing_sewn_is_refused(records: list[tuple[float, Command]]) -> None:
    with pytest.raises(InputError, match="holds no stitch"):
        plan(along_x(*records), UNSURE)


def mixed() -> made.Sewing:
    """One of everything, placed askew and uneven."""
    rng = np.random.default_rng(5)
    edge = made.arc(14, 150)
    pieces = [
        made.disc_fill(9, 0.4, 4.0),
        made.edge_run(edge, 3).as_underlay().then(made.column(edge, 3, 0.4)),
        made.bean(made.wave(30, 3), 2.2),
        made.e_stitch(made.arc(12, 200), 2.5, 2.5),
        made.crosses(7, 2.0, whole=False),
        made.split_column(15, 9, 0.45, 2),
        made.tie((0, 0), (1, 0)).then(made.path_running(made.arc(10, 90).copy(), 2)),
    ]
    placed = [p.turned(rng.uniform(0, 180), tuple(rng.uniform(-30, 30, 2))) for p in pieces]
    return made.sewing(*placed)


def turned(points: np.ndarray, quarters: int, *, mirror: bool) -> np.ndarray:
    x, y = points.T
    if mirror:
        x = -x
    for _ in range(quarters):
        x, y = -y, x
    return np.stack([x, y], 1)


@pytest.mark.parametrize("mirror", [False, True])
@pytest.mark.parametrize("quarters", range(4))
def test_quarter_turns_and_mirror_are_exact_and_change_no_object(quarters: int, mirror: bool) -> None:
    design = mixed().design
    plain = plan(design, UNSURE)
    left, top, right, bottom = plain.box_mm
    middle = np.array([left + right, top + bottom]) / 2
    other = plan(design, UNSURE, rotate_deg=90.0 * quarters, mirror=mirror)
    for have, want in ((other.start_mm, plain.start_mm), (other.end_mm, plain.end_mm)):
        assert np.array_equal(have - middle, turned(want - middle, quarters, mirror=mirror))
    assert np.array_equal(other.object_index, plain.object_index)
    for a, b in zip(other.objects, plain.objects, strict=True):
        assert (a.kind, a.serves) == (b.kind, b.serves)
        assert (a.width_mm, a.length_mm) == pytest.approx((b.width_mm, b.length_mm))
        assert a.row_spacing_mm == pytest.approx(b.row_spacing_mm, nan_ok=True)
        want_deg = (-b.angle_deg if mirror else b.angle_deg) + 90 * quarters
        assert angle_apart(a.angle_deg, want_deg) < 1e-6
        assert 0 <= a.angle_deg < 180


@pytest.mark.parametrize("degrees", [13.0, 45.0, 100.0, 251.5, -30.0, 720.25])
def test_any_turn_keeps_kinds_and_turns_angles(degrees: float) -> None:
    design = mixed().design
    plain, other = plan(design, UNSURE), plan(design, UNSURE, rotate_deg=degrees)
    same = np.array(kinds_of(plain)) == np.array(kinds_of(other))
    assert same.mean() > 0.995
    for a, b in zip(other.objects, plain.objects, strict=True):
        assert angle_apart(a.angle_deg, b.angle_deg + degrees) < 0.5
    # Clockwise as seen, y down: what points right points down after 90 degrees.
    want = np.deg2rad(degrees)
    u = plain.end_mm[0] - plain.start_mm[0]
    v = other.end_mm[0] - other.start_mm[0]
    x, y = np.cos(want) * u[0] - np.sin(want) * u[1], np.sin(want) * u[0] + np.cos(want) * u[1]
    assert v.tolist() == pytest.approx([x, y], abs=1e-5)


def test_clockwise_on_the_screen() -> None:
    planned = plan(along_x((0, S), (4, S)), UNSURE, rotate_deg=90)
    run = planned.end_mm[0] - planned.start_mm[0]
    assert run.tolist() == [0, 4]


def test_moving_the_design_changes_nothing() -> None:
    sewn = mixed()
    plain = plan(sewn.design, UNSURE)
    moved = made.design_of(sewn.design.xy_mm + [37.3, -58.1], sewn.design.command)
    other = plan(moved, UNSURE)
    assert [(o.kind, o.first, o.last) for o in other.objects] == [
        (o.kind, o.first, o.last) for o in plain.objects
    ]
    assert np.allclose(other.start_mm - [37.3, -58.1], plain.start_mm, atol=1e-5)
