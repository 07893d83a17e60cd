"""Stitches made as one kind are planned as that kind, with the measures they were made with."""

from __future__ import annotations

import importlib
from collections.abc import Iterator

import numpy as np
import plan_pieces as made
import pytest
from plan_checks import angle_apart, right_share
from plan_pieces import Piece

from render.model import Command, SewnObject
from render.plan import plan

SEEDS = range(8)
# What sewing from one piece on to the next adds may be told either way.
LEAST_SHARE = 0.97


def paths(rng: np.random.Generator) -> Iterator[tuple[str, made.Points]]:
    yield "straight", made.straight(rng.uniform(8, 40))
    yield "arc", made.arc(rng.uniform(8, 25), rng.uniform(60, 330))
    yield "wave", made.wave(rng.uniform(30, 60), rng.uniform(2, 5))


def single(rng: np.random.Generator) -> Iterator[tuple[str, Piece]]:
    """One object each."""
    spacing = rng.uniform(0.3, 0.6)
    stitch = rng.uniform(2.5, 5)
    yield "disc", made.disc_fill(rng.uniform(5, 20), spacing, stitch, int(rng.integers(2, 5)))
    yield "small disc", made.disc_fill(rng.uniform(2, 4), spacing, stitch)
    yield "thin fill", made.disc_fill(rng.uniform(12, 20), rng.uniform(0.8, 1.6), stitch)
    yield (
        "box",
        made.box_fill(rng.uniform(6, 30), rng.uniform(4, 30), spacing, stitch, slant=rng.uniform(-0.7, 0.7)),
    )
    yield "zigzag fill", made.zigzag_fill(rng.uniform(18, 30), rng.uniform(4, 30), spacing, stitch)
    for name, path in paths(rng):
        yield f"satin {name}", made.column(path, rng.uniform(1.2, 6), spacing)
        yield f"narrow {name}", made.column(path, rng.uniform(0.7, 1.2), rng.uniform(0.35, 0.5))
        yield f"running {name}", made.path_running(path, rng.uniform(1.2, 4))
        yield f"bean {name}", made.bean(path, rng.uniform(1.5, 3.5))
        yield f"e-stitch {name}", made.e_stitch(path, rng.uniform(1.5, 4), rng.uniform(1.5, 4))
    yield (
        "split satin",
        made.split_column(rng.uniform(8, 40), rng.uniform(8, 14), spacing, int(rng.integers(2, 4))),
    )
    for whole in (True, False):
        count, size = int(rng.integers(4, 15)), rng.uniform(1.5, 4)
        yield f"crosses {whole}", made.crosses(count, size, whole=whole)


def covered(rng: np.random.Generator) -> Iterator[tuple[str, Piece]]:
    """Underlay and what covers it."""
    spacing = rng.uniform(0.3, 0.6)
    for name, path in paths(rng):
        width = rng.uniform(2.5, 6)
        satin = made.column(path, width, spacing)
        satin_back = made.column(path[::-1], width, spacing)
        edges = made.edge_run(path, width).as_underlay()
        zigzag = made.column(path, width - 0.8, rng.uniform(1.5, 2.5)).as_underlay()
        yield f"edge {name}", edges.then(satin)
        yield f"centre {name}", made.centre_run(path).as_underlay().then(satin)
        yield f"zigzag {name}", zigzag.then(satin_back)
        yield f"edge and zigzag {name}", edges.then(zigzag).as_underlay().then(satin_back)
    below = made.box_fill(13, 18, rng.uniform(1.5, 3), 4).turned(90, (19, 1)).as_underlay()
    yield "fill over fill", below.then(made.box_fill(20, 15, spacing, 4))


def tied(rng: np.random.Generator) -> Iterator[tuple[str, Piece]]:
    """Ties at the start and the end of a thread."""
    for name, piece in (
        ("satin", made.column(made.straight(rng.uniform(10, 30)), rng.uniform(2, 5), 0.4)),
        ("running", made.path_running(made.arc(15, 200), 2.5)),
    ):
        begin, end = piece.points_mm[0], piece.points_mm[-1]
        first = made.tie(tuple(begin), (1, 0.3), rng.uniform(0.4, 0.9), 2 * int(rng.integers(1, 3)))
        last = made.tie(tuple(end), (-1, 0.3), 0.6, int(rng.integers(2, 6)))
        yield name, first.then(piece, last)


def letters(rng: np.random.Generator) -> Iterator[tuple[str, Piece]]:
    """Narrow columns at all angles, joined by running stitches."""
    width, spacing, height = rng.uniform(0.8, 1.6), rng.uniform(0.35, 0.45), rng.uniform(5, 9)
    columns = [
        made.column(made.straight(height * share), width, spacing).turned(angle, (4.0 * k, rng.uniform(0, 2)))
        for k, (angle, share) in enumerate([(90, 1), (0, 0.6), (60, 1), (-50, 0.6), (20, 1)])
    ]
    yield "letters", columns[0].then(*columns[1:])


def cases(make: object, seed: int) -> Iterator[tuple[str, made.Sewing, Piece]]:
    rng = np.random.default_rng(seed)
    for name, piece in make(rng):  # type: ignore[operator]
        placed = piece.turned(rng.uniform(0, 180), tuple(rng.uniform(-20, 20, 2)))
        yield name, made.sewing(placed), placed


def errors(thing: SewnObject, truth: dict[str, float], *, bent: bool) -> list[str]:
    """Measures that miss the truth by more than a tenth, or three degrees."""
    found = []
    for name, want in truth.items():
        have = getattr(thing, name)
        if name == "angle_deg":
            wrong = not bent and angle_apart(have, want) > 3
        else:
            wrong = not abs(have - want) <= 0.1 * want
        if wrong:
            found.append(f"{name} {have:.2f} not {want:.2f}")
    return found


@pytest.mark.parametrize("seed", SEEDS)
def test_each_kind_is_told_and_measured(seed: int) -> None:
    for name, sewn, piece in cases(single, seed):
        planned = plan(sewn.design, made.UNSURE)
        assert right_share(planned, sewn.kinds) >= 0.95, (name, planned.objects)
        largest = max(planned.objects, key=lambda o: o.last - o.first)
        truth = {k: v for k, v in piece.truth.items() if not (largest.kind == "fill" and k == "length_mm")}
        if largest.kind == "satin":
            # The rows' own breadth at both ends is not counted.
            truth.pop("length_mm")
            assert largest.length_mm == pytest.approx(piece.truth["length_mm"], rel=0.1, abs=0.7), name
        assert not errors(largest, truth, bent=name.endswith(("arc", "wave"))), name


@pytest.mark.parametrize("make", [single, covered, tied, letters])
def test_stitches_over_all_seeds(make: object) -> None:
    shares = [
        right_share(plan(sewn.design, made.UNSURE), sewn.kinds)
        for seed in SEEDS
        for _, sewn, _ in cases(make, seed)
    ]
    assert min(shares) >= 0.93
    assert np.mean(shares) >= 0.985


@pytest.mark.parametrize("seed", SEEDS)
def test_underlay_is_what_is_covered(seed: int) -> None:
    for name, sewn, _ in cases(covered, seed):
        planned = plan(sewn.design, made.UNSURE)
        assert right_share(planned, sewn.kinds) >= 0.95, (name, planned.objects)
        assert planned.objects[0].kind == "underlay", name
        below = "satin" if name.startswith("zigzag") else "fill" if name.startswith("fill") else "running"
        assert planned.objects[0].serves == below, name
        assert planned.objects[-1].kind in ("satin", "fill"), name


@pytest.mark.parametrize("seed", SEEDS)
def test_ties_are_told_from_what_they_hold(seed: int) -> None:
    for name, sewn, _ in cases(tied, seed):
        planned = plan(sewn.design, made.UNSURE)
        assert right_share(planned, sewn.kinds) >= LEAST_SHARE, (name, planned.objects)
        assert planned.objects[0].kind == planned.objects[-1].kind == "tie", name
        assert planned.objects[0].serves == "running"


@pytest.mark.parametrize("seed", SEEDS)
def test_columns_of_letters_are_objects_of_their_own(seed: int) -> None:
    for _, sewn, _ in cases(letters, seed):
        planned = plan(sewn.design, made.UNSURE)
        assert right_share(planned, sewn.kinds) >= LEAST_SHARE
        # Two that meet end to end may count as one column round a corner.
        assert [o.kind for o in planned.objects].count("satin") in (4, 5)


def test_an_object_ends_with_thread_colour_and_character() -> None:
    column = made.column(made.straight(10), 3, 0.4)
    run = made.path_running(made.straight(20), 2).turned(0, (0, 10))
    for between in ((Command.TRIM, Command.JUMP), (Command.COLOUR_CHANGE,), (Command.STOP,), (Command.JUMP,)):
        planned = plan(made.sewing(column, run, between=between).design, made.UNSURE)
        assert [o.kind for o in planned.objects][-2:] == ["satin", "running"], between
        for before, after in zip(planned.objects[:-1], planned.objects[1:], strict=True):
            assert after.first == before.last + 1
    same = made.sewing(column, column.turned(0, (10.0, 0)), between=(Command.TRIM,)).design
    assert [o.kind for o in plan(same, made.UNSURE).objects] == ["satin", "satin"]


def test_a_dense_cover_in_another_colour_makes_no_underlay() -> None:
    path = made.straight(20)
    below, above = made.path_running(path, 2), made.column(path, 3, 0.4)
    assert plan(made.sewing(below, above).design, made.UNSURE).objects[0].kind == "underlay"
    halted = made.sewing(below, above, between=(Command.COLOUR_CHANGE,)).design
    assert plan(halted, made.UNSURE).objects[0].kind == "running"


def test_what_is_sewn_later_is_not_covered() -> None:
    path = made.straight(20)
    planned = plan(made.sewing(made.column(path, 3, 0.4), made.path_running(path, 2)).design, made.UNSURE)
    assert [o.kind for o in planned.objects] == ["satin", "running"]


def test_a_column_sewn_twice_is_no_underlay() -> None:
    column = made.column(made.straight(20), 3, 0.4)
    planned = plan(made.sewing(column, column).design, made.UNSURE)
    assert [o.kind for o in planned.objects] == ["satin", "satin"]


def test_three_close_rows_are_a_narrow_piece_of_their_threads_fill_and_else_a_line_that_turns() -> None:
    whole = made.box_fill(25, 8, 0.4, 4.0)
    for rows, spacing_mm, kind in (
        (3, 0.4, "fill"),
        (3, 0.6, "fill"),
        (3, 2.0, "running"),
        (2, 0.4, "running"),
    ):
        narrow = made.box_fill(25, (rows - 0.99) * spacing_mm, spacing_mm, 4.0)
        alone = plan(made.sewing(narrow).design, made.UNSURE)
        assert [o.kind for o in alone.objects] == ["running"], (rows, spacing_mm)
        both = plan(made.sewing(narrow.then(whole.turned(0, (60, 30)))).design, made.UNSURE)
        assert both.objects[0].kind == kind, (rows, spacing_mm)
        assert both.objects[-1].kind == "fill"
        cut = made.sewing(narrow, whole.turned(0, (60, 30)), between=(Command.TRIM,)).design
        assert plan(cut, made.UNSURE).objects[0].kind == "running", (rows, spacing_mm)


def test_the_module_that_plans_is_its_function() -> None:
    assert importlib.import_module("render.plan").__all__ == ["plan"]
