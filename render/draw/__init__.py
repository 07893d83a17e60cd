"""Draw: sewn stitches and cloth become layers of light."""

from __future__ import annotations

from typing import TYPE_CHECKING

from render.draw.laid_out import laid_out
from render.draw.layers import prepare
from render.draw.tiles import draw_layers, draw_parts
from render.draw.turned import draw_turned_layers

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

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
    laid = laid_out(sewn, threads, job, load_fabric, windows[0].px_per_mm, hairs_of=lobes)
    for window in windows:
        yield draw_layers(
            *laid, threads=threads, lobes=lobes, light=job.light, window=window, progress=progress
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
    laid = laid_out(sewn, threads, job, load_fabric, windows[0].px_per_mm, hairs_of=lobes)
    for window in windows:
        drawing = prepare(*laid, threads=threads, lobes=lobes, light=job.light, window=window)
        draw_parts(drawing, begin(window), progress=progress)
        yield window


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
    cloth_per_mm = min(window.px_per_mm, HEIGHTS_PER_MM)
    return draw_turned_layers(
        *laid_out(sewn, thread_sets[0], job, load_fabric, window.px_per_mm, cloth_per_mm=cloth_per_mm),
        thread_sets=thread_sets,
        lobes=lobes,
        light=job.light,
        window=window,
        surface=surface,
        progress=progress,
    )
