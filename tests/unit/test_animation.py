"""A film of a design: what its frames show, and that the last one is the still."""

from __future__ import annotations

import itertools
from dataclasses import replace
from functools import cache
from pathlib import Path

import flip_evaluator
import numpy as np
import pytest
from films import STILL_CLOTH, doings, film, job_of
from numpy.typing import NDArray
from scipy.interpolate import RegularGridInterpolator

from render.animation import Film, FilmOrder, Pace, film_of
from render.animation.frames import frames_of
from render.errors import UsageError
from render.model import ClothMove, Command, Job, Sewn, SewPlan
from render.preview import draw_sewn
from render.read import read_design
from render.sew import sew

EXAMPLES = Path(__file__).parents[2] / "examples"


def still(made: Film, job: Job) -> NDArray[np.uint8]:
    (picture,) = draw_sewn(made.ready, job, [made.window])
    return picture.pixels


def flip_mean(one: NDArray[np.uint8], other: NDArray[np.uint8]) -> float:
    _, mean, _ = flip_evaluator.evaluate(one / np.float32(255), other / np.float32(255), "LDR")
    return float(mean)


@pytest.mark.parametrize(
    "job",
    [job_of(), job_of(finish="cleaned"), STILL_CLOTH, job_of(in_hoop=False)],
    ids=["off-machine", "cleaned", "as-programmed", "taken-out"],
)
def test_the_last_frame_is_the_still_to_the_byte(job: Job) -> None:
    made = film(job, pace=Pace(seconds=4.0, hold_s=0.3), fps=5.0)
    if job is STILL_CLOTH:  # and with thread that has hairs
        spun = tuple(replace(thread, kind="cotton") for thread in made.ready.threads)
        made = replace(made, ready=replace(made.ready, threads=spun))
    for shown in frames_of(made):
        last = shown
    assert np.array_equal(last, still(made, job))


def test_the_piece_is_released_from_the_hoop_and_then_held() -> None:
    """Before it is let go it is the still in the hoop, at the end the one out of it."""
    job, hooped = job_of(in_hoop=False), job_of()
    # So many frames that the first of its way out is hardly on it yet.
    made = film(job, pace=Pace(seconds=6.0, hold_s=0.3), fps=10.0)
    runs = [what for what, _ in itertools.groupby(doings(made.timeline))]
    assert runs[-2:] == ["release", "hold"]
    first = doings(made.timeline).index("release")
    for number, shown in enumerate(frames_of(made)):
        if number == first:
            begins = shown.copy()
    in_hoop, out = still(film(hooped), hooped), still(made, job)
    assert flip_mean(in_hoop, begins) <= 0.01
    assert np.array_equal(out, shown)
    assert flip_mean(in_hoop, out) > 0.01


def first_of(whole: SewPlan, count: int) -> SewPlan:
    """The plan of the first stitches.

    Two sequins, which are not drawn, keep the middle of the design, where cloth and ridges are laid from.
    """
    left, top, right, bottom = whole.box_mm
    return replace(
        whole,
        start_mm=whole.start_mm[:count].copy(),
        end_mm=whole.end_mm[:count].copy(),
        thread_breaks=whole.thread_breaks[:count].copy(),
        colour_block=whole.colour_block[:count].copy(),
        object_index=whole.object_index[:count].copy(),
        travels=tuple(t for t in whole.travels if t.after_stitch < count - 1),
        blocks=tuple(replace(b, last=min(b.last, count - 1)) for b in whole.blocks if b.first < count),
        objects=tuple(replace(o, last=min(o.last, count - 1)) for o in whole.objects if o.first < count),
        sequins_mm=np.array([[left, top], [right, bottom]]),
        sequin_block=np.zeros(2, np.int32),
    )


def moved_at(move: ClothMove, places: NDArray[np.float64]) -> NDArray[np.float64]:
    """The movement of cloth that first lay at places (N, 2), by another library's interpolation."""
    rows, cols = move.pucker.shape
    at = [move.origin_mm[axis] + move.cell_mm * np.arange(n) for axis, n in ((1, rows), (0, cols))]
    return np.asarray(RegularGridInterpolator(at, move.u_mm)(places[:, ::-1]))


def cloth_after(sewn: Sewn, count: int) -> ClothMove:
    """How the cloth lies after so many stitches, between its states of rest."""
    assert sewn.cloth is not None
    rests = [(0, np.zeros_like(sewn.cloth.u_mm)), *((r.stitches, r.move.u_mm) for r in sewn.rests)]
    (a, before), (b, after) = next(
        (one, two) for one, two in itertools.pairwise(rests) if one[0] <= count <= two[0]
    )
    return replace(sewn.cloth, u_mm=before + (after - before) * (count - a) / (b - a))


def still_of_first(made: Film, job: Job, count: int) -> NDArray[np.uint8]:
    """The first stitches where they lie when they have just been sewn, drawn at once."""
    sewn, move = made.ready.sewn, cloth_after(made.ready.sewn, count)
    assert sewn.cloth is not None
    ends = []
    for final in (sewn.start_mm[:count], sewn.end_mm[:count]):
        first = final
        for _ in range(4):
            first = final - moved_at(sewn.cloth, first)
        ends.append(first + moved_at(move, first))
    assert sewn.give_mm is not None
    part = Sewn(first_of(sewn.plan, count), *ends, cloth=move, give_mm=sewn.give_mm[:count])
    (picture,) = draw_sewn(replace(made.ready, sewn=part), job, [made.window])
    return picture.pixels


@cache
def lettering_and_crest() -> tuple[Film, ...]:
    """The wordmark, and the beginning of the crest from nearer by."""
    crest = read_design(str(EXAMPLES / "crest.dst"))
    some = np.flatnonzero(np.cumsum(crest.command == Command.STITCH) <= 1500)
    part = replace(crest, xy_mm=crest.xy_mm[some].copy(), command=crest.command[some].copy())
    designs = (read_design(str(EXAMPLES / "wordmark.exp")), part)
    jobs = (job_of(fabric="sweatshirt-fleece"), job_of(fabric="pique"))
    order = FilmOrder(size_px=(320, 240), pace=Pace(seconds=3.0, hold_s=0.2), fps=10.0)
    return tuple(film_of(design, job, order) for design, job in zip(designs, jobs, strict=True))


@pytest.mark.parametrize(
    "which", [pytest.param(0, marks=pytest.mark.slow, id="lettering"), pytest.param(1, id="crest")]
)
def test_frames_are_stills_of_the_first_stitches(which: int) -> None:
    """At random: the first stitches drawn at once, without the later ones, where the sewing has them then."""
    made = lettering_and_crest()[which]
    last = int(made.timeline.lands_s[-1] * made.order.fps)
    chosen = set(np.random.default_rng(3).choice(np.arange(5, last), 4, replace=False).tolist())
    found = {}
    for number, shown in enumerate(frames_of(made)):
        if number in chosen:
            stitches = made.timeline.moment(number).stitches
            found[number] = flip_mean(still_of_first(made, made.job, stitches), shown)
        if found.keys() == chosen:
            break
    assert found.keys() == chosen
    assert max(found.values()) <= 0.01


@pytest.mark.parametrize("fabric", ["pique", "sweatshirt-fleece"])
def test_stitches_lie_where_sewing_them_alone_would_put_them(fabric: str) -> None:
    """As closely as the sewing stage repeats itself when its steps fall otherwise."""
    made = film(job_of(fabric=fabric))
    sewn = made.ready.sewn
    assert sewn.cloth is not None
    for count in (90, 250, 480):
        alone = sew(first_of(sewn.plan, count), made.ready.holding, cell_mm=sewn.cloth.cell_mm)
        assert alone.cloth is not None
        off = cloth_after(sewn, count).u_mm - alone.cloth.u_mm
        moved = np.sqrt((alone.cloth.u_mm**2).sum(2).mean())
        assert np.sqrt((off**2).sum(2).mean()) <= max(0.12 * moved, 0.01)


def test_part_of_a_design_begins_with_what_is_sewn_already() -> None:
    made = film(first=300, last=420, pace=Pace(seconds=4.0))
    assert made.timeline.moment(0).stitches == 299
    shown = [frame.copy() for frame in frames_of(made)]
    assert made.timeline.moment(len(shown) - 1).stitches == 420
    with pytest.raises(UsageError, match="--from and --to"):
        film(first=5, last=2)
    with pytest.raises(UsageError, match="--from and --to"):
        film(last=10**6)


def test_caption_and_needle_lie_over_the_sewing_and_leave_the_finished_piece_alone() -> None:
    job = STILL_CLOTH
    made = film(job, needle=True, caption=True, size_px=(320, 260), pace=Pace(seconds=4.0, hold_s=0.5))
    plain = replace(made, order=replace(made.order, needle=False, caption=False))
    pairs = [(a.copy(), b.copy()) for a, b in zip(frames_of(made), frames_of(plain), strict=True)]
    changed = [(a != b).any(2).mean() for a, b in pairs]
    assert min(changed[:30]) > 0.0
    assert max(changed) < 0.35
    assert changed[-1] == 0.0
