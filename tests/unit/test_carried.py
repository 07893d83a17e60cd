"""Which tiles are drawn again while the cloth moves, and when."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from growing_pieces import JOB, piece, pulled_in

from render.draw.carried import (
    BARE,
    BUDGET,
    KNOWN_PX,
    MOST_PX,
    POWER,
    SEEN,
    SEEN_BARE,
    Carried,
)
from render.draw.way import Way
from render.model import Window


def carried_on(rests_share: tuple[float, ...], steps: int) -> Carried:
    """Tiles on cloth that is pulled in by such shares of 0.5 mm, from one state of rest to the next."""
    sewn = pulled_in(piece(), 0.5, steps)
    assert sewn.cloth is not None
    rests = [
        replace(rest, move=replace(rest.move, u_mm=sewn.cloth.u_mm * share))
        for rest, share in zip(sewn.rests, rests_share, strict=True)
    ]
    return Carried(Way(replace(sewn, rests=tuple(rests)), JOB.seed), Window((1.0, 0.5), 11.0, 150, 240), 20)


def test_tiles_that_differ_more_are_drawn_sooner_and_all_are_seen_as_planned() -> None:
    carried = carried_on((0.25, 0.5, 0.75, 1.0), 4)
    alike = carried._steps_px(40.0)
    carried.due(0.0, 1.0)
    carried.due(1.0, 1.0)
    gap = np.hypot(*np.moveaxis(carried.drawn_px[0] - carried.drawn_px[1], -1, 0)).max(-1)
    harsh = np.where(np.arange(gap.shape[1]) % 2, 40.0, 10.0) * np.ones_like(gap)
    carried.note_apart(harsh * gap)
    steps = carried._steps_px(40.0)
    moving = (carried.speeds[1] > 0.0) & (gap > KNOWN_PX)
    assert carried.harsh[moving] == pytest.approx(harsh[moving])
    assert ((steps / alike)[moving & (harsh == 40.0)] < (steps / alike)[moving & (harsh == 10.0)].min()).all()
    seen = np.where(carried.begun >= 40.0, SEEN_BARE, SEEN) * (carried.harsh * steps) ** POWER
    assert seen.mean() <= 1.001 * BUDGET
    assert (steps <= BARE * MOST_PX).all()


def test_where_the_cloth_turns_back_a_drawing_is_made() -> None:
    """It goes out and comes back to where it lay: a drawing from before and one from after would show none of
    that."""
    there_and_back = carried_on((0.05, 0.0, 0.05, 1.0), 4)
    turn = there_and_back.way.at[1]
    place = np.s_[0:2, 0:2]
    lay, wide = there_and_back._moved_px(0.5 * turn, place), np.full((2, 2), MOST_PX)
    assert there_and_back._ahead(place, 0.6 * turn, lay, wide) < 1.4 * turn
    straight = carried_on((0.05, 0.1, 0.15, 1.0), 4)
    assert straight._ahead(place, 0.6 * turn, straight._moved_px(0.5 * turn, place), wide) > 1.5 * turn
