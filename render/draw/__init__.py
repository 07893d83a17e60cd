"""Draw: sewn stitches and cloth become layers of light."""

from __future__ import annotations

from typing import TYPE_CHECKING

from render.draw.cloth import light_cloth
from render.draw.layers import draw_layers
from render.draw.stack import stack_strands
from render.draw.strands import strands_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from render.model import FibreLobes, Job, Layers, Sewn, Thread, Window

__all__ = ["draw"]


def draw(
    sewn: Sewn,
    *,
    threads: tuple[Thread, ...],
    lobes: dict[str, FibreLobes],
    job: Job,
    window: Window,
    progress: Callable[[float], None] | None = None,
) -> Layers:
    """Draw the sewn design as the window shows it; `progress` hears the share done."""
    strands = strands_of(sewn, threads, job)
    cloth = light_cloth(
        job.fabric,
        job.light,
        colour_srgb=job.fabric_colour_srgb,
        turn_deg=job.fabric_turn_deg,
        mirrored=False,
        px_per_mm=window.px_per_mm,
        seed=job.seed,
    )
    return draw_layers(
        strands,
        stack_strands(strands),
        cloth,
        threads=threads,
        lobes=lobes,
        light=job.light,
        window=window,
        progress=progress,
    )
