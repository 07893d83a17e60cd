"""The whole way from a stitch file to the list of its problems, top to bottom."""

from __future__ import annotations

from typing import TYPE_CHECKING

from render.compose import window_for
from render.draw.cover import draw_cover
from render.inspect import Inspection, Piece, inspect
from render.materials.job import make_job
from render.materials.limits import limits_for
from render.model import Sewn, View
from render.preview import SewnDesign, sew_design

if TYPE_CHECKING:
    from render.model import Design, Job

PX_PER_MM = 20.0
MOST_PIXELS = 40_000_000  # larger pieces are looked at less finely
MARGIN_MM = 1.0


def piece_of(ready: SewnDesign, job: Job, *, limits: str | None = None, cap: bool = False) -> Piece:
    """The piece to inspect; `limits` is the path of the shop's own. Raises InputError."""
    plan = ready.sewn.plan
    left, top, right, bottom = plan.box_mm
    area_mm2 = (right - left + 2 * MARGIN_MM) * (bottom - top + 2 * MARGIN_MM)
    px_per_mm = min(PX_PER_MM, (MOST_PIXELS / area_mm2) ** 0.5)
    window = window_for(plan.box_mm, View(dpi=25.4 * px_per_mm, margin_mm=MARGIN_MM))
    still = Sewn(plan, plan.start_mm, plan.end_mm)
    return Piece(
        sewn=ready.sewn,
        high=ready.sewn,
        job=job,
        holding=ready.holding,
        threads=ready.threads,
        limits=tuple(limits_for(job.fabric, thread, limits) for thread in ready.threads),
        programmed_cover=draw_cover(still, threads=ready.threads, job=job, window=window),
        sewn_cover=draw_cover(ready.sewn, threads=ready.threads, job=job, window=window),
        cap=cap,
    )


def inspect_design(
    design: Design, job: Job | None = None, *, limits: str | None = None, cap: bool = False
) -> Inspection:
    """All problems of a design sewn on the job's cloth. Raises InputError or UsageError."""
    job = job if job is not None else make_job()
    return inspect(piece_of(sew_design(design, job), job, limits=limits, cap=cap))
