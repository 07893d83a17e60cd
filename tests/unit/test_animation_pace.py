"""When stitches land in a film of a design, and what is said of that."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import samples
from films import STILL_CLOTH, badge, doings, film, job_of, sewn_of

from render.animation import Pace
from render.animation.overlay import caption_of
from render.animation.storyboard import cover_complete, key_moments, storyboard
from render.errors import UsageError
from render.inspect.production import production_of
from render.inspection import piece_of
from render.plan import plan


def test_every_stitch_lands_once_and_in_order() -> None:
    made = film()
    times = made.timeline
    moments = [times.moment(number) for number in range(times.frames)]
    stitches = [m.stitches for m in moments]
    assert stitches[0] == 0
    assert stitches[-1] == len(made.ready.sewn.plan.start_mm)
    assert all(a <= b for a, b in itertools.pairwise(stitches))
    assert all(a.machine_s <= b.machine_s for a, b in itertools.pairwise(moments))
    assert all(0 <= m.share <= 1 for m in moments)


def test_a_given_length_is_kept() -> None:
    for seconds, fps in ((7.0, 30.0), (15.0, 25.0), (12.3, 20.0)):
        times = film(pace=Pace(seconds=seconds), fps=fps).timeline
        assert times.frames == round(seconds * fps)


def test_machine_time_is_that_of_the_inspection() -> None:
    """And a film at the machine's own speed lasts as long, but for the cloth before and after."""
    job = STILL_CLOTH
    made = film(job, pace=Pace(speed=1.0))
    expected = production_of(piece_of(sewn_of(job), job)).run_time_s
    assert made.timeline.machine_s[-1] == pytest.approx(expected, rel=1e-9)
    lasts = made.timeline.lands_s[-1] - made.timeline.begins_s[0]
    before_first = made.timeline.machine_s[0] - (made.timeline.lands_s[0] - made.timeline.begins_s[0])
    assert lasts == pytest.approx(expected - before_first, rel=1e-9)
    tenfold = film(job, pace=Pace(speed=10.0)).timeline
    assert tenfold.lands_s[-1] - 0.4 == pytest.approx((made.timeline.lands_s[-1] - 0.4) / 10)


def test_a_constant_pace_is_constant() -> None:
    times = film(pace=Pace(stitches_per_s=50.0)).timeline
    assert np.allclose(times.lands_s - times.begins_s, 0.02)


def test_colour_changes_and_trims_are_visible_beats() -> None:
    """Each at least two frames long at a usual pace, in which nothing lands."""
    made = film(job_of(finish="cleaned", as_programmed=True), pace=Pace(seconds=30.0), fps=30.0)
    runs = [(what, len(list(group))) for what, group in itertools.groupby(doings(made.timeline))]
    plan_of = made.ready.sewn.plan
    changes = [length for what, length in runs if what == "colour-change"]
    assert len(changes) == sum(block.ends_with == "colour-change" for block in plan_of.blocks)
    assert min(changes) >= 6
    assert min(length for what, length in runs if what == "trim") >= 2
    assert [what for what, _ in runs][-3:] == ["sewn", "clip", "hold"]


def test_too_short_or_too_long_a_film_is_refused() -> None:
    with pytest.raises(UsageError, match="leaves no time to sew"):
        film(pace=Pace(seconds=2.0, hold_s=2.0))
    with pytest.raises(UsageError, match="hours"):
        film(pace=Pace(speed=0.001))
    with pytest.raises(UsageError, match="cannot be made"):
        film(size_px=(8, 8))


def test_caption_names_colour_stitch_and_time() -> None:
    made = film(pace=Pace(seconds=20.0))
    plan_of = made.ready.sewn.plan
    change = next(m for n in range(200) if (m := made.timeline.moment(n)).doing == "colour-change")
    what, progress = caption_of(change, plan_of)
    assert what == f"Colour change · to colour 2 of {len(plan_of.blocks)}"
    assert progress.startswith(f"stitch {change.stitches:,} of".replace(",", " "))
    assert progress.endswith("at the machine")


def test_moments_of_the_storyboard() -> None:
    made = film(job_of(finish="cleaned", as_programmed=True))
    plan_of = made.ready.sewn.plan
    found = key_moments(made)
    assert [m.stitches for m in found] == sorted(m.stitches for m in found)
    titles = [m.title for m in found]
    assert titles[-2:] == ["before clipping", "after clipping"]
    assert sum("colour change" in title for title in titles) == len(plan_of.blocks) - 1
    assert "cover complete" in titles
    assert len(key_moments(made, 4)) == 5
    picture = storyboard(made, found[-2:])
    assert picture.pixels.shape[1] == 1800
    assert (np.abs(np.diff(picture.pixels.astype(int), axis=0)).sum() > 0).all()


def test_cover_is_complete_where_the_last_of_a_fill_lands() -> None:
    big = samples.Part(samples.fill(20, 10), "fill")
    over = samples.Part(samples.satin(12, 2), "satin", 1)
    sewn = samples.sewn_of(big, over)
    assert 0.95 * (len(big.points_mm) - 1) <= cover_complete(sewn.plan) <= len(big.points_mm) - 1


def test_plans_are_left_as_they_are() -> None:
    job = STILL_CLOTH
    assert np.array_equal(film(job).ready.sewn.plan.start_mm, plan(badge(), job.machine).start_mm)
