"""A sewn piece laid out: its cloth, its strands of thread, and how high each of them lies."""

from __future__ import annotations

from typing import TYPE_CHECKING

from render.draw.fuzz import with_fuzz
from render.draw.ground import ground_for, raised_base
from render.draw.stack import stack_strands
from render.draw.strands import strands_of
from render.draw.uneven import drawn_tight, turned_aside

if TYPE_CHECKING:
    from collections.abc import Callable

    from render.draw.ground import Ground
    from render.draw.stack import Stack
    from render.draw.strands import Strands
    from render.model import Fabric, FibreLobes, Job, Sewn, Thread


def laid_out(
    sewn: Sewn,
    threads: tuple[Thread, ...],
    job: Job,
    load_fabric: Callable[[str], Fabric],
    px_per_mm: float,
    *,
    hairs_of: dict[str, FibreLobes] | None = None,
    cloth_per_mm: float | None = None,
) -> tuple[Strands, Stack, Ground]:
    """Lay a sewn piece out for drawing at `px_per_mm`.

    `hairs_of` are the lobes by what a thread shines as, of which threads have the loose hairs that they say;
    without it none has any. `cloth_per_mm` is as for `ground_for`.
    """
    ground = ground_for(sewn, job, px_per_mm, load_fabric, cloth_per_mm=cloth_per_mm)
    strands = strands_of(sewn, threads, job, ground.hidden)
    strands = turned_aside(strands, sewn, job.fabric, job.seed)
    if hairs_of is not None:
        strands = with_fuzz(strands, [hairs_of[thread.shines_as].fuzz for thread in threads], job.seed)
    stacked = stack_strands(strands, raised_base(ground, strands), bedding=ground.bedding)
    return strands, drawn_tight(stacked, strands, sewn, job.fabric, job.seed), ground
