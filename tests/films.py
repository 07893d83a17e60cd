"""A small badge and films of it, for tests."""

from __future__ import annotations

from functools import cache

import numpy as np
import samples

from render.animation import Film, FilmOrder, Pace, film_of_sewn
from render.animation.timeline import Timeline
from render.materials.job import make_job
from render.model import Command, Design, Job
from render.preview import SewnDesign, sew_design

SIZE = (240, 150)


def badge() -> Design:
    """Two fills, a thread dragged and one cut, a satin in another colour: 30 x 14 mm, 700 stitches."""
    parts = [
        samples.fill(14, 12, stitch_mm=3.0) - (8.0, 0.0),
        samples.fill(12, 10, stitch_mm=3.0) + (8.0, 0.0),
        samples.satin(24, 3.0),
        samples.satin(20, 2.0) + (0.0, 6.0),
    ]
    xy, commands = [np.zeros((1, 2))], [Command.JUMP]
    for part, before in zip(parts, ("", "jump", "colour", "trim"), strict=True):
        first = part[:1]
        if before == "trim":
            xy, commands = [*xy, xy[-1][-1:]], [*commands, Command.TRIM]
        if before == "colour":
            xy, commands = [*xy, xy[-1][-1:]], [*commands, Command.COLOUR_CHANGE]
        xy, commands = [*xy, first, part], [*commands, Command.JUMP, *[Command.STITCH] * len(part)]
    return Design(
        "badge",
        "vp3",
        np.concatenate(xy),
        np.array(commands, np.uint8),
        ((0.7, 0.1, 0.1), (0.1, 0.2, 0.5)),
        "explicit",
        False,
        "0" * 64,
    )


@cache
def job_of(**options: object) -> Job:
    return make_job(**options)  # type: ignore[arg-type]


SEWN: dict[int, SewnDesign] = {}


def sewn_of(job: Job) -> SewnDesign:
    """The badge sewn as a job of `job_of` asks, once for all tests."""
    if id(job) not in SEWN:
        SEWN[id(job)] = sew_design(badge(), job, keep_rests=True)
    return SEWN[id(job)]


STILL_CLOTH = job_of(as_programmed=True)


def film(job: Job = STILL_CLOTH, **order: object) -> Film:
    settings = {"size_px": SIZE, "pace": Pace(seconds=6.0), "fps": 10.0} | order
    return film_of_sewn("badge", sewn_of(job), job, FilmOrder(**settings))  # type: ignore[arg-type]


def doings(times: Timeline) -> list[str]:
    return [times.moment(number).doing for number in range(times.frames)]
