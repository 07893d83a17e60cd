"""Which stitch lies on top where: against polygons drawn by a general-purpose library."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import samples
from numpy.typing import NDArray
from skimage.draw import polygon2mask

from render.draw.cover import draw_cover
from render.model import Cover, Sewn, Window

THREADS = (samples.RED, samples.CREAM, samples.GOLD)
WINDOW = Window((0.0, 0.0), 20.0, 320, 400)


def cover_of(sewn: Sewn, window: Window = WINDOW) -> Cover:
    job = dataclasses.replace(samples.JOB, finish="off-machine")
    return draw_cover(sewn, threads=THREADS, job=job, window=window)


def strips(sewn: Sewn, window: Window) -> NDArray[np.bool_]:
    """Every stitch as a straight strip of thread of its mean width."""
    shape = (window.rows, window.cols)
    covered = np.zeros(shape, bool)
    width = samples.RED.laid_width_mm * 0.95
    for start, end in zip(sewn.start_mm, sewn.end_mm, strict=True):
        run = (end - start) / np.hypot(*(end - start))
        side = np.array([-run[1], run[0]]) * width / 2
        ahead = run * width / 4
        corners = np.array(
            [start - ahead + side, end + ahead + side, end + ahead - side, start - ahead - side]
        )
        pixels = (corners - window.centre_mm) * window.px_per_mm + [window.cols / 2, window.rows / 2]
        covered |= polygon2mask(shape, pixels[:, ::-1] - 0.5)
    return covered


@pytest.mark.parametrize("turn_deg", [0.0, 17.0, 90.0])
@pytest.mark.parametrize("kind", ["satin", "fill", "running"])
def test_cover_is_that_of_the_threads_as_strips(kind: str, turn_deg: float) -> None:
    points = {
        "satin": samples.satin(12, 3.0),
        "fill": samples.fill(12, 8),
        "running": samples.running((-7, 0), (7, 3)),
    }[kind]
    sewn = samples.sewn_of(samples.Part(samples.turned(points, turn_deg), kind))
    got, expected = cover_of(sewn).stitch >= 0, strips(sewn, WINDOW)
    assert got.sum() == pytest.approx(expected.sum(), rel=0.06)
    assert (got & expected).sum() / (got | expected).sum() > 0.88


def test_what_is_sewn_later_lies_on_top() -> None:
    sewn = samples.sewn_of(
        samples.Part(samples.fill(12, 8), "fill"), samples.Part(samples.satin(8, 3.0), "satin", 1)
    )
    stitch = cover_of(sewn).stitch
    middle = stitch[WINDOW.rows // 2 - 10 : WINDOW.rows // 2 + 10, WINDOW.cols // 2 - 40 :][:, :80]
    assert (sewn.plan.colour_block[middle[middle >= 0]] == 1).mean() > 0.95
    corner = stitch[WINDOW.rows // 2 - 70 : WINDOW.rows // 2 - 50, WINDOW.cols // 2 - 100 :][:, :40]
    assert (sewn.plan.colour_block[corner[corner >= 0]] == 0).all()


def test_dragged_thread_lies_over_and_hides_nothing() -> None:
    parts = (
        samples.Part(samples.fill(12, 8), "fill"),
        samples.Part(samples.running((-8, -3), (-6, -3)), "running", 1),
        samples.Part(samples.running((6, 3), (8, 3)), "running", 1),
    )
    dragged, cut = cover_of(samples.sewn_of(*parts, cut="no")), cover_of(samples.sewn_of(*parts, cut="yes"))
    # But for a pixel or two where the stitch after it begins, on top of it.
    assert (dragged.stitch != cut.stitch).sum() < 0.02 * 20.0**2
    following = samples.sewn_of(*parts).plan.objects[2].first
    seen = (dragged.loose == following).sum() / 20.0**2
    length = np.hypot(12.0, 6.0)
    assert seen == pytest.approx(length * samples.CREAM.diameter_mm * 1.08, rel=0.35)


def test_a_window_shows_its_part_of_the_whole() -> None:
    sewn = samples.sewn_of(samples.Part(samples.fill(12, 8), "fill"))
    whole = cover_of(sewn).stitch
    part = cover_of(sewn, Window((1.0, -0.5), 20.0, 100, 120)).stitch
    rows, cols = (320 - 100) // 2 - 10, (400 - 120) // 2 + 20
    assert (part == whole[rows : rows + 100, cols : cols + 120]).all()
