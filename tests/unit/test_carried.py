"""Which tiles are drawn again while the cloth moves, and when."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from growing_pieces import JOB, piece, pulled_in

from render.draw.carried import BENT_PX, MOST_PX, STEEPER, Carried
from render.draw.foreseen import (
    AHEAD,
    AMIDST,
    TILE_AT_MOST,
    Planned,
    at_most,
    seen_levels,
    worthwhile,
)
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
    seen = np.stack([seen_levels(10.0 * n * way, bare) for n in AHEAD]) / 60
    every = np.ones(seen.shape, bool)
    chosen = worthwhile(seen, every, bare, BUDGET)
    together = sum(seen[one, tile] * AMIDST[one].mean() for tile, one in enumerate(chosen))
    assert 0.8 * BUDGET < together <= BUDGET
    of_cloth = np.zeros(60)
    alike = worthwhile(
        np.stack([seen_levels(10.0 * n * way, of_cloth) for n in AHEAD]) / 60, every, of_cloth, BUDGET
    )
    assert (np.diff(alike[np.argsort(way)]) <= 0).all()
    few = every.copy()
    few[3:, ::2] = False
    assert worthwhile(seen, few, bare, BUDGET)[::2].max() <= 2


def test_no_frame_is_planned_to_be_seen_more_than_it_may() -> None:
    planned, drawn = Planned(40, BUDGET), []
    for frame in range(30):
        for tile in range(50):
            if not any(first <= frame < first + n for which, first, n in drawn[-400:] if which == tile):
                seen = 2e-4 * AHEAD**0.9
                drawn.append((tile, frame, planned.take(frame, seen, 5)))
    assert planned.seen.max() <= BUDGET
    assert planned.seen[5:30].mean() > 0.5 * BUDGET
    many = [n for _, _, n in drawn]
    assert 1 <= min(many) < max(many) <= AHEAD[5]


def test_many_tiles_may_be_seen_nearer_to_the_limit_than_one() -> None:
    assert at_most(np.ones(1)) < at_most(np.full(4, 0.25)) < at_most(np.full(400, 0.0025)) < 0.01


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
    for shares, turns in (((0.05, 0.0, 0.05, 1.0), True), ((0.05, 0.1, 0.15, 1.0), False)):
        carried = carried_on(shares, 4, every=4.0)
        turn = carried.way.at[1]
        at = float(carried.shown[np.searchsorted(carried.shown, 0.8 * turn)])
        carried.bare[:], carried.harsh[:] = 1.0, 0.1
        carried.due(0.0, 1.0)
        carried.due(at, 1.0)
        went = carried._off_px(carried._moved_px(turn), carried._moved_px(at)) > 4.0 * BENT_PX
        ahead = carried.drawn_at.max(0)[went]
        assert went.any()
        assert (ahead <= turn + 4.0 + turn * 0.2).all() if turns else (ahead > 1.3 * turn).all()


def test_how_many_levels_two_drawings_are_apart_is_known_once_they_are() -> None:
    carried = carried_on((0.25, 0.5, 0.75, 1.0), 4, every=5.0)
    for at in carried.shown[:3]:
        carried.due(float(at), 1.0)
    gap_px = carried._off_px(*np.where(np.isfinite(carried.drawn_px), carried.drawn_px, 0.0))
    known = np.isfinite(carried.drawn_at).all(0) & (gap_px > 0.05)
    carried.note_apart(25.0 * gap_px)
    assert known.any()
    assert carried.harsh[known] == pytest.approx(25.0)


def test_tiles_are_drawn_as_one_where_they_are_drawn_as_they_lie_at_the_same_time() -> None:
    stale, then = np.ones((2, 4), bool), np.array([[12.0, 12.0, 90.0, 90.0], [12.0, 12.0, 90.0, 10.0]])
    stale[0, 3] = False
    drawn = dict(Carried._alike(stale, then))
    assert drawn == {(0, 0, 2, 2): 12.0, (0, 2, 2, 3): 90.0, (1, 3, 2, 4): 10.0}


def test_ridges_are_lit_again_only_where_no_drawing_ahead_has_them() -> None:
    carried = carried_on((0.25, 0.5, 0.75, 1.0), 4)
    carried._steep = [np.full(carried.harsh.shape, 0.4 * STEEPER * rest) for rest in range(6)]
    carried.drawn_at[:], carried.drawn_px[:] = 0.0, carried._moved_px(0.0)
    carried.rests_px[:] = 0.0  # nothing moves, and nothing is drawn
    rests = carried.way.at
    assert [bool(due.rippled) for due in carried.due(rests[2], 1.0)] == [False, False]
    assert [bool(due.rippled) for due in carried.due(rests[3], 1.0)] == [True, True]
    carried.lit_steep[1] = 10.0 * STEEPER
    assert [bool(due.rippled) for due in carried.due(rests[4], 1.0)] == [False, False]
