"""What is uneven about every sewn piece: seeded, small, by the cloth, and nothing that is measured."""

from __future__ import annotations

import dataclasses
import itertools
from types import SimpleNamespace

import naive
import numpy as np
import pytest
import samples
from numpy.typing import NDArray

from render.draw import uneven
from render.draw.cover import draw_cover
from render.draw.crowd import runs_on
from render.draw.laid_out import laid_out
from render.draw.stack import stack_strands
from render.draw.strands import Strands, strands_of
from render.materials.fabrics import load_fabric
from render.materials.job import make_job
from render.model import Fabric, Window

TWILL, JERSEY = load_fabric("twill"), load_fabric("jersey")
THREADS = (samples.RED, samples.CREAM)
SEWN = samples.sewn_of(
    samples.Part(samples.turned(samples.fill(7, 5), 20), "fill"),
    samples.Part(samples.running((-4, -3.5), (4, 4), stitch_mm=1.9), "running", 1),
    cut="no",
)
STRANDS = strands_of(SEWN, THREADS, samples.JOB)


def aside_mm(strands: Strands) -> NDArray[np.float64]:
    """How far start and end of every strand (2, N, 2) have been turned aside."""
    return np.stack([strands.start_mm - STRANDS.start_mm, strands.end_mm - STRANDS.end_mm])


LINE = uneven.lines_of(STRANDS, SEWN)
AMONG = (STRANDS.stitch >= 0) & ~LINE


@pytest.mark.parametrize("fabric", [TWILL, JERSEY])
def test_needles_are_turned_aside_by_a_part_of_a_yarn_to_any_side(fabric: Fabric) -> None:
    aside = aside_mm(uneven.turned_aside(STRANDS, SEWN, fabric, 4))[:, AMONG]
    reach = min(uneven.ASIDE_SHARE * uneven.yarn_mm(fabric), uneven.MOST_ASIDE_MM)
    # Across the rows by the needle alone, along them as they are drawn tight as well.
    row = samples.turned(np.array([[1.0, 0.0], [0.0, 1.0]]), 20)
    along, across = aside @ row[0], aside @ row[1]
    turned = np.abs(row[0]).sum()
    assert np.abs(across).max() < turned * reach + 1e-3
    assert np.abs(along).max() < turned * reach + uneven.ALONG_MM + 1e-3
    # Even between the bounds: a deviation of reach / sqrt(3), a mean of none.
    assert across.std() == pytest.approx(reach / 3**0.5, rel=0.15)
    assert along.std() == pytest.approx(np.hypot(reach, uneven.ALONG_MM) / 3**0.5, rel=0.15)
    assert abs(across.mean()) < 0.2 * reach
    assert abs(along.mean()) < 0.2 * uneven.ALONG_MM


def test_only_fills_are_drawn_along_their_rows() -> None:
    satin = samples.sewn_of(samples.Part(samples.satin(6.0, 5.0), "satin"))
    assert not uneven.along_rows(satin).any()


def test_lines_go_further_aside_and_bow_by_a_part_of_their_length_to_either_side() -> None:
    run = samples.sewn_of(samples.Part(samples.running((-60, 0), (60, 40), stitch_mm=2.0), "running"))
    straight = strands_of(run, THREADS, samples.JOB)
    drawn = uneven.turned_aside(straight, run, TWILL, 4)
    aside = drawn.start_mm - straight.start_mm
    reach = min(uneven.LINE_ASIDE_SHARE * uneven.yarn_mm(TWILL), uneven.MOST_LINE_ASIDE_MM)
    assert reach > 2 * uneven.MOST_ASIDE_MM
    assert np.abs(aside).max() < reach + 1e-3
    assert aside.std(axis=0) == pytest.approx(reach / 3**0.5, rel=0.2)
    assert drawn.bow_mm is not None
    bow = drawn.bow_mm / np.hypot(*(drawn.end_mm - drawn.start_mm).T)
    assert np.abs(bow).max() < uneven.LINE_BOW + 1e-3
    assert bow.std() == pytest.approx(uneven.LINE_BOW / 3**0.5, rel=0.2)


def test_all_that_goes_down_one_hole_is_turned_aside_alike() -> None:
    aside = aside_mm(uneven.turned_aside(STRANDS, SEWN, TWILL, 4))
    plan = SEWN.plan
    own = np.flatnonzero(STRANDS.stitch >= 0)
    after = own[1:][STRANDS.stitch[own[1:]] == STRANDS.stitch[own[:-1]] + 1]
    before = after - 1
    shared = (plan.start_mm[STRANDS.stitch[after]] == plan.end_mm[STRANDS.stitch[before]]).all(1)
    assert shared.sum() > 50
    assert (aside[0, after[shared]] == aside[1, before[shared]]).all()


def test_another_seed_is_another_piece_and_the_same_the_same() -> None:
    one, again, *others = (uneven.turned_aside(STRANDS, SEWN, TWILL, seed) for seed in (4, 4, *range(5, 13)))
    assert (one.start_mm == again.start_mm).all()
    between = [(aside_mm(one) * aside_mm(other)).mean() / (aside_mm(one) ** 2).mean() for other in others]
    assert abs(np.mean(between)) < 0.15
    assert np.abs(between).max() < 0.5


def test_what_is_inspected_knows_nothing_of_it() -> None:
    """The cover that inspection measures is that of the sewn places, whatever the cloth's yarns."""
    window = Window((0.0, 0.0), 8.0, 80, 80)
    covers = [
        draw_cover(SEWN, threads=THREADS, job=dataclasses.replace(samples.JOB, fabric=fabric), window=window)
        for fabric in (TWILL, JERSEY)
    ]
    assert (covers[0].stitch == covers[1].stitch).all()
    drawn = uneven.turned_aside(STRANDS, SEWN, TWILL, 4)
    assert not (drawn.start_mm == STRANDS.start_mm).any(axis=1)[STRANDS.stitch >= 0].all()


def test_heights_are_changed_as_asked() -> None:
    stacked = stack_strands(STRANDS)
    lines = uneven.lines_of(STRANDS, SEWN)
    assert 3 < lines.sum() < len(lines) / 2
    got = uneven.drawn_tight(stacked, STRANDS, SEWN, JERSEY, 7)
    change = got.height_mm - stacked.height_mm
    each = [change[a:b] for a, b in zip(stacked.first[:-1], stacked.first[1:], strict=True)]
    ends = np.array([max(one[0], one[-1]) for one in each])
    middle = np.array([one[len(one) // 2] for one in each])
    least = (1 - uneven.SUNK_UNEVEN) * (uneven.SUNK_MM + uneven.SUNK_PER_GIVE * JERSEY.hole_give_mm)
    assert middle[lines].max() < -0.99 * least < 0.0, "lines sink"
    assert (ends - middle)[lines].max() < -0.5 * uneven.HOLE_DIP_MM, "and the more at their holes"
    length = np.hypot(*(STRANDS.end_mm - STRANDS.start_mm).T)
    beside, short = (STRANDS.piece >= 0) & ~lines, length < 0.9 * uneven.SHORT_MM
    short &= ~runs_on(STRANDS).any(1)
    sunk = uneven.SHORT_SUNK_MM * (1 - length / uneven.SHORT_MM) - uneven.MOST_CROWN_MM
    assert (beside & short).sum() >= 3
    assert (middle + sunk)[beside & short].max() < 0.0, "what is sewn from row to row sinks"
    beside &= ~short
    assert np.abs(middle[beside]).max() < 2 * uneven.MOST_CROWN_MM
    assert middle[beside].std() > 0.1 * uneven.MOST_CROWN_MM
    assert ends[beside].max() <= 1e-6


def test_underlay_is_pressed_below_what_covers_it_and_ties_into_what_they_lie_on() -> None:
    """Ends of rows bend down into their holes, and underlay that runs a little within them stays hidden."""
    sewn = samples.sewn_of(
        samples.Part(samples.running((-5, 0), (5, 0), stitch_mm=2.0), "underlay"),
        samples.Part(samples.running((5, 0), (4.2, 0.1), stitch_mm=0.5), "tie"),
        samples.Part(samples.fill(7, 5), "fill"),
        cut="no",
    )
    strands = strands_of(sewn, THREADS, samples.JOB)
    under = uneven.lines_of(strands, sewn, {"underlay"})
    assert 3 <= under.sum() < len(under) / 2
    assert not uneven.lines_of(strands, sewn)[under].any()
    stacked = stack_strands(strands)
    change = uneven.drawn_tight(stacked, strands, sewn, JERSEY, 7).height_mm - stacked.height_mm
    middle = np.array([change[(a + b) // 2] for a, b in itertools.pairwise(stacked.first.tolist())])
    assert middle[under] == pytest.approx(-uneven.UNDER_SUNK_MM, abs=1e-6)
    assert middle[uneven.lines_of(strands, sewn, {"tie"})].max() < -uneven.TIE_SUNK_MM


def test_needles_turned_aside_match() -> None:
    rng = np.random.default_rng(5)
    stitch, aimed = rng.integers(-2, 9, 40), rng.uniform(-60, 60, (9, 2))
    reach, rows, laid = rng.uniform(0, 0.1, 40), rng.uniform(-1, 1, (9, 2, 2)), rng.uniform(-60, 60, (40, 2))
    got = laid.copy()
    uneven.turn_aside(stitch, aimed, reach, rows[:, 1], 8, got)
    for i, own in enumerate(stitch.tolist()):
        aside = naive.needle_aside(uneven, aimed[own], reach[i], rows[own, 1], 8) if own >= 0 else [0.0, 0.0]
        assert got[i] == pytest.approx(laid[i] + aside, abs=1e-12)


def test_ways_of_rows_match() -> None:
    rng = np.random.default_rng(6)
    start, end = rng.uniform(-3, 3, (2, 60, 2))
    breaks, fills = rng.random((2, 60)) < [[0.3], [0.8]]
    got = np.zeros((60, 2, 2))
    uneven.fill_along(start, end, breaks, fills, got)
    apart = breaks.copy()
    apart[1:] |= ~fills[1:] | ~fills[:-1]
    stitches = list(zip(start, end, strict=True))
    for i, side in itertools.product(range(60), (0, 1)):
        way = naive.row_way(stitches, apart, i, side) if fills[i] else [0.0, 0.0]
        assert got[i, side] == pytest.approx(way, abs=1e-12)


def test_what_is_asked_of_threads_that_are_drawn_tight_matches() -> None:
    rng = np.random.default_rng(7)
    n, first = 80, np.arange(0, 81 * 3, 3)
    start = rng.uniform(-3, 3, (n, 2))
    end = start + rng.uniform(-1, 1, (n, 2))
    lines, beside = rng.random((2, n)) < [[0.3], [0.7]]
    straight, dives = rng.random((2, n, 2)) < 0.6
    height = rng.uniform(-0.2, 2 * uneven.HELD_UP_MM, 3 * n).astype(np.float32)
    section = rng.uniform(0.1, 0.2, (3 * n, 3)).astype(np.float32)
    pressed, grain = rng.uniform(0, 0.1, n), rng.integers(0, 2**32, n, np.uint32)
    got, told = np.empty((n, uneven.ASKED)), (lines, beside, straight, dives)
    uneven.fill_asked((start, end), told, 0.02, pressed, grain, 9, first, (height, section), got)
    for i in range(n):
        ends = first[i], first[i + 1] - 1
        strand = SimpleNamespace(
            start=start[i],
            end=end[i],
            line=bool(lines[i]),
            beside=bool(beside[i]),
            straight=straight[i],
            dives=dives[i],
            lie=[(float(height[k]), float(section[k, 2])) for k in ends],
            pressed=pressed[i],
            grain=int(grain[i]),
            sunk_mm=0.02,
        )
        assert got[i] == pytest.approx(naive.asked(uneven, strand, 9), abs=1e-7)


def test_tightening_matches() -> None:
    rng = np.random.default_rng(3)
    first = np.concatenate([[0], np.cumsum(rng.integers(3, 30, 12))])
    ask, height = rng.normal(0, 0.03, (12, uneven.ASKED)), rng.random(first[-1]).astype(np.float32)
    ask[:, uneven.PER_LONG] = rng.uniform(1, 9, 12)
    expected = [
        naive.tightened(row, height[a:b]) for row, a, b in zip(ask, first[:-1], first[1:], strict=True)
    ]
    uneven.tighten(ask, first, height)
    assert height == pytest.approx(np.concatenate(expected), abs=1e-6)


def test_a_picture_of_another_seed_has_its_glints_elsewhere() -> None:
    """Places of strands as drawn, not only their hash."""
    ends = []
    for seed in (1, 2):
        job = make_job(fabric="jersey", seed=seed)
        strands, stacked, _ = laid_out(SEWN, THREADS, job, load_fabric, 6.0)
        ends.append((strands.start_mm, stacked.height_mm[stacked.first[:-1] + 3]))
    reach = min(uneven.ASIDE_SHARE * uneven.yarn_mm(load_fabric("jersey")), uneven.MOST_ASIDE_MM)
    assert np.hypot(*(ends[0][0] - ends[1][0]).T).mean() > 0.8 * reach > 0.01
    assert np.abs(ends[0][1] - ends[1][1]).mean() > 0.001
