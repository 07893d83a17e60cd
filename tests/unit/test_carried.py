"""Which tiles are drawn again while the cloth moves, and when."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from growing_pieces import JOB, piece, pulled_in

from render.draw.carried import MOST_PX, STEEPER, Carried
from render.draw.foreseen import AHEAD, TILE_AT_MOST, at_most, off_px, seen_levels, take, worthwhile
from render.draw.way import Way
from render.model import Window

BUDGET = 0.007


def carried_on(rests_share: tuple[float, ...], steps: int, every: float = 1.0) -> Carried:
    """Tiles on cloth that is pulled in by such shares of 0.5 mm, from one state of rest to the next; shown
    after every so many stitches."""
    sewn = pulled_in(piece(), 0.5, steps)
    assert sewn.cloth is not None
    rests = [
        replace(rest, move=replace(rest.move, u_mm=sewn.cloth.u_mm * share))
        for rest, share in zip(sewn.rests, rests_share, strict=True)
    ]
    way, window = Way(replace(sewn, rests=tuple(rests)), JOB.seed), Window((1.0, 0.5), 11.0, 300, 480)
    return Carried(way, window, 20, np.arange(0.0, way.end, every))


def test_tiles_that_are_seen_more_are_drawn_sooner_and_all_together_as_little_as_planned() -> None:
    random = np.random.default_rng(4)
    way = random.uniform(0.0, 0.4, 60)
    bare = random.uniform(0.0, 1.0, 60)
    seen = np.stack([seen_levels(10.0 * (n - 1) * way, bare) for n in AHEAD]) / 60
    every = np.ones(seen.shape, bool)
    chosen = worthwhile(seen, every, bare, BUDGET)
    together = seen[chosen, np.arange(60)].sum()
    assert 0.8 * BUDGET < together <= BUDGET
    of_cloth = np.zeros(60)
    alike = worthwhile(
        np.stack([seen_levels(10.0 * (n - 1) * way, of_cloth) for n in AHEAD]) / 60, every, of_cloth, BUDGET
    )
    assert (np.diff(alike[np.argsort(way)]) <= 0).all()
    few = every.copy()
    few[3:, ::2] = False
    assert worthwhile(seen, few, bare, BUDGET)[::2].max() <= 2


def test_no_frame_is_planned_to_be_seen_more_than_it_may() -> None:
    frames, planned, ends = 30, np.zeros(30 + AHEAD[-1]), np.zeros(50, int)
    seen = np.array([np.where(np.arange(32) < n - 1, 2e-4 * n**0.9, 0.0) for n in AHEAD])
    drawn = []
    for frame in range(frames):
        for tile in np.flatnonzero(ends <= frame):
            drawn.append(take(planned[frame : frame + 32], BUDGET, seen, 5))
            ends[tile] = frame + drawn[-1]
    assert planned.max() <= BUDGET
    assert planned[5:frames].mean() > 0.5 * BUDGET
    assert 1 <= min(drawn) < max(drawn) <= AHEAD[5]


def test_how_much_a_tile_is_seen_on_the_line_between_two_drawings_and_beside_it() -> None:
    way = np.array([3.0, 4.0])
    places = np.array([[0.0, 0.0], [1.5, 2.0], [3.0, 4.0], [1.5 - 0.4, 2.0 + 0.3]])
    start, half_way, end, beside = off_px(way @ way, (places**2).sum(1), places @ way, np.zeros(4))
    assert (start, half_way, end) == pytest.approx((0.0, 5.0, 0.0), abs=1e-6)
    assert beside == pytest.approx(np.hypot(5.0, 2 * 0.5))
    # Beside the line cloth is seen as thread is, which half-way it is not.
    off = off_px(way @ way, np.array([0.25]), np.array([0.0]), np.array([0.0, 1.0]))
    assert seen_levels(off[0], np.zeros(1)) == pytest.approx(seen_levels(off[1], np.ones(1)))


def test_many_tiles_may_be_seen_nearer_to_the_limit_than_one() -> None:
    white, green = np.ones(3), np.array([0.02, 0.06, 0.04])
    assert (
        at_most(np.ones(1), white) < at_most(np.full(4, 0.25), white) < at_most(np.full(400, 0.0025), white)
    )
    assert at_most(np.full(4, 0.25), white) < at_most(np.full(4, 0.25), green) < 0.01


def test_a_tile_is_drawn_ahead_as_it_lies_in_a_frame_of_the_film() -> None:
    carried = carried_on((0.25, 0.5, 0.75, 1.0), 4, every=3.0)
    carried.due(0.0, 1.0)
    furthest = 0.0
    for at in carried.shown[1:]:
        was = carried.drawn_at.max(0)
        carried.due(float(at), 1.0)
        assert (was[carried.drawn_at.max(0) > was] < at).all()
        assert np.isin(carried.drawn_at, carried.shown).all() or at == carried.shown[1]
        gap_px = carried._off_px(*np.where(np.isfinite(carried.drawn_px), carried.drawn_px, 0.0))
        two = np.isfinite(carried.drawn_at).all(0)
        drawn_ahead = two & (carried.drawn_at.max(0) > at)
        assert (gap_px[drawn_ahead] <= MOST_PX).all()
        assert (seen_levels(carried.harsh * gap_px, carried.bare)[drawn_ahead] <= TILE_AT_MOST).all()
        furthest = max(furthest, gap_px[drawn_ahead].max(initial=0.0))
    assert furthest > 0.1


def test_where_the_cloth_turns_back_a_drawing_is_made() -> None:
    """It goes out and comes back to where it lay: a drawing from before and one from after would show none of
    that."""
    carried = carried_on((0.3, 0.0, 0.3, 1.0), 4, every=2.0)
    carried.bare[:], carried.harsh[:] = 1.0, 3.0
    turn, every = carried.way.at[1], np.ones(carried.harsh.size, bool)
    moving = carried._off_px(carried._moved_px(turn), carried._moved_px(0.0)) > 0.1
    seen, nearest = [], np.full(carried.harsh.shape, np.inf)
    for at in carried.shown[carried.shown < carried.way.at[2]]:
        carried.due(float(at), 1.0)
        lies_px = carried._moved_px(at).reshape(1, carried.harsh.size, -1)
        seen.append(carried._planned(lies_px, np.array([at]), every)[0])
        nearest = np.minimum(nearest, np.abs(carried.drawn_at - turn).min(0))
    assert max(seen) <= carried.most * (1.0 + 1e-6)
    assert max(seen) > 0.5 * carried.most
    assert moving.sum() > 10
    assert np.median(nearest[moving]) <= 0.2 * turn


def test_how_many_levels_two_drawings_are_apart_is_known_once_they_are() -> None:
    carried = carried_on((0.25, 0.5, 0.75, 1.0), 4, every=5.0)
    for at in carried.shown[:3]:
        carried.due(float(at), 1.0)
    gap_px = carried._off_px(*np.where(np.isfinite(carried.drawn_px), carried.drawn_px, 0.0))
    known = np.isfinite(carried.drawn_at).all(0) & (gap_px > 0.05)
    carried.note_apart(25.0 * gap_px, np.zeros(gap_px.shape, bool))
    assert known.any()
    assert carried.harsh[known] == pytest.approx(25.0)
    for levels, found in (40.0, 25.0), (20.0, 20.0):
        carried.note_apart(levels * gap_px, np.ones(gap_px.shape, bool))
        assert carried.harsh[known] == pytest.approx(found)


def test_tiles_are_drawn_as_one_where_they_are_drawn_as_they_lie_at_the_same_time() -> None:
    stale, then = np.ones((2, 4), bool), np.array([[12.0, 12.0, 90.0, 90.0], [12.0, 12.0, 90.0, 10.0]])
    stale[0, 3] = False
    drawn = dict(Carried._alike(stale, then))
    assert drawn == {(0, 0, 2, 2): 12.0, (0, 2, 2, 3): 90.0, (1, 3, 2, 4): 10.0}


def test_ridges_are_lit_again_only_where_no_drawing_ahead_has_them() -> None:
    carried = carried_on((0.25, 0.5, 0.75, 1.0), 4)
    carried._steep = {rest: np.full(carried.harsh.shape, 0.4 * STEEPER * rest) for rest in range(6)}
    carried.drawn_at[:], carried.drawn_px[:] = 0.0, carried._moved_px(0.0)
    carried.rests_px[:] = 0.0  # nothing moves, and nothing is drawn
    rests = carried.way.at
    assert [bool(due.rippled) for due in carried.due(rests[2], 1.0)] == [False, False]
    assert [bool(due.rippled) for due in carried.due(rests[3], 1.0)] == [True, True]
    carried.lit_steep[1] = 10.0 * STEEPER
    assert [bool(due.rippled) for due in carried.due(rests[4], 1.0)] == [False, False]
