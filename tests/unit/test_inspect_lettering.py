"""Small lettering: the height of words by hand, and shapes in a row that are no words."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from inspect_pieces import CHANGE, inspected, moved
from plan_pieces import Piece as Sewing
from plan_pieces import column, path_running, straight

from render.inspect.lettering import small_lettering
from render.materials.job import make_job

CHECK_MM, FIX_MM = 4.0, 3.0  # common practice, no source


def line(a: tuple[float, float], b: tuple[float, float]) -> np.ndarray:
    return np.linspace(a, b, 40)


def running_letter(name: str, height_mm: float) -> Sewing:
    """N, L or V as one run, standing on y = 0."""
    h, w = height_mm, 0.65 * height_mm
    corners = {
        "N": [(0, 0), (0, -h), (w, 0), (w, -h)],
        "L": [(0, -h), (0, 0), (w, 0)],
        "V": [(0, -h), (w / 2, 0), (w, -h)],
    }[name]
    first, *others = (path_running(line(a, b), 0.8) for a, b in pairwise(corners))
    return first.then(*others)


def satin_letter(height_mm: float, stroke_mm: float = 0.9) -> Sewing:
    """An L of two columns, standing on y = 0, as high as said to the ends of its strokes."""
    h, w, half = height_mm, 0.65 * height_mm, stroke_mm / 2
    down = column(line((half, -h), (half, -stroke_mm)), stroke_mm, 0.4)
    foot = column(line((0, -half), (w, -half)), stroke_mm, 0.4)
    return down.then(foot)


def word(height_mm: float, letters: str = "NLVNL", apart: float = 1.0) -> list[Sewing]:
    return [
        moved(running_letter(one, height_mm), apart * height_mm * i, 0.0) for i, one in enumerate(letters)
    ]


@pytest.mark.parametrize(
    ("height_mm", "severity"),
    [(2.0, "fix"), (2.8, "fix"), (3.3, "check"), (3.8, "check"), (4.0, None), (4.2, None), (8.0, None)],
)
def test_a_word_is_judged_by_its_height(height_mm: float, severity: str | None) -> None:
    for letters in (
        word(height_mm),
        [moved(satin_letter(height_mm, 0.25 * height_mm), height_mm * i, 0.0) for i in range(5)],
    ):
        found = list(small_lettering(inspected(*letters)))
        assert [one.severity for one in found] == ([severity] if severity else [])
        for one in found:
            assert one.size_mm == pytest.approx(height_mm, abs=0.2)


def test_a_word_is_one_problem_and_holds_all_its_letters() -> None:
    (one,) = small_lettering(inspected(*word(2.5, "NLVN")))
    left, _, right, _ = one.box_mm
    assert (left, right) == pytest.approx((0.0, 3 * 2.5 + 0.65 * 2.5), abs=0.2)
    assert one.cause.startswith("4 letters of 2.5 mm")


def test_two_lines_are_two_problems() -> None:
    below = [moved(one, 0.0, 20.0) for one in word(2.0)]
    assert [round(one.size_mm or 0, 1) for one in small_lettering(inspected(*word(2.6), *below))] == [
        2.6,
        2.0,
    ]
    assert len(list(small_lettering(inspected(*word(2.6), CHANGE, *below)))) == 2


@pytest.mark.parametrize("turn_deg", [0.0, 10.0, 45.0, 70.0, 90.0, 135.0])
def test_on_a_sloping_line_the_height_is_measured_across_it(turn_deg: float) -> None:
    """4 mm lettering is no fault however the line runs; 2.5 mm is, where the row is seen at all."""
    assert not list(small_lettering(inspected(*[one.turned(turn_deg) for one in word(4.1)])))
    for one in small_lettering(inspected(*[one.turned(turn_deg) for one in word(2.5)])):
        assert one.size_mm == pytest.approx(2.5, abs=0.55)


def test_coarse_thread_and_pile_need_higher_letters() -> None:
    assert not list(small_lettering(inspected(*word(5.0))))
    (one,) = small_lettering(inspected(*word(5.0), job=make_job(fabric="terry")))
    assert one.severity == "check"
    assert [one.severity for one in small_lettering(inspected(*word(3.5), job=make_job(fabric="terry")))] == [
        "fix"
    ]


def test_single_small_shapes_are_no_letters() -> None:
    eye = column(straight(1.5), 1.2, 0.4)
    assert not list(small_lettering(inspected(eye, moved(eye, 12.0, 0.0))))
    assert not list(small_lettering(inspected(*word(2.0, "NL"))))


def test_dots_dashes_and_bars_in_a_row_are_no_letters() -> None:
    dot = column(straight(1.2), 1.2, 0.4)
    dash = path_running(straight(2.5), 0.8)
    bar = column(straight(2.5), 0.8, 0.4).turned(90.0)
    for shape, apart in ((dot, 3.0), (dash, 4.0), (bar, 2.0)):
        assert not list(small_lettering(inspected(*(moved(shape, apart * i, 0.0) for i in range(6)))))


def test_letters_far_apart_or_of_several_colours_are_no_word() -> None:
    assert not list(small_lettering(inspected(*word(2.5, apart=8.0))))
    n, l_, v = word(2.5, "NLV")
    assert not list(small_lettering(inspected(n, CHANGE, l_, CHANGE, v)))


@pytest.mark.filterwarnings("error")
def test_lone_stitches_in_a_row_are_no_word_and_no_trouble() -> None:
    """One stitch has no breadth to be bent over."""
    strokes = [moved(path_running(line((0.0, 0.0), (0.0, -2.0)), 2.0), 1.2 * k, 0.0) for k in range(6)]
    assert not list(small_lettering(inspected(*strokes)))
