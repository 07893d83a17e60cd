"""The whole way from a stitch file to the list of its problems, top to bottom."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from render.compose import window_for
from render.draw.cover import draw_cover
from render.inspect import Inspection, Piece, check_waivers, inspect
from render.inspect.limits import limits_for
from render.inspection.account import account
from render.inspection.artwork import match_artwork
from render.inspection.order import check_order, order_estimate
from render.materials.job import make_job
from render.materials.threads import make_thread
from render.model import Sewn, View
from render.preview import SewnDesign, sew_design
from render.read.artwork import read_artwork
from render.sew.band import band

if TYPE_CHECKING:
    from render.inspection.artwork import ArtworkMatch
    from render.model import Design, Job

PX_PER_MM = 20.0
MOST_PIXELS = 40_000_000  # larger pieces are looked at less finely
MARGIN_MM = 1.0


def piece_of(ready: SewnDesign, job: Job, *, limits: str | None = None) -> Piece:
    """The piece to inspect; `limits` is the path of the shop's own. Raises InputError."""
    plan = ready.sewn.plan
    left, top, right, bottom = plan.box_mm
    area_mm2 = (right - left + 2 * MARGIN_MM) * (bottom - top + 2 * MARGIN_MM)
    px_per_mm = min(PX_PER_MM, (MOST_PIXELS / area_mm2) ** 0.5)
    window = window_for(plan.box_mm, View(dpi=25.4 * px_per_mm, margin_mm=MARGIN_MM))
    still = Sewn(plan, plan.start_mm, plan.end_mm)
    return Piece(
        sewn=ready.sewn,
        high=band(ready.sewn, ready.holding).high,
        job=job,
        holding=ready.holding,
        threads=ready.threads,
        limits=tuple(limits_for(job.fabric, thread, limits) for thread in ready.threads),
        programmed_cover=draw_cover(still, threads=ready.threads, job=job, window=window),
        sewn_cover=draw_cover(ready.sewn, threads=ready.threads, job=job, window=window),
        cap=ready.holding is not None and ready.holding.hoop.shape == "cap",
    )


@dataclass(frozen=True, slots=True, eq=False)
class Report:
    """An inspection with what it was made from; `account` is all of it as JSON can hold it."""

    ready: SewnDesign
    piece: Piece
    found: Inspection
    artwork: ArtworkMatch | None
    account: dict[str, Any]


def inspect_design(design: Design, job: Job | None = None, *, limits: str | None = None) -> Inspection:
    """All problems of a design sewn on the job's cloth. Raises InputError or UsageError."""
    job = job if job is not None else make_job()
    return inspect(piece_of(sew_design(design, job), job, limits=limits))


def report_on(
    design: Design,
    job: Job,
    *,
    limits: str | None = None,
    artwork: str | None = None,
    quantity: int | None = None,
    heads: int = 1,
) -> Report:
    """Inspect a design; `limits` and `artwork` are paths. Raises InputError or UsageError.

    `quantity` pieces on `heads` heads are reckoned up as an order.
    """
    # What cannot be used is told before anything is sewn.
    if quantity is not None:
        check_order(quantity, heads)
    check_waivers(job)
    if limits is not None:
        limits_for(job.fabric, make_thread((0.0, 0.0, 0.0)), limits)
    logo = read_artwork(artwork) if artwork is not None else None
    ready = sew_design(design, job)
    piece = piece_of(ready, job, limits=limits)
    found = inspect(piece)
    match = None
    if logo is not None:
        match = match_artwork(
            logo,
            piece.sewn_cover,
            block_of=piece.plan.colour_block,
            threads=ready.threads,
            cloth=job.fabric_colour_srgb or job.fabric.colour_srgb,
        )
    order = None if quantity is None else order_estimate(found, quantity=quantity, heads=heads)
    return Report(ready, piece, found, match, account(design, piece, found, artwork=match, order=order))
