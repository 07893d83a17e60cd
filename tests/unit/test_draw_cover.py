"""What covers what: spacing against cloth, later thread over earlier, dragged thread over all."""

from __future__ import annotations

import dataclasses

import flip_evaluator
import numpy as np
import pytest
import samples
from numpy.typing import NDArray

from render.compose.encoding import encode
from render.draw.strands import laid_section_mm
from render.model import Layers, Sewn, Thread, Window

ANGLES = (0, 20, 45, 90)
PX_PER_MM = 300 / 25.4
RED = Thread((1.0, 0.0, 0.0), **samples.RAYON)
GREEN = Thread((0.0, 0.6, 0.0), **samples.RAYON)


def _cover(points: NDArray[np.float64], kind: str, angle_deg: float) -> float:
    """Share of the middle 5 mm square that is thread, at 300 dpi."""
    sewn = samples.sewn_of(samples.Part(samples.turned(points, angle_deg), kind))
    return float(samples.draw_flat(sewn, Window((0, 0), PX_PER_MM, 60, 60)).covered.mean(dtype=float))


@pytest.mark.parametrize("angle_deg", ANGLES)
def test_satin_at_common_spacing_hides_the_cloth(angle_deg: float) -> None:
    # 0.4 mm between needle points on one edge is common practice for 40 wt, no source.
    assert _cover(samples.satin(9, 7, spacing_mm=0.4), "satin", angle_deg) >= 0.995


@pytest.mark.parametrize("angle_deg", ANGLES)
def test_fill_at_common_spacing_all_but_hides_the_cloth(angle_deg: float) -> None:
    assert 0.93 <= _cover(samples.fill(9, 9, spacing_mm=0.4), "fill", angle_deg) < 0.9985


def test_cover_is_thread_width_over_spacing() -> None:
    """Rows that lie apart cover the share width / spacing of the cloth (geometry), the width
    being that of thread laid on cloth, less what its unevenness takes."""
    from render.draw.section import UNEVEN_WIDTH

    width_mm = 2 * laid_section_mm(samples.RED)[0] * (1 - UNEVEN_WIDTH / 2)
    for spacing_mm in (0.8, 1.0, 1.6):
        rows = samples.fill(9, 9.6, spacing_mm=spacing_mm)
        sewn = samples.sewn_of(samples.Part(rows, "fill"))
        # Whole rows only, and no ends of stitches.
        window = Window((0, 0), 40.0, round(40 * spacing_mm * 4), 200)
        covered = samples.draw_flat(sewn, window).covered.mean(dtype=float)
        assert covered == pytest.approx(width_mm / spacing_mm, rel=0.03)


@pytest.mark.parametrize("kind", ["satin", "fill"])
def test_doubled_spacing_shows_the_cloth(kind: str) -> None:
    draw = {"satin": samples.satin, "fill": samples.fill}[kind]
    close, wide = (_cover(draw(9, 9, spacing_mm=s), kind, 0) for s in (0.4, 0.8))
    assert close - wide > 0.08
    assert wide < 0.92


def _shows(drawn: Layers, thread: int) -> NDArray[np.bool_]:
    """Pixels that are wholly thread and more red (0) or green (1)."""
    red, green = drawn.thread_linear[..., 0], drawn.thread_linear[..., 1]
    return (drawn.covered > 0.99) & ((red > green) if thread == 0 else (green > red))


@pytest.mark.parametrize("first", [0, 1])
def test_of_two_crossing_threads_the_later_is_on_top(first: int) -> None:
    across = samples.running((-3, 0), (3, 0), stitch_mm=6)
    down = samples.running((0, -3), (0, 3), stitch_mm=6)
    order = [samples.Part(across, "running", 0), samples.Part(down, "running", 1)]
    sewn = samples.sewn_of(*(order if first == 0 else order[::-1]))
    drawn = samples.draw_flat(sewn, Window((0, 0), 40.0, 9, 9), threads=(RED, GREEN))
    assert _shows(drawn, 1 - first)[3:6, 3:6].all()


@pytest.mark.parametrize("first", ["fill", "satin"])
def test_stitching_lies_on_what_was_sewn_before(first: str) -> None:
    blocks = {"fill": samples.fill(6, 6), "satin": samples.satin(6, 6)}
    second = "satin" if first == "fill" else "fill"
    sewn = samples.sewn_of(
        samples.Part(blocks[first], first, 0), samples.Part(samples.turned(blocks[second], 45), second, 1)
    )
    drawn = samples.draw_flat(sewn, Window((0, 0), PX_PER_MM, 50, 50), threads=(RED, GREEN))
    # Where its needle goes down between high-arched satin, that stands beside the hole.
    assert (drawn.thread_linear[..., 1] > drawn.thread_linear[..., 0]).mean() > 0.8


def _dragged(cut: str) -> Sewn:
    """From the left of a fill to its right: the thread between two runs of another colour."""
    return samples.sewn_of(
        samples.Part(samples.fill(6, 6), "fill", 0),
        samples.Part(samples.running((-5, -1), (-4, 0)), "running", 1),
        samples.Part(samples.running((4, 0), (5, 1)), "running", 1),
        cut=cut,
    )


def test_a_dragged_thread_lies_over_what_it_crosses() -> None:
    window = Window((0, 0), PX_PER_MM, 60, 60)
    drawn = samples.draw_flat(_dragged("no"), window, threads=(RED, GREEN))
    # It may bow, but crosses every column, whole where it is not between two pixels.
    assert (_shows(drawn, 1).any(0)).mean() > 0.9
    cleaned = dataclasses.replace(samples.JOB, finish="cleaned")
    cut = samples.draw_flat(_dragged("yes"), window, threads=(RED, GREEN), job=cleaned)
    assert not _shows(cut, 1)[:, 10:50].any()


def test_a_dragged_thread_casts_a_shadow() -> None:
    """On the side away from the key lamp, which stands at the upper left."""
    window = Window((0, 0), 40.0, 200, 200)
    sewn = samples.sewn_of(samples.Part(samples.running((-8, 0), (8, 0), stitch_mm=16), "running"))
    light = samples.Light("key", "Key", (samples.Lamp(270, 40, 5, 3.0, (1, 1, 1)),), (0.1, 0.1, 0.1))
    drawn = samples.draw_flat(sewn, window, light=light)
    bare = drawn.covered == 0
    share = np.where(bare, drawn.cloth_share, np.nan)
    above, below = np.nanmin(share[60:100]), np.nanmin(share[100:140])
    assert below < 0.6 < above


# --- resolution


def _light_of(drawn: Layers) -> NDArray[np.float32]:
    return np.asarray(drawn.thread_linear + drawn.cloth_linear * drawn.cloth_share[..., None])


def _flip_against_600_dpi(sewn: Sewn, dpi: int, times: int) -> tuple[float, float]:
    """Mean FLIP, and largest relative difference of the mean colours, of a 8.4 mm square drawn at
    `dpi` and the average of one drawn `times` as fine."""
    pixels = round(8.4 * dpi / 25.4)
    one = _light_of(samples.draw_flat(sewn, Window((0, 0), dpi / 25.4, pixels, pixels)))
    fine = Window((0, 0), times * dpi / 25.4, times * pixels, times * pixels)
    many = _light_of(samples.draw_flat(sewn, fine)).reshape(pixels, times, pixels, times, 3).mean((1, 3))
    pictures = (encode(linear).astype(np.float32) / 255 for linear in (one, many))
    means = one.mean((0, 1), dtype=float), many.mean((0, 1), dtype=float)
    return float(flip_evaluator.evaluate(*pictures, "LDR")[1]), float(np.abs(means[0] / means[1] - 1).max())


@pytest.mark.parametrize(("dpi", "times"), [(72, 8), (150, 4), (300, 2)])
def test_small_pictures_look_like_large_ones_from_further_away(dpi: int, times: int) -> None:
    """Against about 600 dpi, averaged: 8 x 72 = 576."""
    sewn = samples.sewn_of(
        samples.Part(samples.turned(samples.fill(5, 4), 20), "fill"),
        samples.Part(samples.turned(samples.satin(6, 1.8, bend=0.5), 20) + np.array([0, 2.6]), "satin", 1),
        samples.Part(samples.running((-3, -2.5), (3, 3)), "running", 2),
        cut="no",
    )
    flip, colour = _flip_against_600_dpi(sewn, dpi, times)
    assert flip < 0.03
    assert colour < 0.01


@pytest.mark.parametrize(("dpi", "times"), [(72, 8), (150, 4), (300, 2)])
def test_nothing_but_satin_keeps_its_colour_at_every_size(dpi: int, times: int) -> None:
    """A frame full of the shiniest texture is the worst case: its single glints may move, its
    colour not."""
    flip, colour = _flip_against_600_dpi(
        samples.sewn_of(samples.Part(samples.satin(9, 8), "satin")), dpi, times
    )
    assert flip < 0.06
    assert colour < 0.02


def test_the_passes_of_a_bean_stitch_lie_side_by_side() -> None:
    """Three threads over one another's holes: about twice as wide as one, alike from both ends."""
    forward = [-4.0, -2.0, -4.0, -2.0, 0.0, -2.0, 0.0, 2.0, 0.0, 2.0, 4.0, 2.0, 4.0]
    window = samples.Window((0.0, 0.0), 40.0, 80, 160)

    def across_mm(xs: list[float], kind: str) -> tuple[float, float]:
        sewn = samples.sewn_of(samples.Part(np.column_stack([xs, np.zeros(len(xs))]), kind))
        covered = samples.draw_flat(sewn, window).covered[:, 30:50]
        middle = (covered.sum(1) @ (np.arange(80) - 39.5)) / covered.sum() / 40.0
        return float(covered.sum(0).mean()) / 40.0, float(middle)

    (one, _), (three, aside) = across_mm(forward[::3] + [4.0], "running"), across_mm(forward, "bean")
    back, _ = across_mm(forward[::-1], "bean")
    assert 1.6 < three / one < 2.4
    assert abs(aside) < 0.05
    assert back == pytest.approx(three, rel=0.1)
