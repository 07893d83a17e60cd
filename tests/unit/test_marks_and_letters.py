"""Marks and text on pictures: where they are, and that they leave the rest alone."""

from __future__ import annotations

import numpy as np
import pytest

from render.compose.lettering import draw_text, text_width_px, wrapped
from render.compose.marks import disc, line, ring

GREY = 120
RED = (0.8, 0.1, 0.1)


@pytest.fixture
def pixels() -> np.ndarray:
    return np.full((80, 120, 3), GREY, np.uint8)


def test_a_ring_is_clear_inside_and_outside(pixels: np.ndarray) -> None:
    ring(pixels, (20, 30, 60, 90), RED)
    changed = (pixels != GREY).any(2)
    assert not changed[26:54, 36:84].any()
    assert not changed[:14].any()
    assert not changed[66:].any()
    assert (pixels[20, 60] == np.rint(np.array(RED) * 255)).all()


def test_marks_are_symmetric(pixels: np.ndarray) -> None:
    ring(pixels, (20, 30, 60, 90), RED)
    disc(pixels, (40, 60), 8, RED)
    assert (pixels == pixels[::-1, ::-1]).all()


def test_area_of_a_disc() -> None:
    page = np.full((80, 120, 3), 255, np.uint8)
    disc(page, (40, 60), 15, (0.0, 0.0, 0.0))
    assert (1 - page[..., 0] / 255).sum() == pytest.approx(np.pi * 15**2, rel=0.005)


def test_a_mark_off_the_picture_changes_nothing(pixels: np.ndarray) -> None:
    ring(pixels, (-90, -90, -50, -50), RED)
    line(pixels, (200, 200), (300, 300), RED)
    draw_text(pixels, (200, 10), "out", 20)
    assert (pixels == GREY).all()


@pytest.mark.parametrize(("anchor", "shift"), [("left", 0.0), ("middle", 0.5), ("right", 1.0)])
def test_text_stands_where_its_anchor_says(pixels: np.ndarray, anchor: str, shift: float) -> None:
    draw_text(pixels, (20, 60), "HHH", 20, colour_srgb=(0, 0, 0), anchor=anchor)
    rows, cols = np.nonzero((pixels != GREY).any(2))
    width = text_width_px("HHH", 20)
    assert cols.min() >= 60 - shift * width - 2
    assert cols.max() <= 60 + (1 - shift) * width + 2
    assert cols.max() - cols.min() > 0.8 * width
    assert rows.min() >= 20
    assert rows.max() < 40


def test_wrapped_lines_fit_and_lose_nothing() -> None:
    text = "The fill ends 0.6 mm short of its border: let it run under the border by as much"
    lines = wrapped(text, 160, 18)
    assert " ".join(lines) == text
    assert len(lines) > 2
    assert all(text_width_px(one, 18) <= 160 for one in lines)
