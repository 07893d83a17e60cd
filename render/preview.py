"""The whole way from a stitch file to its picture, top to bottom."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

from render.compose import blank, compose, paint, picture_of, window_for
from render.compose.worn import worn_layers
from render.draw import draw, draw_onto
from render.materials.fabrics import load_fabric
from render.materials.fibres import load_fibres
from render.materials.job import make_job
from render.materials.stabilisers import holding_for
from render.materials.threads import threads_for
from render.memory import keep_freed
from render.model import View
from render.plan import plan
from render.sew.sewn_cache import cached_sew

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from render.draw.tiles import Take
    from render.model import Design, Holding, Job, Picture, Sewn, SewPlan, Thread, Window


@dataclass(frozen=True, slots=True, eq=False)
class PlannedDesign:
    """What will be sewn, with one thread a colour block."""

    plan: SewPlan
    threads: tuple[Thread, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class SewnDesign:
    """A design sewn on its cloth, not drawn yet: one thread a colour block.

    `holding` is how the cloth was held, None while it lies still.
    """

    sewn: Sewn
    threads: tuple[Thread, ...]
    holding: Holding | None
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """A picture with what it was made from: the sewn design, and one thread a colour block."""

    picture: Picture
    sewn: Sewn
    threads: tuple[Thread, ...]
    notes: tuple[str, ...]


def sew_design(
    design: Design, job: Job, *, rotate_deg: float = 0.0, mirror: bool = False, keep_rests: bool = False
) -> SewnDesign:
    """Plan the design and sew it on the job's cloth; `keep_rests` also tells how that lay on the way.

    Raises InputError or UsageError.
    """
    planned = plan_design(design, job, rotate_deg=rotate_deg, mirror=mirror)
    return sew_planned(planned, job, keep_rests=keep_rests)


def plan_design(design: Design, job: Job, *, rotate_deg: float = 0.0, mirror: bool = False) -> PlannedDesign:
    """Plan the design and choose its threads. Raises InputError or UsageError."""
    keep_freed()
    planned = plan(design, job.machine, rotate_deg=rotate_deg, mirror=mirror)
    blocks = len(planned.blocks)
    threads, notes = threads_for(blocks, design.colours_srgb, job.threads, job.thread_changes)
    return PlannedDesign(planned, threads, design.notes + planned.notes + notes + _unused_blocks(job, blocks))


def sew_planned(planned: PlannedDesign, job: Job, *, keep_rests: bool = False) -> SewnDesign:
    """Sew a planned design, see `sew_design`."""
    holding = None if job.as_programmed else holding_for(job, planned.plan.box_mm)
    sewn = cached_sew(planned.plan, holding, keep_rests=keep_rests)
    return SewnDesign(sewn, planned.threads, holding, planned.notes + sewn.notes)


def draw_design(
    design: Design,
    job: Job | None = None,
    view: View | None = None,
    progress: Callable[[float], None] | None = None,
) -> Drawn:
    """Sew, draw and compose a design.

    Without a job the design is sewn on piqué in the file's own colours under the soft
    studio light. `progress` is called with the share done, in [0, 1]. Raises InputError
    or UsageError with one sentence.
    """
    job = job if job is not None else make_job()
    view = view if view is not None else View()
    ready = sew_design(design, job, rotate_deg=view.rotate_deg, mirror=view.mirror)
    windows = [window_for(ready.sewn.plan.box_mm, view)]
    (picture,) = draw_sewn(
        ready, job, windows, transparent=view.transparent, worn=view.worn, progress=progress
    )
    return Drawn(picture, ready.sewn, ready.threads, ready.notes)


def draw_sewn(
    ready: SewnDesign,
    job: Job,
    windows: Sequence[Window],
    *,
    transparent: bool = False,
    worn: bool = False,
    progress: Callable[[float], None] | None = None,
) -> Iterator[Picture]:
    """The pictures of a sewn design that the windows show, all at one scale."""
    asked: dict[str, Any] = {
        "threads": ready.threads,
        "lobes": load_fibres(ready.threads),
        "load_fabric": load_fabric,
        "job": job,
        "windows": windows,
        "progress": progress,
    }
    if worn:
        for flat, window in zip(draw(ready.sewn, **asked), windows, strict=True):
            layers, seen = worn_layers(flat, window)
            yield compose(layers, seen, transparent=transparent, notes=ready.notes)
        return
    canvas = []

    def begin(window: Window) -> Take:
        canvas.append(blank(window, transparent=transparent))
        return partial(paint, canvas[-1])

    # Composed part by part, so that layers of light are never kept.
    for window in draw_onto(ready.sewn, **asked, begin=begin):
        yield picture_of(canvas.pop(), window, ready.notes)


def _unused_blocks(job: Job, blocks: int) -> tuple[str, ...]:
    """A note for each block that the job treats and the design does not have."""
    return tuple(
        f"the job treats colour block {block + 1}, but the design has {blocks}: left out"
        for block in sorted(job.blocks)
        if block >= blocks
    )


def preview(design: Design, job: Job | None = None, view: View | None = None) -> Picture:
    """The picture of a design, see `draw_design`."""
    return draw_design(design, job, view).picture
