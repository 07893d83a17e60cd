"""Draw: sewn stitches and cloth become layers of light."""

from __future__ import annotations

from typing import TYPE_CHECKING

from render.draw.fuzz import with_fuzz
from render.draw.ground import ground_for, raised_base
from render.draw.layers import prepare
from render.draw.stack import stack_strands
from render.draw.strands import strands_of
from render.draw.tiles import draw_layers, draw_tiles
from render.draw.turned import draw_turned_layers

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from render.draw.ground import Ground
    from render.draw.stack import Stack
    from render.draw.strands import Strands
    from render.draw.tiles import Take
    from render.draw.turned import Turned, TurnedLayers
    from render.model import Fabric, FibreLobes, Job, Layers, Sewn, Thread, Window

__all__ = ["draw", "draw_onto", "draw_turned"]

HEIGHTS_PER_MM = 10.0  # pixels a mm of cloth whose light is drawn elsewhere: only its heights count


def draw(
    sewn: Sewn,
    *,
    threads: tuple[Thread, ...],
    lobes: dict[str, FibreLobes],
    load_fabric: Callable[[str], Fabric],
    job: Job,
    windows: Sequence[Window],
    progress: Callable[[float], None] | None = None,
) -> Iterator[Layers]:
    """Draw the sewn design as each window shows it, one after the other, all at one scale.

    `lobes` by what a thread shines as, `load_fabric` finds the cloth of appliqué pieces, `progress`
    hears the share done of each window in [0, 1].
    """
    stacked = _stacked(sewn, threads, lobes, load_fabric, job, windows)
    for window in windows:
        yield draw_layers(
            *stacked, threads=threads, lobes=lobes, light=job.light, window=window, progress=progress
        )


def draw_onto(
    sewn: Sewn,
    *,
    threads: tuple[Thread, ...],
    lobes: dict[str, FibreLobes],
    load_fabric: Callable[[str], Fabric],
    job: Job,
    windows: Sequence[Window],
    begin: Callable[[Window], Take],
    progress: Callable[[float], None] | None = None,
) -> Iterator[Window]:
    """As `draw`, but keeps nothing: each part of a window is handed over as soon as it is drawn, from
    several threads and in any order, to what `begin` gives for the window. Yields windows that are done."""
    stacked = _stacked(sewn, threads, lobes, load_fabric, job, windows)
    for window in windows:
        drawing = prepare(*stacked, threads=threads, lobes=lobes, light=job.light, window=window)
        draw_tiles(drawing, begin(window), progress=progress)
        yield window


def _stacked(
    sewn: Sewn,
    threads: tuple[Thread, ...],
    lobes: dict[str, FibreLobes],
    load_fabric: Callable[[str], Fabric],
    job: Job,
    windows: Sequence[Window],
) -> tuple[Strands, Stack, Ground]:
    ground = ground_for(sewn, job, windows[0].px_per_mm, load_fabric)
    strands = strands_of(sewn, threads, job, ground.hidden)
    strands = with_fuzz(strands, [lobes[thread.shines_as].fuzz for thread in threads], job.seed)
    return strands, stack_strands(strands, raised_base(ground, strands), pit_mm=ground.pit_mm), ground


def draw_turned(
    sewn: Sewn,
    *,
    thread_sets: Sequence[tuple[Thread, ...]],
    lobes: dict[str, FibreLobes],
    load_fabric: Callable[[str], Fabric],
    job: Job,
    window: Window,
    surface: Turned,
    progress: Callable[[float], None] | None = None,
) -> TurnedLayers:
    """Thread of the sewn design as the window shows it on a surface that is turned from the viewer,
    once for each set of thread colours. `progress` hears the share done in [0, 1]."""
    ground = ground_for(
        sewn,
        job,
        window.px_per_mm,
        load_fabric,
        cloth_per_mm=min(window.px_per_mm, HEIGHTS_PER_MM),
    )
    strands = strands_of(sewn, thread_sets[0], job, ground.hidden)
    return draw_turned_layers(
        strands,
        stack_strands(strands, raised_base(ground, strands), pit_mm=ground.pit_mm),
        ground,
        thread_sets=thread_sets,
        lobes=lobes,
        light=job.light,
        window=window,
        surface=surface,
        progress=progress,
    )
